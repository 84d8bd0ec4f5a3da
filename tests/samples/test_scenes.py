"""Whole photographs, rendered small: what the truth says is what the picture shows; the committed set is sound."""
import io
import json
import sys
import tempfile
import unittest
from pathlib import Path

import cv2
import numpy as np
import piexif
from PIL import Image, ImageOps

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "samples" / "scenes"))

from workshop import cli, demo, make, variety  # noqa: E402

SCALE = 0.2
SADDLE_PX = 0.15  # 50 % crossings of a small, noisy, sharpened, compressed picture; the mean must be far better
SADDLE_MEAN_PX = 0.03
OUTLINE_PX = 0.6


def upright(photograph: Path) -> np.ndarray:
    return np.array(ImageOps.exif_transpose(Image.open(photograph)).convert("RGB"))


def board_px(truth: dict, board: np.ndarray) -> np.ndarray:
    """Points of the board (X, Y, height) in the upright picture, by OpenCV's own projection."""
    camera, pose = truth["camera"]["upright"], truth["card_pose"]["upright"]
    points = np.asarray(board, float) * [1, 1, -1]
    px, _ = cv2.projectPoints(points, np.array(pose["rvec"]), np.array(pose["tvec_mm"]), np.array(camera["matrix"]), np.array(camera["distortion"]))
    return px[:, 0]


class Photographs(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        common = dict(light="window", dirt=0, rust=0.0, oil=0.0, tilt_deg=5.0, focus_error_mm=0.0, finish="stamped", noise=0.5, sharpen=0.0,
                      jpeg_quality=95, chain_kind="3/8", engraved=True)
        wanted = {
            "profile": variety.Knobs(view="profile", card="wide", orientation=6, stretch=(1.006, 0.995), **common),
            "plan": variety.Knobs(view="plan", card="close", orientation=1, slot="through", slip=True,
                                  cutter=dict(edge_radius_um=60.0), **common),
        }
        cls.photos = {}
        for name, knobs in wanted.items():
            path = Path(cls.folder.name) / f"{name}.jpg"
            truth = make.make_photograph(variety.draw_scene(name, 5, knobs), path, SCALE)
            cls.photos[name] = (path, truth)

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def test_saddles_of_the_card_lie_where_the_truth_says(self):
        """Saddle: where the two 50 % lines of a checker corner cross, found from the four edges next to it."""
        for name, (path, truth) in self.photos.items():
            grey = np.power(upright(path)[:, :, 1] / 255.0, 2.2)
            q, (sx, sy) = truth["card"]["square_mm"], truth["card"]["print_scale"]
            corners = [(c, r) for r in range(1, 15) for c in range(1, 21) if not (3 <= c <= 17 and 2 <= r <= 12)]
            board = np.array([[c * q * sx, r * q * sy, 0] for c, r in corners])
            offsets = []
            for target, (c, r) in zip(board_px(truth, board), corners):
                size = np.linalg.norm(board_px(truth, [[(c + 1) * q * sx, r * q * sy, 0]])[0] - target)
                start = np.float32([target])
                x, y = np.round(target).astype(int)
                reach = int(size * 0.11)
                if reach < 2 or not (20 < x < grey.shape[1] - 20 and 20 < y < grey.shape[0] - 20):
                    continue
                tile = grey[y - reach:y + reach + 1, x - reach:x + reach + 1]
                if not self._is_saddle(tile):
                    continue
                found = cv2.cornerSubPix(np.float32(grey), start.reshape(-1, 1, 2).copy(), (reach, reach), (-1, -1),
                                         (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 1e-4)).reshape(2)
                offsets.append(found - target)
            offsets = np.array(offsets)
            self.assertGreater(len(offsets), 40, name)
            self.assertLess(np.abs(np.median(offsets, 0)).max(), SADDLE_MEAN_PX, name)
            self.assertLess(np.percentile(np.abs(offsets), 90), SADDLE_PX, name)

    @staticmethod
    def _is_saddle(tile: np.ndarray) -> bool:
        corners = [tile[0, 0], tile[-1, -1], tile[0, -1], tile[-1, 0]]
        first, second = sorted((sum(corners[:2]), sum(corners[2:])))
        return first < 0.5 * second

    def test_steel_ends_where_the_truth_says(self):
        """Profile, over the field: along a line square to the gauge's top and the top plate, blue turns to steel there."""
        path, truth = self.photos["profile"]
        picture = upright(path).astype(float)
        checked = 0
        for cutter in truth["cutters"]:
            for point in ("top_high", "gauge_outer"):
                px = np.array(cutter["points"][point]["px"])
                rivets = [np.array(cutter["points"][n]["px"]) for n in ("rivet_rear", "rivet_front")]
                along = (rivets[1] - rivets[0]) / np.linalg.norm(rivets[1] - rivets[0])
                up = np.array([along[1], -along[0]])
                if up @ (px - rivets[0]) < 0:
                    up = -up
                blue = [self._blueness(picture, px + up * d) for d in (4.0, -5.0)]
                if blue[0] is None or blue[0] < 0.5:
                    continue
                checked += 1
                self.assertLess(blue[1], blue[0] - 0.12, f"{cutter['number']} {point}")
        self.assertGreaterEqual(checked, 2)

    @staticmethod
    def _blueness(picture: np.ndarray, at: np.ndarray):
        x, y = np.round(at).astype(int)
        if not (0 <= x < picture.shape[1] and 0 <= y < picture.shape[0]):
            return None
        r, g, b = picture[y, x]
        return (b - max(r, g)) / max(b, 1)

    def test_slips_border_with_the_edge_is_the_outline(self):
        path, truth = self.photos["plan"]
        picture = upright(path).astype(float)
        cutter = next(c for c in truth["cutters"] if c["seen"] == "whole")
        outline, flat_end = np.array(cutter["edge"]["outline_px"]), np.array(cutter["edge"]["flat_end_px"])
        sharp = np.array(cutter["edge"]["sharp_line_px"])
        ahead = sharp - flat_end
        ahead /= np.linalg.norm(ahead, axis=1)[:, None]
        offsets = []
        for k in range(10, len(outline) - 25, 3):
            steps = np.arange(-3, 3.01, 0.25)
            line = outline[k] + steps[:, None] * ahead[k]
            blue = cv2.remap(np.float32(picture[:, :, 2] / (picture.sum(2) + 1)), np.float32(line[None, :, 0]), np.float32(line[None, :, 1]), cv2.INTER_LINEAR)[0]
            middle = (blue[:4].mean() + blue[-4:].mean()) / 2
            crossing = np.flatnonzero(np.diff(np.sign(blue - middle)) > 0)
            if blue[-4:].mean() - blue[:4].mean() > 0.15 and len(crossing):
                offsets.append(steps[crossing[-1]])
        self.assertGreater(len(offsets), 10)
        self.assertLess(abs(np.median(offsets)), OUTLINE_PX)

    def test_exif_tells_focal_length_and_orientation(self):
        for name, (path, truth) in self.photos.items():
            exif = piexif.load(path.read_bytes())
            self.assertEqual(exif["0th"][piexif.ImageIFD.Orientation], truth["image"]["orientation"])
            diagonal = np.hypot(truth["image"]["width"], truth["image"]["height"])
            equivalent = truth["camera"]["stored"]["matrix"][0][0] * np.hypot(36, 24) / diagonal
            self.assertAlmostEqual(exif["Exif"][piexif.ExifIFD.FocalLengthIn35mmFilm], equivalent, delta=0.51, msg=name)

    def test_points_agree_with_their_board_places(self):
        for name, (_, truth) in self.photos.items():
            for cutter in truth["cutters"]:
                for label, point in cutter["points"].items():
                    self.assertLess(np.abs(board_px(truth, [point["board_mm"]])[0] - point["px"]).max(), 0.002, f"{name} {label}")

    def test_same_seed_gives_the_same_truth(self):
        knobs = variety.Knobs(view="plan", card="close")
        first, second = (variety.draw_scene("x", 9, knobs) for _ in range(2))
        self.assertEqual(first.chain, second.chain)
        self.assertEqual(first.states, second.states)
        self.assertTrue(np.array_equal(first.pose.rotation, second.pose.rotation))


class Options(unittest.TestCase):
    def test_bad_input_gets_one_clear_line(self):
        for arguments, said in ((["scene", "--chip", "1:2", "x.jpg"], "AT:DEPTH:WIDTH"), (["scene", "--from", "nowhere.toml", "x.jpg"], "not found"),
                                (["scene", "--chip", "1:9:1", "x.jpg"], "depth"), (["study", "x", "--knob", "colour"], "unknown knob")):
            error, real = io.StringIO(), sys.stderr
            sys.stderr = error
            try:
                code = cli.main(arguments)
            finally:
                sys.stderr = real
            self.assertNotEqual(code, 0)
            self.assertIn(said, error.getvalue())
            self.assertEqual(error.getvalue().count("\n"), 1)

    def test_a_chip_of_ones_own_reaches_the_middle_cutter(self):
        scene = variety.draw_scene("x", 3, cli.knobs_of({"view": "plan", "card": "close", "chip": ["2.0:0.3:0.6"]}))
        self.assertEqual([s.chips[0].depth_mm for s in scene.states if s and s.chips], [0.3])


class CommittedSet(unittest.TestCase):
    """The demo photographs in the repository agree with the scenario they are made from."""

    def test_truth_files_agree_with_the_scenario(self):
        folder = ROOT / "samples" / "demo"
        files = sorted(folder.glob("*.json"))
        self.assertGreater(len(files), 0)
        for file in files:
            truth = json.loads(file.read_text())
            chain, stage, view, numbers = demo.demo_scenes()[file.stem]
            self.assertEqual(truth["view"], view)
            self.assertTrue(file.with_suffix(".jpg").exists())
            for cutter in truth["cutters"]:
                if cutter["number"] is None:
                    continue
                state = demo.demo_state(chain, cutter["number"], stage)
                self.assertAlmostEqual(cutter["gauge_drop_mm"], state.drop_mm, delta=0.001, msg=file.stem)
                self.assertEqual(len(cutter["chips"]), len(state.chips))
                self.assertEqual(cutter["hand"], state.hand)
            self.assertTrue(set(numbers) <= {c["number"] for c in truth["cutters"]})


if __name__ == "__main__":
    unittest.main()
