"""The documented commands for a chip of one's own, small: render a photograph, let the program look at it, find the chip."""
import json
import os
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

RENDER = Path(__file__).resolve().parents[2] / "samples" / "scenes" / "render"
PROGRAM = os.environ.get("GLINTLINE", "")
AT, DEPTH, WIDTH = 2.0, 0.4, 0.8
SMALL = ["--scale", "0.35"]  # 36 um a pixel: a chip of a tenth of a millimetre would be lost


class AChipOfOnesOwn(unittest.TestCase):
    def test_is_rendered_and_found(self):
        with tempfile.TemporaryDirectory() as folder:
            photo = Path(folder) / "chip.jpg"
            subprocess.run([sys.executable, "-B", RENDER, "scene", "--view", "plan", "--card", "close", "--chip", f"{AT}:{DEPTH}:{WIDTH}", "--radius", "30", "--light", "window",
                            "--slip", *SMALL, photo], check=True, stdout=subprocess.DEVNULL)
            looked = subprocess.run([PROGRAM, "look", photo, "--draw", Path(folder) / "marked", "--json", "-"], check=True, capture_output=True, text=True)
            truth = next(c for c in json.loads(photo.with_suffix(".json").read_text())["cutters"] if c["chips"])["chips"][0]
            cutters = json.loads(looked.stdout)[0]["cutters"]
            self.assertTrue((Path(folder) / "marked" / "chip-marked.jpg").exists())
        self.assertEqual(len(cutters), 1)
        self.assertTrue(cutters[0]["chips"], "no chip found")
        chip = max(cutters[0]["chips"], key=lambda c: c["depth_mm"]["value"])
        self.assertAlmostEqual(chip["depth_mm"]["value"], truth["depth"], delta=max(0.1, chip["depth_mm"]["u95"]))
        # The scene counts from where edge and side would meet, the truth from the rounded corner's own foot.
        self.assertAlmostEqual(chip["at_mm"], truth["s_deepest"], delta=WIDTH / 4)
        self.assertEqual(cutters[0]["verdict"], "file")


if __name__ == "__main__":
    unittest.main()
