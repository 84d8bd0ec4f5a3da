"""Scenes drawn at random: every knob of a photograph, seeded; what the caller fixes stays fixed."""
from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .camera import phone, pose_towards
from .card import COLUMNS, ROWS, SQUARE_MM, Slot
from .chain import NOMINAL, ChainShape, CutterState, random_chain, usual_cutter
from .scene import Light, Picture, Scene, Surface

LIGHTS = ("window", "lamp ahead", "lamp behind", "ring", "overcast", "two lamps")


@dataclass
class Knobs:
    """What a caller may fix; None is drawn at random (or left off, where off is the usual)."""

    view: str = "profile"  # profile | plan
    mounting: str = "bench"  # profile: bench | bar
    card: str = "wide"  # wide | close
    chain_kind: str | None = None
    corner_kind: str | None = None
    hand: str | None = None  # of the cutter in the middle
    side_up: str | None = None
    light: str | None = None
    tilt_deg: float | None = None
    tilt_azimuth_deg: float | None = None
    off_centre_mm: float | None = None
    fill: float | None = None  # share of the picture's width that the card takes: the distance
    focus_error_mm: float | None = None
    finish: str | None = None
    rust: float | None = None
    oil: float | None = None
    dirt: int | None = None
    engraved: bool | None = None
    burr_um: float | None = None
    stretch: tuple[float, float] | None = None
    curl_mm: float | None = None
    sharpen: float | None = None
    noise: float | None = None
    blur_px: float | None = None
    jpeg_quality: int | None = None
    stand_off_mm: float | None = None
    slot: str | None = None  # plan: through | closed
    slip: bool | None = None
    field_colour: str = "blue"
    orientation: int | None = None
    bench: str | None = None
    cutter: dict[str, Any] = field(default_factory=dict)  # fields of CutterState for the cutter in the middle
    chain: ChainShape | None = None
    states: list[CutterState | None] | None = None
    middle: int | None = None  # which of the states is in the middle


def draw_scene(name: str, seed: int, knobs: Knobs) -> Scene:
    """A whole scene by seed; the same seed and knobs give the same photograph."""
    rng = np.random.default_rng(seed)
    k = knobs
    kind = k.chain_kind or str(rng.choice(list(NOMINAL)))
    chain = k.chain or random_chain(kind, rng, k.corner_kind)
    states, middle = (k.states, k.middle or 0) if k.states else _states(chain, k, rng)
    camera = phone(str(rng.choice(["", "Handset A", "Handset B", "Pocket macro"])), rng, k.card == "close")
    orientation = _given(k.orientation, int(rng.choice([1, 1, 1, 1, 3, 6, 8])))
    side_up = k.side_up or str(rng.choice(["left", "right"]))
    turn = 0.0 if k.view == "plan" else (180.0 if side_up == "left" else 0.0)
    turn += float(rng.uniform(-5, 5)) if k.mounting == "bench" else float(rng.uniform(-1.5, 1.5))
    plan_turn = float(rng.choice([0.0, 180.0])) if k.view == "plan" else 0.0
    tilt = _given(k.tilt_deg, float(abs(rng.normal(0, 4))))
    tilt_azimuth = _given(k.tilt_azimuth_deg, float(rng.uniform(0, 360)))
    pose = _pose(camera, k, orientation, tilt, tilt_azimuth, rng)
    anchor, chain_x, chain_z = _placing(chain, states, middle, k, rng)
    surface = Surface(_given(k.finish, str(rng.choice(["stamped", "stamped", "scratched", "mirror"]))),
                      _given(k.rust, float(rng.choice([0, 0, rng.uniform(0.1, 0.7)]))),
                      _given(k.oil, float(rng.choice([0, 0, rng.uniform(0.2, 0.9)]))),
                      _given(k.dirt, int(rng.choice([0, 0, 1, 2, 3]))), bool(_given(k.engraved, bool(rng.random() < 0.3))),
                      int(rng.integers(1 << 30)))
    picture = Picture(
        _given(k.blur_px, float(rng.uniform(0.7, 1.05))), _given(k.sharpen, float(rng.uniform(0.0, 0.9))),
        float(rng.uniform(0.9, 1.6)), _given(k.noise, float(rng.uniform(0.6, 1.8))), float(rng.uniform(0.05, 0.3)),
        _given(k.jpeg_quality, int(rng.integers(80, 95))), _given(k.focus_error_mm, float(rng.normal(0, 0.6))),
        float(rng.uniform(0.6, 0.8)), float(rng.choice([0, 0, rng.uniform(0, 0.3)])),
        tuple(float(v) for v in rng.uniform(0.95, 1.05, 3)))
    slot, slip, stand_off = _plan_parts(chain, states, k, rng)
    final_turn = turn + plan_turn
    light = make_light(_given(k.light, str(rng.choice(LIGHTS))), final_turn, chain, states[middle], k.view, rng)
    return Scene(
        name, k.view, k.card, chain, states, camera, pose, orientation, k.mounting if k.view == "profile" else "block", side_up,
        final_turn, anchor, chain_x, chain_z, stand_off, slot, slip, k.field_colour, (), _given(k.stretch, (1.0, 1.0)),
        _given(k.curl_mm, 0.0), _given(k.bench, str(rng.choice(["wood", "metal", "concrete"]))), light, surface, picture, None, seed)


def _given(value: Any, otherwise: Any) -> Any:
    return otherwise if value is None else value


def _states(chain: ChainShape, k: Knobs, rng: np.random.Generator) -> tuple[list[CutterState | None], int]:
    count, middle = (5, 2) if k.card == "wide" else (3, 1)
    first = int(rng.integers(1, 30))
    hand = k.hand or str(rng.choice(["left", "right"]))
    other = "left" if hand == "right" else "right"
    length = chain.new_length * rng.uniform(0.62, 1.0)
    states: list[CutterState | None] = []
    for i in range(count):
        known: dict[str, Any] = {"length_mm": float(length + rng.normal(0, 0.12)), "burr_um": k.burr_um or 0.0}
        if i == middle:
            known.update(k.cutter)
        states.append(usual_cutter(chain, first + i, hand if (i - middle) % 2 == 0 else other, rng, **known))
    return states, middle


def _pose(camera, k: Knobs, orientation: int, tilt: float, azimuth: float, rng: np.random.Generator):
    q = SQUARE_MM[k.card]
    fill = _given(k.fill, float(rng.uniform(0.84, 0.96)))
    distance = camera.focal_px * (COLUMNS + 2) * q / (fill * camera.width)
    target = np.array([COLUMNS * q / 2 + rng.uniform(-0.4, 0.4) * q, ROWS * q / 2 + rng.uniform(-0.4, 0.4) * q, -2.0])
    roll = float(rng.uniform(-4, 4)) + {1: 0.0, 3: 0.0, 6: 90.0, 8: -90.0}[orientation]
    if orientation == 3 and rng.random() < 0.5:
        roll += 180.0
    return pose_towards(target, distance, tilt, azimuth, roll)


def _placing(chain: ChainShape, states, middle: int, k: Knobs, rng: np.random.Generator):
    q = SQUARE_MM[k.card]
    state = states[middle]
    reach = _given(k.off_centre_mm, float(rng.uniform(0, 12 if k.card == "wide" else 3)))
    sign = float(rng.choice([-1, 1]))
    mid_top = -chain.pitch * chain.link_share / 2 - chain.rear_behind + 0.7 * (state.length_mm if state else chain.new_length)
    along = float(rng.uniform(-0.35, 0.35) * (4 * chain.pitch if k.card == "wide" else 4.0))
    anchor = (COLUMNS * q / 2 + along, ROWS * q / 2 + (sign * reach if k.view == "profile" else 0.0))
    top = chain.rear_z + (state.length_mm if state else chain.new_length) * np.tan(np.radians(chain.top_slope_deg))
    return anchor, 4 * chain.pitch * middle + mid_top, float(top)


def _plan_parts(chain: ChainShape, states, k: Knobs, rng: np.random.Generator) -> tuple[Slot | None, bool, float]:
    if k.view != "plan":
        return None, False, _given(k.stand_off_mm, float(rng.uniform(1.0, 3.0)) if k.mounting == "bar" else 0.0)
    width = 2 * max(chain.gauge_thickness / 2 + chain.clearance + chain.cutter_plate + chain.set_out, 3.2) + float(rng.uniform(1.0, 2.2))
    closed = _given(k.slot, str(rng.choice(["through", "through", "closed"]))) == "closed"
    slot = Slot(width, (23.5 if k.card == "close" else 58.0) if closed else None)
    return slot, bool(_given(k.slip, bool(rng.random() < 0.5))), _given(k.stand_off_mm, float(rng.uniform(1.6, 3.4)))


def make_light(name: str, turn_deg: float, chain: ChainShape, state, view: str, rng: np.random.Generator) -> Light:
    """A named light. 'ahead' and 'behind' are square to the middle cutter's edge in plan, along the chain in profile."""
    edge = state.edge_angle_deg if state else 30.0
    hand = 1.0 if state and state.hand == "left" else -1.0
    facing = turn_deg + (hand * edge if view == "plan" else 0.0)
    warmth = float(rng.uniform(-0.2, 1.0))
    if name == "window":
        return Light(name, "window", float(rng.uniform(0, 360)), float(rng.uniform(40, 62)), float(rng.uniform(-0.3, 0.2)), float(rng.uniform(0.2, 0.4)))
    if name == "overcast":
        return Light(name, "overcast", 0.0, 86.0, -0.2, 0.3)
    if name == "ring":
        return Light(name, "ring", 0.0, 90.0, 0.0, 0.2)
    if name == "two lamps":
        return Light(name, "two lamps", float(rng.uniform(0, 360)), float(rng.uniform(35, 55)), warmth, 0.2)
    if name == "lamp ahead":
        return Light(name, "lamp", facing + float(rng.uniform(-12, 12)), float(rng.uniform(24, 40)), warmth, 0.25)
    if name == "lamp behind":
        return Light(name, "lamp", facing + 180 + float(rng.uniform(-15, 15)), float(rng.uniform(28, 45)), warmth, 0.25)
    raise ValueError(f"unknown light '{name}': use one of {', '.join(LIGHTS)}")


__all__ = ["Knobs", "draw_scene", "make_light", "LIGHTS", "replace"]
