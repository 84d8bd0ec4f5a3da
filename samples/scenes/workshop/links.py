"""The other parts of a chain: the cutter's lower body with gullet and depth gauge, straps, drive links, rivets.

Frames as in chain.py: a link's (x, u, z); drive links and rivets are centred sideways (u = 0).
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .chain import ChainShape, CutterState
from .mesh import Mesh, joined, plate, revolved, rounded_path
from .tooth import Tooth, side_rim_mm, smoothstep

OVERLAP_MM = 0.06  # the body reaches so far into the tooth, hidden in its side plate
HIDDEN_MM = 0.001


@dataclass
class Cutter:
    """A finished cutter: tooth and body in the link's frame, and the depth gauge's own vertices for the truth."""

    tooth: Tooth
    body: Mesh
    gauge_from_x: float  # everything of the body ahead of this x and above gauge_from_z is the depth gauge
    gauge_from_z: float

    @property
    def mesh(self) -> Mesh:
        burr = self.tooth.burr()
        return joined([self.tooth.mesh, self.body] + ([burr] if burr else []))

    def gauge_vertices(self) -> np.ndarray:
        v = self.body.vertices
        return v[(v[:, 0] > self.gauge_from_x) & (v[:, 2] > self.gauge_from_z)]


def inner_u(chain: ChainShape) -> float:
    return chain.gauge_thickness / 2 + chain.clearance


def body_outer_u(chain: ChainShape) -> float:
    return inner_u(chain) + chain.cutter_plate


def build_cutter(chain: ChainShape, state: CutterState) -> Cutter:
    """The cutter of `state`; its gauge stands `drop_mm` under the top plate's highest point to 0.1 µm."""
    tooth = Tooth(chain, state, body_outer_u(chain))
    top = tooth.mesh.vertices[:, 2].max()
    aim = top - state.drop_mm
    height = aim
    for _ in range(3):
        cutter = _body_for(chain, state, tooth, height)
        height += aim - cutter.gauge_vertices()[:, 2].max()
    return cutter


def _body_for(chain: ChainShape, state: CutterState, tooth: Tooth, gauge_z: float) -> Cutter:
    outline, gullet = body_outline(chain, state, tooth, gauge_z)
    warp = _BodyWarp(chain, tooth)
    rims = np.full(len(outline), chain.plate_rim)
    rims[outline[:, 1] > warp.gauge_z0] = chain.gauge_rim
    rims[gullet] = side_rim_mm(state)
    inner, outer = inner_u(chain), body_outer_u(chain)
    body = plate(outline, inner + HIDDEN_MM, outer - HIDDEN_MM, rims, warp, grid_mm=0.22)
    return Cutter(tooth, body, warp.gauge_x0, warp.gauge_z0)


def body_outline(chain: ChainShape, state: CutterState, tooth: Tooth, gauge_z: float) -> tuple[np.ndarray, np.ndarray]:
    """Outline (x, z) of the lower body at the cutter's outer face, and which of its points the file has cut."""
    half = chain.pitch * chain.link_share / 2
    reach, low = chain.end_reach, -chain.half_height
    ellipse = _file_trace(tooth)
    start = tooth.bottom_z + OVERLAP_MM
    floor = ellipse[np.argmin(ellipse[:, 1])]
    new_corner = tooth.rear_x + chain.new_length
    gauge_rear = new_corner + chain.gauge_ahead
    base_x = max(gauge_rear - 1.15, floor[0] + 0.4)
    front_half = ellipse[(ellipse[:, 0] < floor[0] + 0.3 * tooth.file_radius) & (ellipse[:, 0] <= base_x - 0.2)]
    trace = front_half[front_half[:, 1] <= start + 1e-9]
    trace = np.concatenate([[_at_height(ellipse, start)], trace])
    top = _gauge_corners(chain, state, gauge_rear, gauge_z)
    rear_top = tooth._rear_at(start)
    corners: list[tuple[float, float, float]] = [
        (-half - 0.8 * reach, low + 0.15, 0.5), (-half + 0.3, low, 0.8), (0.0, low + chain.bottom_arch, 4.0),
        (half - 0.3, low, 0.8), (half + 0.8 * reach, low + 0.15, 0.5), (half + reach, 0.2 * low, 1.2),
        (half + reach * 0.98, 0.45 * chain.half_height, 1.3), *top,
        (base_x, trace[-1, 1] + 0.12, min(1.2, 0.45 * tooth.file_radius)),
    ]
    corners += [(float(p[0]), float(p[1]), 0.0) for p in trace[::-1]]
    corners += [(rear_top + 0.004, start, 0.0), (tooth._rear_at(start - 0.9) - 0.05, start - 0.9, 1.0),
                (-half - reach, 0.5 * chain.half_height, 1.0), (-half - reach, 0.3 * low, 1.2)]
    outline = rounded_path(corners)
    lookup = {tuple(np.round(p, 6)) for p in trace}
    where = np.flatnonzero([tuple(np.round(p, 6)) in lookup for p in outline])
    gullet = np.zeros(len(outline), bool)
    gullet[where.min():where.max() + 1] = True
    return outline, gullet


def _file_trace(tooth: Tooth) -> np.ndarray:
    """Rear and lower part of the file's cut in the outer face's plane, from the top down and forward."""
    axis = tooth.along
    centre = tooth.axis_point + axis * ((tooth.corner[1] - tooth.axis_point[1]) / axis[1])
    angles = np.linspace(np.pi * 0.95, np.pi * 1.75, 160)
    sides = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
    points = []
    for angle in angles:  # plane section of the cylinder: solve |(d)⊥axis| = R along each direction
        way = np.cos(angle) * sides[0] + np.sin(angle) * sides[1]
        across = way - (way @ axis) * axis
        points.append(centre + way * tooth.file_radius / np.linalg.norm(across))
    return np.array(points)[:, [0, 2]]


def _at_height(trace: np.ndarray, z: float) -> np.ndarray:
    rear = trace[: np.argmin(trace[:, 1]) + 1]
    return np.array([np.interp(-z, -rear[:, 1], rear[:, 0]), z])


def _gauge_corners(chain: ChainShape, state: CutterState, rear: float, z: float) -> list[tuple[float, float, float]]:
    front = rear + chain.gauge_run
    kind = "flat" if state.gauge_filed_flat else chain.gauge_kind
    lean = 0.4 * chain.gauge_run
    if kind == "flat":
        return [(front + lean, z - 1.2, 0.8), (front, z, 0.12), (rear, z, 0.12)]
    if kind == "ramp":
        return [(front + lean, z - 1.5, 1.2), (front, z - chain.gauge_fall - 0.1, 0.7), (rear + 0.15, z, 0.6), (rear - 0.1, z - 0.35, 0.5)]
    return [(front + lean, z - 1.4, 1.5), (front - 0.1, z + 0.05, 0.9), (rear, z + 0.05, 0.8)]


class _BodyWarp:
    """Bends the flat body: set-out of side plate and gauge, and the file's slant across the plate's thickness."""

    def __init__(self, chain: ChainShape, tooth: Tooth):
        self.chain, self.tooth = chain, tooth
        low = tooth.axis_point[2] - tooth.file_radius
        self.low, self.high = min(0.45 * chain.half_height, tooth.bottom_z - 1.0), tooth.bottom_z - 0.02
        self.gullet_x = tooth.axis_point[0] - 0.2
        self.gauge_x0 = tooth.rear_x + chain.new_length + chain.gauge_ahead - 1.2
        self.gauge_z0 = low + 0.6 * (tooth.corner[2] - low)
        self.floor_z = low

    def __call__(self, points: np.ndarray) -> np.ndarray:
        chain, tooth = self.chain, self.tooth
        x, u, z = points.T
        rise = smoothstep((z - self.low) / (self.high - self.low))
        ahead = smoothstep((x - self.gullet_x) / (self.gauge_x0 + 1.0 - self.gullet_x))
        taper = np.tan(np.radians(chain.taper_outer_deg)) * (tooth.corner[0] - x)
        moved = u + rise * ((1 - ahead) * (chain.set_out - taper) + ahead * chain.gauge_set)
        cross = ahead * smoothstep((z - self.floor_z) / 1.5) * chain.gauge_cross * (u - body_outer_u(chain)) / chain.cutter_plate
        slant = smoothstep((z - self.floor_z + 0.9) / 0.7) * (1 - smoothstep((x - self.gauge_x0 + 0.3) / 1.2))
        slant = slant * smoothstep((x - tooth.rear_x - 0.8) / 2.0)
        inward = slant * (tooth.corner[1] - moved)
        along = tooth.along / abs(tooth.along[1])
        return np.c_[x + inward * along[0], moved, z + inward * along[2] + cross]


def build_strap(chain: ChainShape, bump: float = 0.0) -> Mesh:
    """A tie strap, u from inner to outer face; `bump`: height of a hump at its front end (guard link)."""
    half, reach, h = chain.pitch * chain.link_share / 2, chain.end_reach, chain.strap_height
    waist = chain.strap_waist
    top: list[tuple[float, float, float]] = [(half + 0.55 * reach, h, 1.1), (0.6, h - waist, 3.0), (-0.6, h - waist, 3.0),
                                             (-half - 0.55 * reach, h, 1.1)]
    if bump > 0:
        top = [(half + 0.75 * reach, h + bump, 0.9), (half - 0.1, h + bump, 1.2), (0.3 * half, h - waist, 2.5), *top[2:]]
    corners = [(-half - 0.75 * reach, -h, 0.9), (-0.9, -h + 0.6 * waist, 3.0), (0.9, -h + 0.6 * waist, 3.0),
               (half + 0.75 * reach, -h, 0.9), (half + reach, -0.3 * h, 1.6), (half + reach, 0.4 * h, 1.6), *top,
               (-half - reach, 0.4 * h, 1.6), (-half - reach, -0.3 * h, 1.6)]
    u0 = inner_u(chain)
    return plate(rounded_path(corners), u0, u0 + chain.strap_plate, min(chain.plate_rim, 0.3 * chain.strap_plate))


def build_drive(chain: ChainShape) -> Mesh:
    """A drive link about the middle between its two rivets."""
    half = chain.pitch * (2 - chain.link_share) / 2
    reach, top, deep = 0.82 * chain.end_reach, chain.drive_top, -chain.tang_depth
    lean = chain.tang_lean
    corners = [(-half - reach, -0.55 * top, 1.2), (-0.35 * half - 1.0 + lean, 0.72 * deep, 2.5), (-0.6 + lean, deep, 0.5), (0.9 + lean, deep, 0.7),
               (1.5 + lean, 0.8 * deep, 0.9), (half + 0.1, 0.5 * deep, 1.8), (half + reach, -0.6 * top, 1.2),
               (half + reach, 0.5 * top, 1.3), (half + 0.3 * reach, top, 1.2), (-half - 0.3 * reach, top, 1.2), (-half - reach, 0.5 * top, 1.3)]
    side = chain.gauge_thickness / 2
    return plate(rounded_path(corners), -side, side, min(0.12, 0.25 * chain.gauge_thickness))


def build_rivet_head(chain: ChainShape, plate_outer_u: float) -> Mesh:
    """A peened rivet head standing on a plate's outer face, domed, with a shallow dimple; axis at x = z = 0."""
    radius, height = chain.rivet_radius, chain.rivet_height
    rim = 0.3 * height
    r = np.linspace(0, radius - 0.12, 26)
    dome = rim + (height - rim) * np.sqrt(np.maximum(0, 1 - (r / radius) ** 2.4))
    dome -= chain.rivet_dimple * height * np.exp(-((r / (0.28 * radius)) ** 2))
    dome *= height / dome.max()
    wall = np.linspace(dome[-1] - 0.06, -0.05, 4)
    profile = np.concatenate([np.c_[np.maximum(r, 1e-4), plate_outer_u + dome],
                              np.c_[np.full(4, radius), plate_outer_u + wall]])
    return revolved(profile)
