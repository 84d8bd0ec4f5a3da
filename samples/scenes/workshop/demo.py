"""The demo scenario: a small thinning crew, two chains, four stages. All of it invented.

`brook` is a semi-chisel .325 chain, `ridge` a chisel 3/8 chain. Of each, cutters 1 to 6 are photographed new, after clean
work, after touching a stone, and after filing: per stage three profile photographs on the wide card (two cutters each)
and six plan photographs on the close card.
"""
from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .card import COLUMNS, ROWS, SQUARE_MM, Tag
from .chain import Chip, ChainShape, CutterState, random_chain
from .make import make_photograph
from .scene import Scene
from .variety import Knobs, draw_scene

STAGES = ("new", "worked", "stone", "filed")
CUTTERS = range(1, 7)


@dataclass(frozen=True)
class DemoChain:
    name: str
    kind: str
    corner: str
    seed: int
    worked_um: float  # edge radius after clean work
    stone_um: tuple[float, ...]  # and after the stone, cutter by cutter
    chips: dict[int, tuple[Chip, ...]]
    filed_back: tuple[float, ...]  # length taken off by filing


CHAINS = (
    DemoChain("brook", ".325", "semi-chisel", 41, 19.0, (34, 52, 61, 47, 58, 30),
              {2: (Chip(2.4, 0.22, 0.5, 3),), 3: (Chip(3.1, 0.46, 0.9, 4), Chip(4.6, 0.14, 0.35, 5)), 5: (Chip(2.0, 0.31, 0.6, 6),)},
              (0.62, 0.55, 0.66, 0.60, 0.58, 0.64)),
    DemoChain("ridge", "3/8", "chisel", 42, 24.0, (45, 38, 66, 71, 49, 55),
              {1: (Chip(0.3, 0.38, 1.3, 7),), 3: (Chip(3.6, 0.27, 0.5, 8),), 4: (Chip(0.2, 0.55, 1.6, 9), Chip(3.9, 0.18, 0.4, 10))},
              (0.74, 0.70, 0.78, 0.80, 0.69, 0.72)),
)


def demo_shape(chain: DemoChain) -> ChainShape:
    return replace(random_chain(chain.kind, np.random.default_rng(chain.seed), chain.corner), name=chain.kind)


def demo_state(chain: DemoChain, number: int, stage: str) -> CutterState:
    """Cutter `number` at a stage; wear and filing follow one another."""
    shape = demo_shape(chain)
    rng = np.random.default_rng(chain.seed * 100 + number)
    length = shape.new_length - 0.9 + float(rng.normal(0, 0.05))
    drop, angle = 0.62 + float(rng.normal(0, 0.03)), 30 + float(rng.normal(0, 0.6))
    fresh = float(rng.uniform(7, 10))
    index = number - 1
    hand = "left" if number % 2 else "right"
    state = CutterState(number, hand, length, drop, angle, fresh, 0.05, 0.05, seed=int(rng.integers(1 << 30)))
    if stage == "worked":
        return replace(state, edge_radius_um=chain.worked_um * float(rng.uniform(0.85, 1.15)), corner_dulling=0.15)
    if stage == "stone":
        return replace(state, edge_radius_um=chain.stone_um[index], radius_variation=0.12, corner_dulling=0.3, chips=chain.chips.get(number, ()))
    if stage == "filed":
        back = chain.filed_back[index]
        leftover = tuple(replace(c, depth_mm=0.12, width_mm=0.3) for c in chain.chips.get(number, ())[:1] if c.depth_mm > 0.5)
        lowered = 0.06 if number % 3 == 0 else 0.0
        return replace(state, length_mm=length - back, drop_mm=drop - back * float(np.tan(np.radians(shape.top_slope_deg))) + lowered,
                       edge_angle_deg=angle + float(rng.normal(0, 1.2)), edge_radius_um=float(rng.uniform(7, 10)), chips=leftover)
    return state


def demo_scenes() -> dict[str, tuple[DemoChain, str, str, tuple[int, ...]]]:
    """Name of each photograph: chain, stage, view, numbers of the cutters it is for."""
    plan: dict[str, tuple[DemoChain, str, str, tuple[int, ...]]] = {}
    for chain in CHAINS:
        for stage in STAGES:
            for first in (1, 3, 5):
                plan[f"{chain.name}-{stage}-profile-{first}"] = (chain, stage, "profile", (first, first + 1))
            for number in CUTTERS:
                plan[f"{chain.name}-{stage}-plan-{number}"] = (chain, stage, "plan", (number,))
    return plan


def demo_scene(name: str) -> Scene:
    chain, stage, view, numbers = demo_scenes()[name]
    shape = demo_shape(chain)
    around = range(numbers[0] - 1, numbers[-1] + 2) if view == "profile" else numbers
    states = [demo_state(chain, n, stage) if n in CUTTERS else None for n in around]
    middle = 1 if view == "profile" else 0
    lights = {"new": "window", "worked": "overcast", "stone": "window", "filed": "lamp ahead" if view == "plan" else "window"}
    dirt = {"new": 0, "worked": 1, "stone": 2, "filed": 0}[stage]
    seed = chain.seed * 1000 + STAGES.index(stage) * 100 + (50 if view == "plan" else 0) + numbers[0]
    light = "lamp ahead" if view == "plan" and stage in ("stone", "worked") else lights[stage]
    knobs = Knobs(view=view, card="wide" if view == "profile" else "close", chain=shape, states=states, middle=middle, hand=None,
                  side_up="right", light=light, tilt_deg=2.0 + 0.4 * (seed % 5), off_centre_mm=1.0, fill=0.93, focus_error_mm=0.0,
                  finish="stamped", rust=0.0, oil=0.25 if stage == "worked" else 0.0, dirt=dirt, engraved=True, orientation=1, slot="through",
                  slip=view == "plan", bench="wood", burr_um=0.0, stretch=(1.0, 1.0), jpeg_quality=85,
                  noise=0.9, sharpen=0.4)
    scene = draw_scene(name, seed, knobs)
    return _placed(scene, numbers)


def _placed(scene: Scene, numbers: tuple[int, ...]) -> Scene:
    """The wanted cutters over the middle of the field, a number tag beside the first of them."""
    q = SQUARE_MM[scene.card]
    wanted = [c for c in scene.run.cutters if c.state.number in numbers]
    middle = float(np.mean([c.x + (c.cutter.tooth.rear_x + c.cutter.body.vertices[:, 0].max()) / 2 for c in wanted]))
    scene = replace(scene, anchor_mm=(COLUMNS * q / 2, scene.anchor_mm[1]), chain_x=middle)
    rotation, origin = scene.board_from_chain()
    at = rotation @ np.array([wanted[0].x, 0, 0]) + origin
    below = 13.0 if scene.view == "profile" else -6.4
    tag = Tag(numbers[0], float(at[0]) - (8.5 if scene.view == "plan" else 0.0), float(at[1] + below) if scene.view == "profile" else float(ROWS * q / 2 + below), 3.0)
    return replace(scene, tags=(tag,))


def render_demo(folder: Path, scale: float, threads: int, only: list[str] | None) -> int:
    names = list(demo_scenes())
    for name in only or names:
        if name not in names:
            raise ValueError(f"unknown demo photograph '{name}': names look like {names[0]} or {names[3]}")
    for name in only or names:
        out = folder / f"{name}.jpg"
        if out.exists():
            continue
        truth = make_photograph(demo_scene(name), out, scale, threads)
        print(f"{name}: {truth['render_seconds']} s", flush=True)
    return 0
