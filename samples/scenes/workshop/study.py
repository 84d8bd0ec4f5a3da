"""Study sets: seeded photographs for the accuracy tables, one knob at a time or all together, each rendered once.

A photograph is named VIEW-KNOB-SEED. With the same seed the chain, its cutters and the camera's place are the same, whichever knob
is turned, so what a knob does shows against the photograph of the knob 'usual', in which none is.
"""
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
    "usual": None,
    "light": list(LIGHTS), "tilt_deg": (0.0, 15.0), "off_centre_mm": (0.0, 12.0), "fill": (0.6, 0.96), "focus_error_mm": (-3.0, 3.0),
    "finish": ["stamped", "scratched", "mirror"], "rust": (0.1, 0.9), "oil": (0.1, 1.0), "dirt": [1, 2, 3], "engraved": [True],
    "burr_um": (15.0, 80.0), "stretch": "print", "curl_mm": (0.1, 0.6), "sharpen": (0.0, 1.4), "noise": (0.4, 3.0), "blur_px": (0.6, 1.6),
    "jpeg_quality": [60, 70, 80, 90, 97], "orientation": [3, 6, 8], "field_colour": ["green", "magenta", "orange"],
    "mounting": ["bar"], "slip": [False],
}
OF_VIEW: dict[str, dict[str, Any]] = {"profile": dict(slip=False), "plan": dict(slip=True)}  # a slip lets the rounding be measured
ONE_VIEW = {"mounting": "profile", "slip": "plan", "burr_um": "plan"}  # knobs that turn nothing in the other view
NOT_DRAWN = {"study.py", "cli.py", "demo.py", "__init__.py"}  # code that decides which pictures are made, not how


def render_study(folder: Path, view: str, count: int, first_seed: int, knob: str | None, scale: float, threads: int) -> int:
    """knob: one of RANGES; 'each' for all of them, each alone; None for all together."""
    if knob not in (None, "each", *RANGES) or ONE_VIEW.get(knob or "", view) != view:
        raise ValueError(f"unknown knob '{knob}' in the {view} view: use each, {', '.join(_knobs_of(view))}")
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first_seed, first_seed + count):
        for turned in _knobs_of(view) if knob == "each" else [knob]:
            _render_one(folder, view, turned, seed, scale, threads)
    return 0


def _render_one(folder: Path, view: str, knob: str | None, seed: int, scale: float, threads: int) -> None:
    knobs = study_knobs(view, knob, seed)
    name = f"{view}-{knob or 'all'}-{seed}"
    wanted = _fingerprint(knobs, seed, scale)
    mark = folder / f"{name}.key"
    if mark.exists() and mark.read_text() == wanted and (folder / f"{name}.jpg").exists():
        return
    truth = make_photograph(draw_scene(name, seed, knobs), folder / f"{name}.jpg", scale, threads)
    mark.write_text(wanted)
    print(f"{name}: {truth['render_seconds']} s", flush=True)


def _knobs_of(view: str) -> list[str]:
    return [knob for knob in RANGES if ONE_VIEW.get(knob, view) == view]


def study_knobs(view: str, knob: str | None, seed: int) -> Knobs:
    """The knobs of one study photograph: all random, or all usual but one."""
    rng = np.random.default_rng(seed + 77)
    card = str(rng.choice(["wide", "close"])) if view == "profile" else "close"
    if knob is None:
        stretch = tuple(float(v) for v in rng.normal(1, 0.002, 2)) if rng.random() < 0.5 else None
        curl = float(rng.uniform(0.1, 0.4)) if rng.random() < 0.25 else None
        mounting = "bar" if view == "profile" and rng.random() < 0.25 else "bench"
        field = str(rng.choice(["blue", "blue", "green", "magenta"]))
        return Knobs(view=view, card=card, stretch=stretch, curl_mm=curl, mounting=mounting, field_colour=field)
    turned = {} if RANGES[knob] is None else {knob: _drawn(RANGES[knob], rng)}
    return Knobs(view=view, card=card, **{**USUAL, **OF_VIEW[view], **turned})


def _drawn(span: Any, rng: np.random.Generator) -> Any:
    if span == "print":
        return tuple(float(v) for v in rng.normal(1, 0.004, 2))
    if isinstance(span, tuple):
        return float(rng.uniform(*span))
    return span[int(rng.integers(len(span)))]


def _fingerprint(knobs: Knobs, seed: int, scale: float) -> str:
    """Changes whenever the wanted picture or the workshop's own code does."""
    code = b"".join(p.read_bytes() for p in sorted(Path(__file__).parent.glob("*.py")) if p.name not in NOT_DRAWN)
    return hashlib.sha256(json.dumps([vars(knobs), seed, scale], default=str).encode() + code).hexdigest()
