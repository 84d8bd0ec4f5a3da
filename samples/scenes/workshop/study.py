"""Study sets: seeded photographs for the accuracy tables, one knob at a time or all together, each rendered once."""
from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np

from .make import make_photograph
from .variety import LIGHTS, Knobs, draw_scene

USUAL: dict[str, Any] = dict(light="window", tilt_deg=2.0, off_centre_mm=1.0, focus_error_mm=0.0, finish="stamped", rust=0.0, oil=0.0,
                             dirt=0, engraved=False, sharpen=0.3, noise=1.0, blur_px=0.8, jpeg_quality=92, orientation=1, fill=0.92)

RANGES: dict[str, Any] = {  # knob: (low, high) or a list to choose from
    "light": list(LIGHTS), "tilt_deg": (0.0, 15.0), "off_centre_mm": (0.0, 12.0), "fill": (0.6, 0.96), "focus_error_mm": (-3.0, 3.0),
    "finish": ["stamped", "scratched", "mirror"], "rust": (0.1, 0.9), "oil": (0.1, 1.0), "dirt": [1, 2, 3], "engraved": [True],
    "burr_um": (15.0, 80.0), "stretch": "print", "curl_mm": (0.1, 0.6), "sharpen": (0.0, 1.4), "noise": (0.4, 3.0), "blur_px": (0.6, 1.6),
    "jpeg_quality": [60, 70, 80, 90, 97], "orientation": [1, 3, 6, 8], "field_colour": ["blue", "green", "magenta", "orange"],
}


def render_study(folder: Path, view: str, count: int, first_seed: int, knob: str | None, scale: float, threads: int) -> int:
    if knob is not None and knob not in RANGES:
        raise ValueError(f"unknown knob '{knob}': use one of {', '.join(RANGES)}")
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first_seed, first_seed + count):
        knobs = study_knobs(view, knob, seed)
        name = f"{view}-{knob or 'all'}-{seed}"
        wanted = _fingerprint(knobs, seed, scale)
        mark = folder / f"{name}.key"
        if mark.exists() and mark.read_text() == wanted and (folder / f"{name}.jpg").exists():
            continue
        truth = make_photograph(draw_scene(name, seed, knobs), folder / f"{name}.jpg", scale, threads)
        mark.write_text(wanted)
        print(f"{name}: {truth['render_seconds']} s", flush=True)
    return 0


def study_knobs(view: str, knob: str | None, seed: int) -> Knobs:
    """The knobs of one study photograph: all random, or all usual but one."""
    rng = np.random.default_rng(seed + 77)
    card = str(rng.choice(["wide", "close"])) if view == "profile" else "close"
    if knob is None:
        stretch = tuple(float(v) for v in rng.normal(1, 0.002, 2)) if rng.random() < 0.5 else None
        curl = float(rng.uniform(0.1, 0.4)) if rng.random() < 0.25 else None
        return Knobs(view=view, card=card, stretch=stretch, curl_mm=curl)
    return Knobs(view=view, card=card, **{**USUAL, knob: _drawn(RANGES[knob], rng)})


def _drawn(span: Any, rng: np.random.Generator) -> Any:
    if span == "print":
        return tuple(float(v) for v in rng.normal(1, 0.004, 2))
    if isinstance(span, tuple):
        return float(rng.uniform(*span))
    return span[int(rng.integers(len(span)))]


def _fingerprint(knobs: Knobs, seed: int, scale: float) -> str:
    """Changes whenever the wanted picture or the workshop's own code does."""
    code = b"".join(p.read_bytes() for p in sorted(Path(__file__).parent.glob("*.py")))
    return hashlib.sha256(json.dumps([vars(knobs), seed, scale], default=str).encode() + code).hexdigest()
