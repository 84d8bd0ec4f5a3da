"""A taut run of chain: which parts lie where.

Chain frame: x in running direction, y to the left seen along x (the cutter of a left hand has its side plate at y > 0),
z away from the bar; z = 0 on the rivet line. The link of index k has its rivets at 2 k pitch -+ half its rivet distance;
cutters sit on even links, hands alternating.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .chain import ChainShape, CutterState
from .links import Cutter, body_outer_u, build_cutter, build_drive, build_rivet_head, build_strap, inner_u
from .mesh import Mesh


@dataclass
class Part:
    """A mesh placed in the chain frame. kind: 'cutter' | 'strap' | 'drive' | 'rivet' (its texture)."""

    kind: str
    mesh_name: str
    x: float
    left: bool  # u maps to +y (left) or -y


@dataclass
class PlacedCutter:
    state: CutterState
    cutter: Cutter
    x: float  # of the middle between its two rivets

    def to_chain(self, points: np.ndarray) -> np.ndarray:
        """Points (.., 3) of the link's frame (x, u, z) in the chain frame."""
        sign = 1.0 if self.state.hand == "left" else -1.0
        return np.asarray(points) * np.array([1.0, sign, 1.0]) + np.array([self.x, 0.0, 0.0])


@dataclass
class ChainRun:
    shape: ChainShape
    meshes: dict[str, Mesh]
    parts: list[Part]
    cutters: list[PlacedCutter]

    def half_width(self) -> tuple[float, float]:
        """How far the run reaches to the left and to the right of its middle plane (both positive)."""
        left = right = 0.0
        for part in self.parts:
            u = self.meshes[part.mesh_name].vertices[:, 1]
            reach, back = float(u.max()), float(-u.min())
            if part.kind == "drive":
                left, right = max(left, reach), max(right, reach)
            elif part.left:
                left, right = max(left, reach), max(right, back)
            else:
                left, right = max(left, back), max(right, reach)
        return left, right


def build_run(shape: ChainShape, states: list[CutterState | None], extra_links: int = 2) -> ChainRun:
    """A run whose cutters (every second link, rear to front) are `states`; None leaves the strap pair instead.

    extra_links: links without cutters before and after, so that the run leaves the picture.
    """
    meshes: dict[str, Mesh] = {
        "strap": build_strap(shape), "guard": build_strap(shape, shape.strap_bump), "drive": build_drive(shape),
        "rivet_cutter": build_rivet_head(shape, body_outer_u(shape)),
        "rivet_strap": build_rivet_head(shape, inner_u(shape) + shape.strap_plate),
    }
    parts: list[Part] = []
    cutters: list[PlacedCutter] = []
    first, last = -extra_links, 2 * len(states) - 1 + extra_links
    for k in range(first, last):
        x = 2 * k * shape.pitch
        index = k // 2
        state = states[index] if k % 2 == 0 and 0 <= index < len(states) else None
        parts.append(Part("drive", "drive", x + shape.pitch, True))
        sides = {True: ("strap", "rivet_strap"), False: ("strap", "rivet_strap")}
        if state is not None:
            name = f"cutter_{index}"
            cutter = build_cutter(shape, state)
            meshes[name] = cutter.mesh
            cutters.append(PlacedCutter(state, cutter, x))
            left = state.hand == "left"
            sides = {left: (name, "rivet_cutter"), not left: ("guard", "rivet_strap")}
        half = shape.pitch * shape.link_share / 2
        for left, (mesh_name, rivet) in sides.items():
            parts.append(Part("cutter" if mesh_name.startswith("cutter") else "strap", mesh_name, x, left))
            parts += [Part("rivet", rivet, x + end, left) for end in (-half, half)]
    return ChainRun(shape, meshes, parts, cutters)
