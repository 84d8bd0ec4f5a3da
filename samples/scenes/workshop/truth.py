"""The truth of a photograph: taken from the solids that were built and the exact camera, never from the picture.

Field names and definitions: samples/README.md. Positions in px are upright unless named `stored_px`.
"""
from __future__ import annotations

from typing import Any

import numpy as np

from .assembly import PlacedCutter
from .camera import TURN
from .card import FIRST_ID, SQUARE_MM
from .chain import filed_slope
from .links import body_outer_u, inner_u
from .photo import Shot, defocus_px
from .scene import Scene
from .tooth import plan_reach

EDGE_SPACING_MM = 0.05


class Projector:
    """Board points to upright and stored pixels."""

    def __init__(self, scene: Scene, scale: float):
        self.scene = scene
        self.stored_camera = scene.camera.resized(scale)
        self.camera = self.stored_camera.turned(scene.orientation)
        self.rotation, self.origin = scene.board_from_chain()

    def board(self, placed: PlacedCutter, link_points: np.ndarray) -> np.ndarray:
        return placed.to_chain(np.atleast_2d(link_points)) @ self.rotation.T + self.origin

    def px(self, board: np.ndarray) -> np.ndarray:
        return self.camera.pixels(self.scene.pose.to_camera(board))

    def stored_px(self, upright: np.ndarray) -> np.ndarray:
        turn = TURN[self.scene.orientation]
        up_mid = np.array([(self.camera.width - 1) / 2, (self.camera.height - 1) / 2])
        st_mid = np.array([(self.stored_camera.width - 1) / 2, (self.stored_camera.height - 1) / 2])
        return (np.atleast_2d(upright) - up_mid) @ turn + st_mid

    def height(self, board: np.ndarray) -> np.ndarray:
        return -np.atleast_2d(board)[:, 2]


def r3(value: Any, digits: int = 5) -> Any:
    if isinstance(value, np.ndarray):
        return np.round(value, digits).tolist()
    return round(float(value), digits)


def truth_of(scene: Scene, shot: Shot | None, photo: str, scale: float = 1.0) -> dict:
    """The whole truth file as a dictionary."""
    at = Projector(scene, scale)
    camera, stored = at.camera, at.stored_camera
    p = scene.picture
    focus = shot.focus_distance_mm if shot else float(scene.pose.translation[2])
    centre = scene.pose.to_camera(np.array([*np.array(scene.board_mm()) / 2, 0.0]))[0, 2]
    card = {"kind": scene.card, "square_mm": SQUARE_MM[scene.card], "first_id": FIRST_ID[scene.card],
            "curl_mm": scene.curl_mm, "print_scale": list(scene.stretch), "field": scene.field_colour}
    if scene.slot:
        card["slot_mm"] = [scene.slot.length_mm, scene.slot.width_mm]
    block = {
        "photo": photo, "view": scene.view, "mounting": scene.mounting, "card": card,
        "image": {"width": stored.width, "height": stored.height, "orientation": scene.orientation,
                  "upright_width": camera.width, "upright_height": camera.height},
        "camera": {"name": camera.name, "kind": camera.kind, "focal_mm": r3(camera.focal_mm, 3),
                   "sensor_width_mm": r3(camera.sensor_width_mm, 3), "f_number": r3(camera.f_number, 2),
                   "focus_distance_mm": r3(focus, 3), "stored": _camera_block(stored), "upright": _camera_block(camera)},
        "card_pose": {"stored": _pose_block(scene.stored_pose()), "upright": _pose_block(scene.pose),
                      "tilt_deg": r3(scene.pose.tilt_deg(), 3)},
        "light": {"name": scene.light.name, "kind": scene.light.kind, "azimuth_deg": scene.light.azimuth_deg,
                  "elevation_deg": scene.light.elevation_deg},
        "dirt_level": scene.surface.dirt, "rust": scene.surface.rust, "oil": scene.surface.oil, "finish": scene.surface.finish,
        "engraved": scene.surface.engraved,
        "picture": {"blur_sigma_px_in_focus": r3(p.blur_px * scale, 3),
                    "blur_sigma_px_card_centre": r3(np.hypot(p.blur_px * scale, defocus_px(stored, centre, focus)), 3),
                    "jpeg_quality": p.jpeg_quality, "sharpen": p.sharpen, "sharpen_sigma_px": r3(p.sharpen_sigma_px * scale, 3),
                    "noise_sigma_at_half_grey_8bit": p.noise_8bit, "vignetting": p.vignetting, "contrast": p.contrast,
                    "grain_measured_8bit": r3(shot.grain_8bit, 3) if shot else None},
        "stand_off_mm": r3(stand_off(scene), 4),
        "chain": chain_block(scene), "must_refuse": scene.must_refuse,
        "cutters": [c for c in (_cutter(scene, at, placed, focus, scale) for placed in scene.run.cutters) if c],
    }
    if scene.view == "plan":
        block["blue_slip"] = scene.slip
    if shot:
        block["render_seconds"] = r3(shot.seconds, 1)
        block["render_passes_s"] = {name: list(times) for name, times in shot.passes.items()}
    return block


def stand_off(scene: Scene) -> float:
    """What a user would measure: profile, the upper outer faces over the card; plan, the highest top plate over it."""
    rotation, origin = scene.board_from_chain()
    if scene.view == "plan":
        return scene.stand_off_mm
    left, right = scene.run.half_width()
    under = left if scene.side_up == "right" else right
    u = max(c.cutter.tooth.corner[1] for c in scene.run.cutters) if scene.run.cutters else 0.0
    return float(under + scene.stand_off_mm + u)


def chain_block(scene: Scene) -> dict:
    """What the chain's sheet could say of its parts."""
    c = scene.chain
    left, right = scene.run.half_width()
    return {"name": c.name, "pitch_mm": r3(c.pitch), "link_rivet_distance_mm": r3(c.pitch * c.link_share),
            "top_plate_width_mm": r3(c.top_width), "side_plate_mm": r3(c.cutter_plate),
            "gauge_set_in_mm": r3(c.set_out - c.gauge_set), "chain_width_mm": r3(left + right), "corner_kind": c.corner_kind}


def _camera_block(camera) -> dict:
    return {"matrix": np.round(camera.matrix(), 6).tolist(), "distortion": np.round(camera.distortion(), 8).tolist()}


def _pose_block(pose) -> dict:
    return {"rvec": r3(pose.rvec(), 9), "tvec_mm": r3(pose.translation, 6)}


# --- one cutter -------------------------------------------------------------------------------------------------------
def _cutter(scene: Scene, at: Projector, placed: PlacedCutter, focus: float, scale: float) -> dict | None:
    c, s, tooth = scene.chain, placed.state, placed.cutter.tooth
    points = cutter_points(placed, c)
    board = {name: at.board(placed, p)[0] for name, p in points.items()}
    px = {name: at.px(b)[0] for name, b in board.items()}
    stored = {name: at.stored_px(q)[0] for name, q in px.items()}
    ends = [px[n] for n in ("corner", "rear_outer", "gauge_outer", "rivet_rear", "rivet_front")]
    inside = [bool(0 <= q[0] < at.camera.width and 0 <= q[1] < at.camera.height) for q in ends]
    if not any(inside):
        return None
    edge = edge_table(tooth, at, placed)
    radii = np.array(edge["r_um"])
    whole = undamaged(tooth, np.array(edge.pop("t_mm")))
    depth_at = lambda name: float(scene.pose.to_camera(board[name])[0, 2])  # noqa: E731
    middle = tooth.corner + tooth.along * (tooth.t_start + tooth.t_end) / 2
    edge_depth = float(scene.pose.to_camera(at.board(placed, middle))[0, 2])
    hook = hook_angles(tooth)
    block: dict[str, Any] = {
        "number": s.number, "hand": s.hand, "type": c.name, "pitch_mm": r3(c.pitch),
        "seen": "whole" if all(inside) else "partly",
        "length_mm": r3(points["corner"][0] - tooth.rear_x),
        "length_sharp_mm": r3(points["corner_sharp"][0] - tooth.rear_x),
        "edge_angle_deg": s.edge_angle_deg, "top_slope_deg": filed_slope(c, s),
        "gauge_drop_mm": r3(tooth.mesh.vertices[:, 2].max() - placed.cutter.gauge_vertices()[:, 2].max()),
        "hook_tangent_deg": r3(hook[0], 3), "hook_chord_deg": r3(hook[1], 3),
        "top_plate_width_mm": r3(c.top_width), "top_plate_thickness_mm": r3(c.top_thickness), "side_plate_thickness_mm": r3(c.cutter_plate),
        "file_radius_mm": r3(c.file_radius), "corner_kind": c.corner_kind, "corner_radius_mm": r3(c.corner_radius),
        "edge_length_mm": r3(tooth.t_end - tooth.t_start),
        "edge_radius_mean_um": r3(radii.mean(), 2), "edge_radius_median_um": r3(np.median(radii), 2), "edge_radius_p90_um": r3(np.percentile(radii, 90), 2),
        "edge_radius_undamaged_median_um": r3(np.median(radii[whole]), 2), "edge_radius_undamaged_p90_um": r3(np.percentile(radii[whole], 90), 2),
        "chips": chip_blocks(tooth), "burr_um": s.burr_um, "plane_height_mm": r3(-board["corner"][2]),
        "mm_per_px": r3(depth_at("corner") / at.camera.focal_px, 7),
        "blur_sigma_px_at_corner": r3(np.hypot(scene.picture.blur_px * scale, defocus_px(at.camera, depth_at("corner"), focus)), 3),
        "blur_sigma_px_at_edge_middle": r3(np.hypot(scene.picture.blur_px * scale, defocus_px(at.camera, edge_depth, focus)), 3),
        "points": {n: {"px": r3(px[n], 3), "stored_px": r3(stored[n], 3),
                       "board_mm": [r3(board[n][0]), r3(board[n][1]), r3(-board[n][2])]} for n in points},
        "edge": edge,
    }
    if scene.view == "profile":
        block["outer_face"] = "up" if s.hand == scene.side_up else "down"
    return block


def cutter_points(placed: PlacedCutter, chain) -> dict[str, np.ndarray]:
    """Named points in the link's frame (x, u, z), read off the solids."""
    tooth = placed.cutter.tooth
    upper = tooth.mesh.vertices
    on_top = upper[upper[:, 2] > tooth.axis_point[2]]
    gauge = placed.cutter.gauge_vertices()
    half = chain.pitch * chain.link_share / 2
    sharp = np.array([tooth.on_file(np.array([tooth.corner[0], *st.outer]), st.outer_line) for st in tooth.stations])
    sharp = sharp[sharp[:, 2] > tooth.axis_point[2]]
    own, far = body_outer_u(chain) + chain.rivet_height, -(inner_u(chain) + chain.strap_plate + chain.rivet_height)

    return {
        "corner": on_top[np.argmax(on_top[:, 0])], "corner_sharp": sharp[np.argmax(sharp[:, 0])],
        "rear_outer": _rear_point(tooth, outer=True), "rear_inner": _rear_point(tooth, outer=False),
        "top_high": upper[np.argmax(upper[:, 2])],
        "gauge_outer": _rim_top(gauge, outer=True), "gauge_inner": _rim_top(gauge, outer=False),
        "rivet_rear": np.array([-half, own, 0.0]), "rivet_front": np.array([half, own, 0.0]),
        "rivet_rear_far": np.array([-half, far, 0.0]), "rivet_front_far": np.array([half, far, 0.0]),
        "edge_start": tooth.corner + tooth.along * tooth.t_start, "edge_end": tooth.corner + tooth.along * tooth.t_end,
    }


def _rear_point(tooth, outer: bool) -> np.ndarray:
    """Rearmost point of the top plate at its outer or inner side."""
    flat = [i for i, st in enumerate(tooth.stations) if st.t is not None]
    row = tooth.upper[flat[-1] if outer else flat[0]]
    rear = row[row[:, 0] < row[:, 0].min() + 1e-7]
    return rear[np.argmax(rear[:, 2])]


def _rim_top(gauge: np.ndarray, outer: bool) -> np.ndarray:
    """Highest point of the gauge's outer or inner face."""
    top = gauge[gauge[:, 2] > gauge[:, 2].max() - 0.6]
    edge = top[:, 1].max() if outer else top[:, 1].min()
    face = top[np.abs(top[:, 1] - edge) < 0.03]
    return face[np.argmax(face[:, 2])]


def working_corner_t(tooth) -> float:
    """Where the working corner's foot lies on the straight sharp line, t."""
    vertices = tooth.mesh.vertices
    on_top = vertices[vertices[:, 2] > tooth.axis_point[2]]
    corner = on_top[np.argmax(on_top[:, 0])]
    return float((corner - tooth.corner) @ tooth.along)


def hook_angles(tooth) -> tuple[float, float]:
    """Side plate's front against the rivet line at the outer face: tangent at the sharp corner; chord 0.2 to 1.0 mm under it."""
    def front(down: float) -> np.ndarray:
        z = tooth.corner[2] - down
        return tooth.on_file(np.array([tooth.corner[0] - 10, tooth.corner[1], z]), np.array([1.0, 0.0, 0.0]))

    high, low = front(0.2), front(1.0)
    a, b = front(0.0), front(1e-4)
    angle = lambda p, q: float(np.degrees(np.arctan2(p[2] - q[2], p[0] - q[0])))  # noqa: E731
    return angle(a, b), angle(high, low)


def undamaged(tooth, t: np.ndarray) -> np.ndarray:
    return np.array([tooth.chip_depth(float(x)) <= 0 for x in t])


def chip_blocks(tooth) -> list[dict]:
    """Chips as built: depth behind the worn neighbouring outline as seen from above."""
    foot = working_corner_t(tooth)
    blocks = []
    for chip in tooth.state.chips:
        t = np.linspace(chip.at_mm - chip.width_mm / 2, chip.at_mm + chip.width_mm / 2, 801)
        depth = np.array([tooth.chip_depth(float(x)) for x in t])
        shown = (t >= tooth.t_start) & (t <= tooth.t_end)
        rounding = outline_recession(tooth, float(t[depth.argmax()]), with_chip=False)
        blocks.append({"s": r3(chip.at_mm - foot), "s_deepest": r3(t[depth.argmax()] - foot), "width": r3(chip.width_mm),
                       "depth": r3(depth.max()), "area": r3(np.trapz(depth, t)), "depth_sharp": r3(depth.max() + rounding),
                       "on_straight_edge": bool(shown.all())})
    return blocks


def outline_recession(tooth, t: float, with_chip: bool = True) -> float:
    arc, _ = tooth._fillet(float(tooth.radius_mm(t)), 0.0, True)
    back = -plan_reach(arc, tooth.ahead, tooth.top_normal)
    return back + (tooth.chip_depth(t) if with_chip else 0.0)


def edge_table(tooth, at: Projector, placed: PlacedCutter) -> dict:
    """Everything along the straight edge, every EDGE_SPACING_MM of s."""
    foot = working_corner_t(tooth)
    eye_board = at.scene.pose.eye()
    sign = np.array([1.0, 1.0 if placed.state.hand == "left" else -1.0, 1.0])
    eye = ((eye_board - at.origin) @ at.rotation - [placed.x, 0, 0]) * sign
    first = np.ceil((tooth.t_start + 0.02 - foot) / EDGE_SPACING_MM) * EDGE_SPACING_MM
    s = np.arange(first, tooth.t_end - 0.02 - foot, EDGE_SPACING_MM)
    t = s + foot
    station_t = np.array([st.t if st.t is not None else np.nan for st in tooth.stations])
    flat = np.flatnonzero(~np.isnan(station_t))
    order = flat[np.argsort(station_t[flat])]
    contour = np.array([_contour(tooth, int(i), eye) for i in order])
    flat_end = np.array([tooth.upper[i][tooth.arc_slice][0] for i in order])
    sharp = tooth.corner + t[:, None] * tooth.along
    chips_only = np.array([max(0.0, tooth.chip_depth(float(x)) and outline_recession(tooth, float(x))) for x in t])

    def pixels(points: np.ndarray) -> list:
        """Along the edge, interpolated to s by the points' own foot on the sharp line."""
        own = (points - tooth.corner) @ tooth.along
        sort = np.argsort(own)
        even = np.stack([np.interp(t, own[sort], points[sort, k]) for k in range(3)], 1)
        return r3(at.px(at.board(placed, even)), 3)

    return {"t_mm": t.tolist(), "s_mm": r3(s), "r_um": r3(tooth.radius_mm(t) * 1000, 3), "recession_sharp_mm": r3(chips_only),
            "recession_outline_mm": [r3(outline_recession(tooth, float(x))) for x in t],
            "sharp_line_px": r3(at.px(at.board(placed, sharp)), 3), "outline_px": pixels(contour), "flat_end_px": pixels(flat_end)}


def _contour(tooth, index: int, eye: np.ndarray) -> np.ndarray:
    """Where the rounding's arc turns away from the eye; its lower end if it never does."""
    arc = tooth.upper[index][tooth.arc_slice]
    facing = np.einsum("ij,ij->i", tooth.skin_normals[index][tooth.arc_slice], eye - arc)
    away = np.flatnonzero(facing < 0)
    if len(away) == 0:
        return arc[-1]
    if away[0] == 0:
        return arc[0]
    k = away[0]
    share = facing[k - 1] / (facing[k - 1] - facing[k])
    return arc[k - 1] + share * (arc[k] - arc[k - 1])
