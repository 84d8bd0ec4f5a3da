"""Triangle meshes: growing them from outlines and lofts, and writing them for POV-Ray.

Lengths in mm. Every mesh carries one normal per vertex, so that mirror-like steel shades smoothly although it is made
of triangles. Tessellation: arcs are cut so finely that no chord lies more than ARC_SAGITTA_MM inside its arc.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Callable, Sequence

import numpy as np
from scipy.spatial import Delaunay, cKDTree

ARC_SAGITTA_MM = 0.0004
WALL_STEP_MM = 0.15

Warp = Callable[[np.ndarray], np.ndarray]


@dataclass
class Mesh:
    """Vertices (n, 3), unit normals (n, 3), triangles (m, 3) of vertex indices."""

    vertices: np.ndarray
    normals: np.ndarray
    triangles: np.ndarray

    def moved(self, rotation: np.ndarray, translation: np.ndarray) -> "Mesh":
        return Mesh(self.vertices @ rotation.T + translation, self.normals @ rotation.T, self.triangles)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """One mesh of several; shared borders are not welded."""
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    return Mesh(
        np.concatenate([m.vertices for m in meshes]),
        np.concatenate([m.normals for m in meshes]),
        np.concatenate([m.triangles + start for m, start in zip(meshes, starts)]),
    )


def rounded_path(corners: Sequence[tuple[float, float, float]]) -> np.ndarray:
    """Closed outline through corners (x, z, radius), every corner replaced by an arc tangent to both its sides.

    A radius too large for its sides is reduced. Arcs obey ARC_SAGITTA_MM; straight sides are cut at WALL_STEP_MM.
    """
    points = np.array([c[:2] for c in corners], float)
    count = len(points)
    sampled: list[np.ndarray] = []
    for i in range(count):
        here, before, after = points[i], points[i - 1], points[(i + 1) % count]
        to_before, to_after = before - here, after - here
        len_before, len_after = np.linalg.norm(to_before), np.linalg.norm(to_after)
        to_before, to_after = to_before / len_before, to_after / len_after
        half = np.arccos(np.clip(to_before @ to_after, -1, 1)) / 2
        radius = corners[i][2]
        if radius <= 0 or half > np.pi / 2 - 1e-3:
            sampled.append(here[None])
            continue
        reach = min(radius / np.tan(half), 0.48 * min(len_before, len_after))
        radius = reach * np.tan(half)
        start, end = here + reach * to_before, here + reach * to_after
        bisector = (to_before + to_after) / np.linalg.norm(to_before + to_after)
        centre = here + bisector * radius / np.sin(half)
        a0 = np.arctan2(*(start - centre)[::-1])
        turn = (np.arctan2(*(end - centre)[::-1]) - a0 + np.pi) % (2 * np.pi) - np.pi
        step = 2 * np.arccos(max(0.0, 1 - ARC_SAGITTA_MM / radius))
        angles = a0 + np.linspace(0, turn, max(3, int(np.ceil(abs(turn) / step)) + 1))
        sampled.append(centre + radius * np.c_[np.cos(angles), np.sin(angles)])
    return _cut_long_sides(np.concatenate(sampled))


def _cut_long_sides(outline: np.ndarray) -> np.ndarray:
    cut = []
    for here, after in zip(outline, np.roll(outline, -1, axis=0)):
        distance = np.linalg.norm(after - here)
        if distance < 1e-7:
            continue
        parts = max(1, int(np.ceil(distance / WALL_STEP_MM)))
        cut.append(here + (after - here) * (np.arange(parts) / parts)[:, None])
    return np.concatenate(cut)


def inside(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Which of the 2-D points lie inside the closed outline (even-odd rule)."""
    result = np.zeros(len(points), bool)
    for (x0, z0), (x1, z1) in zip(outline, np.roll(outline, -1, axis=0)):
        if z0 == z1:
            continue
        crosses = (z0 > points[:, 1]) != (z1 > points[:, 1])
        result ^= crosses & (points[:, 0] < x0 + (points[:, 1] - z0) * (x1 - x0) / (z1 - z0))
    return result


def filled(outline: np.ndarray, grid_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Triangulated inside of an outline: points (outline first, then a grid) and triangles."""
    low, high = outline.min(0), outline.max(0)
    xs, zs = np.meshgrid(np.arange(low[0], high[0], grid_mm), np.arange(low[1], high[1], grid_mm))
    grid = np.c_[xs.ravel(), zs.ravel()]
    grid = grid[inside(grid, outline)]
    if len(grid):
        nearest = cKDTree(outline).query(grid)[0]
        grid = grid[nearest > grid_mm * 0.4]
    points = np.concatenate([outline, grid])
    triangles = Delaunay(points).simplices
    centres = points[triangles].mean(1)
    return points, triangles[inside(centres, outline)]


def outline_normals(outline: np.ndarray) -> np.ndarray:
    """Outward unit normals of a counter-clockwise closed outline."""
    ahead = np.roll(outline, -1, 0) - outline
    behind = outline - np.roll(outline, 1, 0)
    tangent = ahead / np.linalg.norm(ahead, axis=1)[:, None] + behind / np.linalg.norm(behind, axis=1)[:, None]
    normal = np.c_[tangent[:, 1], -tangent[:, 0]]
    return normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]


def plate(
    outline: np.ndarray, inner: float, outer: float, rim: float | np.ndarray, warp: Warp | None = None,
    grid_mm: float = 0.3, rim_steps: int = 5,
) -> Mesh:
    """A flat plate: `outline` (x, z; counter-clockwise) from sideways position `inner` to `outer`, its rims rounded.

    rim: radius of the rims, one number or one per outline point. warp: maps (n, 3) points (x, sideways, z) of the flat
    plate to the finished one; normals follow by its Jacobian.
    """
    rims = np.broadcast_to(np.asarray(rim, float), len(outline))
    normals = outline_normals(outline)
    layers, layer_normals = [], []
    angles = np.linspace(0, np.pi / 2, rim_steps + 1)
    for angle in angles:  # inner face's rim, from the face to the wall
        layers.append(_layer(outline, normals, rims * (1 - np.sin(angle)), inner + rims * (1 - np.cos(angle))))
        layer_normals.append(_tilted(normals, np.sin(angle), -np.cos(angle)))
    for angle in angles[::-1]:
        layers.append(_layer(outline, normals, rims * (1 - np.sin(angle)), outer - rims * (1 - np.cos(angle))))
        layer_normals.append(_tilted(normals, np.sin(angle), np.cos(angle)))
    wall = loft(np.array(layers), np.array(layer_normals), closed=True)
    faces = []
    for side, sign, layer in ((inner, -1.0, layers[0]), (outer, 1.0, layers[-1])):
        points, triangles = filled(layer[:, [0, 2]], grid_mm)
        flat = np.c_[points[:, 0], np.full(len(points), side), points[:, 1]]
        faces.append(Mesh(flat, np.tile([0.0, sign, 0.0], (len(flat), 1)), triangles))
    whole = joined([wall, *faces])
    return whole if warp is None else warped(whole, warp)


def _layer(outline: np.ndarray, normals: np.ndarray, inset: np.ndarray, side: np.ndarray) -> np.ndarray:
    moved = outline - normals * inset[:, None]
    return np.c_[moved[:, 0], np.broadcast_to(side, len(outline)), moved[:, 1]]


def _tilted(normals: np.ndarray, along: float, sideways: float) -> np.ndarray:
    return np.c_[normals[:, 0] * along, np.full(len(normals), sideways), normals[:, 1] * along]


def warped(mesh: Mesh, warp: Warp) -> Mesh:
    """The mesh with every vertex mapped by `warp`, normals by its inverse transposed Jacobian."""
    step = 1e-4
    jacobian = np.empty((len(mesh.vertices), 3, 3))
    for axis in range(3):
        offset = np.zeros(3)
        offset[axis] = step
        jacobian[:, :, axis] = (warp(mesh.vertices + offset) - warp(mesh.vertices - offset)) / (2 * step)
    normals = np.linalg.solve(np.transpose(jacobian, (0, 2, 1)), mesh.normals[:, :, None])[:, :, 0]
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None]
    return Mesh(warp(mesh.vertices), normals, mesh.triangles)


def loft(rows: np.ndarray, normals: np.ndarray | None = None, closed: bool = False) -> Mesh:
    """Surface through rows (rows, points, 3). Without normals, area-weighted ones; closed: last point joins the first."""
    count, width = rows.shape[:2]
    index = np.arange(count * width).reshape(count, width)
    right = np.roll(index, -1, 1) if closed else index
    a, b = index[:-1], right[:-1]
    c, d = index[1:], right[1:]
    if not closed:
        a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    triangles = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([b, d, c], -1).reshape(-1, 3)])
    vertices = rows.reshape(-1, 3)
    if normals is None:
        flat = vertex_normals(vertices, triangles)
    else:
        flat = normals.reshape(-1, 3)
    return Mesh(vertices, flat, triangles)


def vertex_normals(vertices: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Area-weighted vertex normals: large flat triangles rule at the border to a fine rounding, as they should."""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    areas = np.cross(b - a, c - a)
    total = np.zeros_like(vertices)
    for corner in range(3):
        np.add.at(total, triangles[:, corner], areas)
    lengths = np.linalg.norm(total, axis=1)
    total[lengths < 1e-14] = [0, 0, 1]
    return total / np.where(lengths < 1e-14, 1, lengths)[:, None]


def revolved(profile: np.ndarray, steps: int = 96) -> Mesh:
    """Surface of revolution about the sideways axis: profile rows (radius, sideways)."""
    angles = np.linspace(0, 2 * np.pi, steps, endpoint=False)
    rows = np.stack(
        [np.c_[r * np.cos(angles), np.full(steps, s), r * np.sin(angles)] for r, s in profile]
    )
    return loft(rows, None, closed=True)


def povray_mesh(mesh: Mesh) -> str:
    """The mesh as a POV-Ray mesh2 body; triangles thinner than 1e-9 mm² are left out."""
    a, b, c = (mesh.vertices[mesh.triangles[:, i]] for i in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    triangles = mesh.triangles[area > 1e-9]

    def block(name: str, rows: np.ndarray, form: str) -> str:
        body = ",".join(["<" + ",".join([form] * 3) + ">"] * len(rows)) % tuple(rows.ravel().tolist())
        return f"{name} {{{len(rows)},{body}}}\n"

    return (
        "mesh2 {\n" + block("vertex_vectors", mesh.vertices, "%.6f") + block("normal_vectors", mesh.normals, "%.5f")
        + block("face_indices", triangles, "%d") + "}\n"
    )
