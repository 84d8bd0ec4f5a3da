"""The tooth of a cutter: side plate bent into the top plate, its front cut by a round file, its edge rounded and chipped.

The surfaces are exact by construction:
- the outer skin is a section (flat top, corner arc, side) drawn along straight lines that fall to the rear by the top's
  slope and close in by the tapers;
- the front is a circular cylinder (the file) whose axis is parallel to the cutting edge;
- along the straight edge the rounding is, in the plane square to the edge, a true circle tangent to the top plane and
  to the file's cylinder.
Round the working corner and down the side plate the rounding follows the local wedge; truth there is read off the mesh.
Frame: (x, u, z) of a link, see chain.py. Distances along the edge: t from the virtual sharp corner, inwards.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .chain import ChainShape, Chip, CutterState, filed_slope
from .mesh import Mesh, filled, joined, loft, vertex_normals

ARC_POINTS = 24  # over at most 150 degrees: chord error under 0.0021 r
CHIP_RIM_UM = 12.0
CHIP_WALL_LEAN_DEG = 9.0
CHIP_BLEND_MM = 0.012
EDGE_STEP_MM = 0.01
EDGE_STEP_CHIP_MM = 0.004
TOP_POINTS, WALL_POINTS, BEVEL_POINTS, UNDER_POINTS, REAR_POINTS = 7, 5, 14, 6, 8


def smoothstep(x: np.ndarray | float) -> np.ndarray | float:
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)


def wave(at: np.ndarray, seed: int, lengths: tuple[float, ...] = (3.1, 1.3, 0.6, 0.31)) -> np.ndarray:
    """Smooth noise of about unit spread along the edge, by seed."""
    rng = np.random.default_rng(seed)
    total = np.zeros_like(np.asarray(at, float))
    for length in lengths:
        total = total + rng.normal() * np.sin(2 * np.pi * np.asarray(at) / length + rng.uniform(0, 2 * np.pi))
    return total / np.sqrt(len(lengths) / 2)


@dataclass
class Station:
    """One cut through the tooth's skin: where the section stands and what the edge is like there."""

    outer: np.ndarray  # (u, z) of the skin in the plane of the sharp corner
    inner: np.ndarray
    outer_line: np.ndarray  # direction of the skin's generating lines, x component 1
    inner_line: np.ndarray
    normal: np.ndarray  # of the skin
    rear_x: float
    t: float | None  # along the straight edge, else None
    skew: float  # 0: section square to the edge, 1: along the generating line
    square: float = 0.0  # 1: the bevel, too, runs square to the edge; 0: to the inner surface's own generating line


class Tooth:
    """Builds one tooth. After construction:

    mesh: the surface; rows of `edge` hold, per straight-edge station, the section's arc; `origin`, `along`, `ahead`,
    `top_normal`: the edge frame (virtual sharp corner; unit vectors along the edge inwards, in the top plane square to
    it and forward, and up); `axis_point`, `file_radius`: the file's cylinder, axis parallel to `along`.
    """

    def __init__(self, chain: ChainShape, state: CutterState, body_outer_u: float, plan_step_scale: float = 1.0):
        self.chain, self.state = chain, state
        self.slope = np.tan(np.radians(filed_slope(chain, state)))
        self.rear_x = -chain.pitch * chain.link_share / 2 - chain.rear_behind
        self.corner = np.array([
            self.rear_x + state.length_mm, body_outer_u + chain.set_out, chain.rear_z + state.length_mm * self.slope])
        self._frame()
        self.step_scale = plan_step_scale
        self.bottom_z = self.axis_point[2] - 0.5 * self.file_radius
        self._build()

    # --- frames and analytic surfaces -------------------------------------------------------------------------------
    def _frame(self) -> None:
        tan_edge = np.tan(np.radians(self.state.edge_angle_deg))
        along = np.array([-tan_edge, -1.0, -tan_edge * self.slope])
        self.along = along / np.linalg.norm(along)
        up = np.array([-self.slope, 0.0, 1.0])
        self.top_normal = up / np.linalg.norm(up)
        self.ahead = np.cross(self.along, self.top_normal)
        if self.ahead[0] < 0:
            self.ahead = -self.ahead
        self.file_radius = self.chain.file_radius
        share = 1 - 2 * self.chain.file_above_share  # depth of the axis under the top, over the radius
        self.file_ahead = np.sqrt(1 - share**2) * self.file_radius
        self.file_depth = share * self.file_radius
        self.axis_point = self.corner + self.ahead * self.file_ahead - self.top_normal * self.file_depth

    def on_file(self, points: np.ndarray, directions: np.ndarray) -> np.ndarray:
        """Where lines going forward first meet the file's cylinder."""
        flat = lambda v: v - (v @ self.along)[..., None] * self.along  # noqa: E731
        start, way = flat(points - self.axis_point), flat(directions)
        a = (way * way).sum(-1)
        b = (way * start).sum(-1)
        c = (start * start).sum(-1) - self.file_radius**2
        root = np.sqrt(np.maximum(b * b - a * c, 0))
        return points + directions * ((-b - root) / a)[..., None]

    def snapped_to_file(self, points: np.ndarray) -> np.ndarray:
        rel = points - self.axis_point
        along = (rel @ self.along)[..., None] * self.along
        across = rel - along
        return self.axis_point + along + across * (self.file_radius / np.linalg.norm(across, axis=-1))[..., None]

    # --- stations ---------------------------------------------------------------------------------------------------
    def _stations(self) -> list[Station]:
        c = self.chain
        x, u, z = self.corner
        radius, inner_radius = c.corner_radius, max(c.corner_radius - c.top_thickness, 0.35)
        out_line = np.tan(np.radians(c.taper_outer_deg))
        in_line = -np.tan(np.radians(c.taper_inner_deg))
        u_in = u - c.top_width
        u_arc = u - radius
        u_arc_inner = u - c.cutter_plate - inner_radius
        u_keep = min(u_arc, u_arc_inner) - 0.6

        def line(at_u: float) -> np.ndarray:
            share = np.clip((at_u - u_in) / (u_arc - u_in), 0, 1)
            return np.array([1.0, in_line + (out_line - in_line) * share, self.slope])

        stations = []

        def edge_at(at_u: float) -> float:
            hit = self.on_file(np.array([x, at_u, z]), line(at_u))
            return float((hit - self.corner) @ self.along)

        def start_u(t: float) -> float:
            """Where, in the plane of the sharp corner, the generating line through the edge point at t starts."""
            point, at_u = self.corner + t * self.along, u - t * abs(self.along[1])
            for _ in range(20):
                at_u = point[1] + line(at_u)[1] * (x - point[0])
            return at_u

        for angle in np.linspace(np.pi / 2, 0, 9)[:-1]:  # inner rim: thinning towards the free end
            at = u_in + c.inner_rim * (1 - np.sin(angle))
            cut = c.inner_rim * (1 - np.cos(angle))
            tilt = np.array([0, -np.sin(angle), np.cos(angle)])
            stations.append(Station(np.array([at, z - cut]), np.array([at, z - c.top_thickness + cut]), line(at),
                                    line(at), tilt, self.rear_x, None, 1.0))
        self.t_end, self.t_start = edge_at(u_in + c.inner_rim), edge_at(u_arc)
        for t in self._edge_positions():
            at = start_u(t)
            at_inner = at if at < u_keep else u_keep + (at - u_keep) * (u_arc_inner - u_keep) / (u_arc - u_keep)
            near = min(t - self.t_start, self.t_end - t)
            stations.append(Station(np.array([at, z]), np.array([at_inner, z - c.top_thickness]), line(at),
                                    line(at_inner), self.top_normal, self.rear_x, t, 1 - smoothstep(near / 0.35),
                                    smoothstep((u_arc_inner - 0.3 - at) / 0.3) * smoothstep((self.t_end - t) / 0.6)))
        arc_steps = max(14, int(np.ceil(radius * np.pi / 2 / (0.02 * self.step_scale))))
        side_line = np.array([1.0, out_line, self.slope])
        for angle in np.linspace(0, np.pi / 2, arc_steps + 1)[1:]:
            spoke = np.array([np.sin(angle), np.cos(angle)])
            tangent = np.array([0, np.cos(angle), -np.sin(angle)])
            normal = np.cross(side_line, tangent)
            normal *= np.sign(normal @ np.array([0, *spoke])) / np.linalg.norm(normal)
            stations.append(Station(np.array([u_arc, z - radius]) + radius * spoke,
                                    np.array([u_arc_inner, z - c.top_thickness - inner_radius]) + inner_radius * spoke,
                                    side_line, side_line, normal, self._rear_at(z - radius + radius * spoke[1]), None, 1.0))
        side_normal = np.array([-out_line, 1.0, 0.0]) / np.hypot(1, out_line)
        top, top_inner = z - radius, z - c.top_thickness - inner_radius
        for share in np.linspace(0, 1, int(np.ceil((top - self.bottom_z) / (0.04 * self.step_scale))) + 1)[1:]:
            at = top + (self.bottom_z - top) * share
            stations.append(Station(np.array([u, at]), np.array([u - c.cutter_plate, top_inner + (self.bottom_z - top_inner) * share]),
                                    side_line, side_line, side_normal, self._rear_at(at), None, 1.0))
        return stations

    def _rear_at(self, z: float) -> float:
        """The tooth's rear end in profile: straight down from the top plate's rear end, leaning."""
        return self.rear_x + (self.corner[2] - z) * np.tan(np.radians(self.chain.rear_lean_deg))

    def _edge_positions(self) -> np.ndarray:
        coarse = np.arange(self.t_end, self.t_start, -EDGE_STEP_MM * self.step_scale)
        extra = [np.arange(chip.at_mm - 0.55 * chip.width_mm, chip.at_mm + 0.55 * chip.width_mm, EDGE_STEP_CHIP_MM)
                 for chip in self.state.chips]
        extra += [chip_knots(chip)[0] for chip in self.state.chips]
        both = np.concatenate([coarse, [self.t_start], *extra])
        both = both[(both >= self.t_start) & (both <= self.t_end)]
        return np.unique(both.round(6))[::-1]

    # --- what the edge is like --------------------------------------------------------------------------------------
    def radius_mm(self, t: np.ndarray | float) -> np.ndarray | float:
        """Edge radius wanted at t, chips apart."""
        s = self.state
        t = np.asarray(t, float)
        radius = s.edge_radius_um / 1000 * np.exp(s.radius_variation * wave(t, s.seed + 1))
        radius = radius * (1 + s.corner_dulling * np.exp(-np.maximum(t - self.t_start, 0) / 0.8))
        if s.dull_spot:
            at, width, factor = s.dull_spot
            radius = radius * (1 + (factor - 1) * np.exp(-0.5 * ((t - at) / (width / 2.35)) ** 2))
        return radius

    def chip_depth(self, t: float) -> float:
        return max((chip_outline(chip, t) for chip in self.state.chips), default=0.0)

    def burr(self) -> Mesh | None:
        """A filing burr: a ragged foil on the straight edge, standing forward and up. Not part of the truth's outline."""
        if self.state.burr_um <= 0:
            return None
        rows = [i for i, st in enumerate(self.stations) if st.t is not None]
        t = np.array([self.stations[i].t for i in rows])
        height = np.abs(wave(t, self.state.seed + 5, (1.1, 0.4, 0.17, 0.08))) * self.state.burr_um / 1000
        height *= wave(t, self.state.seed + 6, (2.3, 0.9)) > -0.4
        root = self.upper[rows][:, self.arc_slice][:, ARC_POINTS // 3]
        tip = root + height[:, None] * (0.8 * self.ahead + 0.6 * self.top_normal)
        return loft(np.stack([root, tip], 1))

    # --- sections ---------------------------------------------------------------------------------------------------
    def _build(self) -> None:
        self.stations = self._stations()
        upper, lower, self.edge = [], [], []
        for station in self.stations:
            top_row, bottom_row = self._section(station)
            upper.append(top_row)
            lower.append(bottom_row)
        self.upper = np.array(upper)
        skin = loft(self.upper)
        under = loft(np.array(lower))
        ring = np.concatenate([self.upper[0], np.array(lower)[0][1:-1]])
        self.mesh = joined([skin, under, self._cap(ring)])
        self.skin_normals = skin.normals.reshape(self.upper.shape)
        start = REAR_POINTS + 2 + TOP_POINTS
        self.arc_slice = slice(start, start + ARC_POINTS)

    @staticmethod
    def _cap(ring: np.ndarray) -> Mesh:
        points, triangles = filled(ring[:, [0, 2]], 5.0)
        cap = np.c_[points[:, 0], np.full(len(points), ring[:, 1].mean()), points[:, 1]][: len(ring)]
        cap[:, 1] = ring[:, 1]
        triangles = triangles[(triangles < len(ring)).all(1)]
        return Mesh(cap, np.tile([0.0, -1.0, 0.0], (len(cap), 1)), triangles) if len(triangles) else Mesh(
            cap, vertex_normals(cap, triangles), triangles)

    def _section(self, st: Station) -> tuple[np.ndarray, np.ndarray]:
        outer0 = np.array([self.corner[0], *st.outer])
        inner0 = np.array([self.corner[0], *st.inner])
        edge = self.on_file(outer0, st.outer_line)
        t_like = st.t if st.t is not None else (self.t_start if st.outer[0] > self.corner[1] - self.chain.top_width / 2 else self.t_end)
        radius = float(self.radius_mm(t_like))
        depth_down = (self.corner[2] - st.outer[1])
        if st.t is None and st.outer[0] > self.corner[1] - self.chain.top_width / 2:
            reach = smoothstep(depth_down / max(self.corner[2] - self.bottom_z, 1e-6))
            radius = radius * (1 - reach) + min(radius, side_rim_mm(self.state)) * reach
        frame = self._local_frame(edge, st)
        chip = self.chip_depth(t_like if st.t is not None else self.t_start - self._corner_run(st)) if self.state.chips else 0.0
        arc, wall, through = self._edge_profile(edge, frame, st, radius, chip)
        bevel = self._bevel(wall[-1], outer0, inner0, st, through)
        rear = self._rear(st, outer0, inner0)
        top = rear[-1] + (arc[0] - rear[-1]) * np.linspace(0, 1, TOP_POINTS + 2)[1:-1, None]
        under_rear = inner0 + st.inner_line * (st.rear_x - self.corner[0])
        under = bevel[-1] + (under_rear - bevel[-1]) * np.linspace(0, 1, UNDER_POINTS)[:, None]
        return np.concatenate([rear, top, arc, wall[1:], bevel[1:]]), under

    def _corner_run(self, st: Station) -> float:
        """Way over the corner's arc and down the side from the straight edge's outer end, mm; 0 on the straight edge."""
        if st.outer[0] < self.corner[1] - self.chain.corner_radius - 1e-9:
            return 0.0
        radius = self.chain.corner_radius
        drop = self.corner[2] - st.outer[1]
        if drop <= radius:
            return radius * float(np.arccos(np.clip(1 - drop / radius, -1, 1)))
        return radius * np.pi / 2 + drop - radius

    def _local_frame(self, edge: np.ndarray, st: Station) -> tuple[np.ndarray, np.ndarray, np.ndarray, float, float]:
        """(along, ahead, normal, wedge angle, skew per unit of `ahead`) of the edge at this station."""
        if st.t is not None:
            along, ahead, normal = self.along, self.ahead, self.top_normal
        else:
            rel = edge - self.axis_point
            across = rel - (rel @ self.along) * self.along
            file_normal = -across / np.linalg.norm(across)  # out of the steel, towards the file's axis
            normal = st.normal
            along = np.cross(normal, file_normal)
            along /= np.linalg.norm(along)
            along *= np.sign(along @ self.along) or 1.0
            ahead = np.cross(along, normal)
            ahead *= np.sign(ahead @ st.outer_line)
        way = st.outer_line
        skew = (way @ along) / (way @ ahead) * st.skew
        rel = edge - self.axis_point
        across = rel - (rel @ self.along) * self.along
        inward = across / np.linalg.norm(across)
        down = np.cross(along, inward)
        down *= -np.sign(down @ normal)
        down -= (down @ along) * along
        down /= np.linalg.norm(down)
        wedge = float(np.arccos(np.clip(down @ -ahead, -1, 1)))
        return along, ahead, normal, wedge, float(skew)

    def _edge_profile(self, edge, frame, st: Station, radius: float, chip: float):
        """Points of the rounding (ARC_POINTS) and of the wall under it (WALL_POINTS, the last one on the file)."""
        along, ahead, normal, wedge, skew = frame
        exact = st.t is not None
        arc2, foot2 = self._fillet(radius, wedge, exact)
        wall2 = np.repeat(foot2[None], WALL_POINTS, 0)
        if exact:
            self.edge.append(dict(t=st.t, radius=radius, chip=chip, station=len(self.edge)))
        if chip > 0:
            rounding = -plan_reach(arc2, ahead, normal)
            chip_arc, chip_wall = self._chip_profile(chip + rounding, wedge, exact)
            blend = float(smoothstep(chip / CHIP_BLEND_MM))
            arc2 = arc2 + (chip_arc - arc2) * blend
            wall2 = wall2 + (chip_wall - wall2) * blend
        # A chip's walls fall straight down, so that its outline from above is the one asked for.
        plan = along * [1, 1, 0]
        sink = -(np.array([ahead @ plan, normal @ plan]) / (along @ plan)) * (blend if chip > 0 and exact else 0.0)

        def placed(flat: np.ndarray) -> np.ndarray:
            return edge + flat[:, :1] * (ahead + skew * along) + flat[:, 1:] * normal + (flat @ sink)[:, None] * along

        through = bool(chip > CHIP_BLEND_MM and wall2[-1, 1] <= -self.chain.top_thickness * self.top_normal[2] + 1e-9)
        return placed(arc2), placed(wall2), through

    def _fillet(self, radius: float, wedge: float, exact: bool) -> tuple[np.ndarray, np.ndarray]:
        """Circle tangent to the top (a < 0, n = 0) and to the file (exact) or the local bevel; in (ahead, normal)."""
        if exact:
            ca, cn = self.file_ahead, -self.file_depth
            big = self.file_radius + radius
            centre = np.array([ca - np.sqrt(big**2 - (radius + cn) ** 2), -radius])
            foot = np.array([ca, cn]) + (centre - [ca, cn]) * (self.file_radius / big)
        else:
            centre = np.array([-radius / np.tan(wedge / 2), -radius])
            foot = (-centre[0]) * np.array([-np.cos(wedge), -np.sin(wedge)])
        last = np.arctan2(foot[1] - centre[1], foot[0] - centre[0])
        angles = np.linspace(np.pi / 2, last, ARC_POINTS)
        return centre + radius * np.c_[np.cos(angles), np.sin(angles)], foot

    def _chip_profile(self, back: float, wedge: float, exact: bool) -> tuple[np.ndarray, np.ndarray]:
        """Section through a chip whose outline stands `back` behind the sharp line."""
        lean = np.radians(CHIP_WALL_LEAN_DEG)
        rim = CHIP_RIM_UM / 1000
        inner_wedge = np.pi / 2 - lean
        start = np.array([-(back - rim * (1 / np.tan(inner_wedge / 2) - 1)), 0.0])
        arc, foot = self._fillet(rim, inner_wedge, False)
        arc, foot = arc + start, foot + start
        way = np.array([-np.sin(lean), -np.cos(lean)])
        through = (self.chain.top_thickness * self.top_normal[2] + foot[1]) / -way[1]  # way to the plate's underside
        distance = np.inf
        if exact:
            rel = foot - [self.file_ahead, -self.file_depth]
            b, c = way @ rel, rel @ rel - self.file_radius**2
            if b * b >= c and -b - np.sqrt(b * b - c) > 0:
                distance = -b - np.sqrt(b * b - c)
        else:
            bevel = np.array([-np.cos(wedge), -np.sin(wedge)])
            met = float(np.linalg.solve(np.c_[way, -bevel], -foot)[0])
            distance = met if met > 0 else np.inf
        distance = min(distance, through)
        return arc, foot + way * np.linspace(0, distance, WALL_POINTS)[:, None]

    def _bevel(self, start: np.ndarray, outer0: np.ndarray, inner0: np.ndarray, st: Station, through: bool) -> np.ndarray:
        end = self.on_file(inner0, st.inner_line)
        end = end + ((start - end) @ self.along) * st.square * self.along
        if through:
            return np.repeat(start[None], BEVEL_POINTS, 0)  # a chip right through the plate: no bevel left
        shares = np.linspace(0, 1, BEVEL_POINTS)[:, None]
        begin = np.clip(((start - outer0) @ (inner0 - outer0)) / ((inner0 - outer0) @ (inner0 - outer0)), 0, 0.95)
        depth = begin + (1 - begin) * shares
        lines = outer0 + (inner0 - outer0) * depth
        ways = st.outer_line + (st.inner_line - st.outer_line) * depth
        bevel = self.on_file(lines, ways)
        bevel = bevel + (1 - shares) * (start - bevel[0]) + shares * (end - bevel[-1])
        lifted = self.snapped_to_file(bevel)
        drift = (end - start) @ self.along * shares[:, 0] ** 4  # square to the edge at first, for narrow chips' sake
        lifted = lifted + (drift - (lifted - start) @ self.along)[:, None] * self.along
        lifted[0], lifted[-1] = start, end
        return lifted

    def _rear(self, st: Station, outer0: np.ndarray, inner0: np.ndarray) -> np.ndarray:
        rim = min(self.chain.rear_rim, 0.45 * self.chain.top_thickness)
        thick = np.linalg.norm(outer0 - inner0)

        def at(x: np.ndarray, depth: np.ndarray) -> np.ndarray:
            share = (np.asarray(depth) / thick)[:, None]
            base = outer0 + (inner0 - outer0) * share
            way = st.outer_line + (st.inner_line - st.outer_line) * share
            return base + way * (np.asarray(x)[:, None] - self.corner[0])

        angles = np.linspace(np.pi / 2, 0, REAR_POINTS)
        arc = at(st.rear_x + rim * (1 - np.sin(angles)), rim * (1 - np.cos(angles)))
        face = at(np.array([st.rear_x, st.rear_x]), np.array([thick, (thick + rim) / 2]))
        return np.concatenate([face, arc])


def side_rim_mm(state: CutterState) -> float:
    """Rounding of the side plate's front at the bottom of the tooth, where the lower body takes over."""
    return min(0.03, state.edge_radius_um / 1000)


def plan_reach(arc: np.ndarray, ahead: np.ndarray, normal: np.ndarray) -> float:
    """How far the foremost point of a section stands ahead of the sharp edge, seen along z (negative: behind)."""
    plan = ahead.copy()
    plan[2] = 0
    plan /= np.linalg.norm(plan)
    return float((arc[:, 0] * (ahead @ plan) + arc[:, 1] * (normal @ plan)).max())


def chip_knots(chip: Chip) -> tuple[np.ndarray, np.ndarray]:
    """Corners of a chip's jagged outline: t and depth. The deepest reaches exactly chip.depth_mm."""
    rng = np.random.default_rng(chip.seed + 17)
    count = int(rng.integers(5, 9))
    knots = np.linspace(-0.5, 0.5, count + 2)
    knots[1:-1] += rng.uniform(-0.35, 0.35, count) / (count + 1)
    heights = np.concatenate([[0], rng.uniform(0.55, 1.0, count), [0]])
    heights /= heights.max()
    knots[1] = min(knots[1], -0.5 + rng.uniform(0.06, 0.16))
    knots[-2] = max(knots[-2], 0.5 - rng.uniform(0.06, 0.16))
    return chip.at_mm + knots * chip.width_mm, heights * chip.depth_mm


def chip_outline(chip: Chip, t: float) -> float:
    """Depth of a chip's outline at t; 0 outside."""
    return float(np.interp(t, *chip_knots(chip), left=0, right=0))
