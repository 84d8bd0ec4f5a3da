"""Renders scenes to a photograph and its truth file."""
from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

from .photo import take
from .scene import Scene
from .truth import truth_of


def make_photograph(scene: Scene, out: Path, scale: float = 1.0, threads: int = 2, grid: int = 2, keep: Path | None = None) -> dict:
    """Writes `out` (JPEG) and the truth beside it (.json); returns the truth. keep: folder for POV-Ray's files."""
    out = Path(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    folder = keep or Path(tempfile.mkdtemp(prefix="scene-"))
    try:
        shot = take(scene, folder, scale, threads, grid)
    finally:
        if keep is None:
            shutil.rmtree(folder, ignore_errors=True)
    truth = truth_of(scene, shot, out.name, scale)
    out.write_bytes(shot.jpeg)
    out.with_suffix(".json").write_text(json.dumps(truth, separators=(",", ":")))
    return truth
