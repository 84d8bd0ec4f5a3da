"""The truth of the rendered photographs, proven from the solids and from POV-Ray's own rays.

The checks read the meshes and pictures that are handed to the renderer and come to the truth another way than the
generator does: by cutting triangles with planes, by rays against triangles, by centroids of rendered markers.
"""
import io
import sys
import tempfile
import unittest
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageOps

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples" / "scenes"))

from workshop import camera as cam  # noqa: E402
from workshop import card as cards  # noqa: E402
from workshop import chain as chains  # noqa: E402
from workshop import links, mesh, photo, povray, tooth, truth, variety  # noqa: E402

TESSELLATION_MM = 0.002  # promised for every silhouette
MARKER_PX = 0.05  # promised for the projection of points
NUMERIC_MM = 2e-5  # truth files are written with five decimals
SEEDS = (11, 12, 13, 14, 15, 16)


def sections(solid: mesh.Mesh, point: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Points where a plane cuts the mesh's edges."""
    distance = (solid.vertices - point) @ normal
    pieces = []
    for a, b in ((0, 1), (1, 2), (2, 0)):
        i, j = solid.triangles[:, a], solid.triangles[:, b]
        crossing = distance[i] * distance[j] < 0
        i, j = i[crossing], j[crossing]
        share = (distance[i] / (distance[i] - distance[j]))[:, None]
        pieces.append(solid.vertices[i] + (solid.vertices[j] - solid.vertices[i]) * share)
    return np.concatenate(pieces)


def first_hits(solid: mesh.Mesh, starts: np.ndarray, way: np.ndarray) -> np.ndarray:
    """Distance along `way` to the nearest triangle, per start (Moeller and Trumbore 1997); inf where none is met."""
    a, b, c = (solid.vertices[solid.triangles[:, k]] for k in range(3))
    e1, e2 = b - a, c - a
    p = np.cross(np.broadcast_to(way, e2.shape), e2)
    det = (e1 * p).sum(1)
    good = np.abs(det) > 1e-14
    a, e1, e2, p, det = a[good], e1[good], e2[good], p[good], det[good]
    out = []
    for start in starts:
        t = start - a
        u = (t * p).sum(1) / det
        q = np.cross(t, e1)
        v = (q @ way) / det
        reach = (e2 * q).sum(1) / det
        hit = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (reach > 0)
        out.append(reach[hit].min() if hit.any() else np.inf)
    return np.array(out)


def circle_fit(points: np.ndarray) -> tuple[np.ndarray, float]:
    """Least squares circle (Kasa's algebraic fit; exact for exact arcs)."""
    system = np.c_[2 * points, np.ones(len(points))]
    solution = np.linalg.lstsq(system, (points**2).sum(1), rcond=None)[0]
    return solution[:2], float(np.sqrt(solution[2] + solution[:2] @ solution[:2]))


def some_cutter(seed: int, **known) -> tuple[chains.ChainShape, links.Cutter]:
    rng = np.random.default_rng(seed)
    shape = chains.random_chain(list(chains.NOMINAL)[seed % 4], rng, ("chisel", "semi-chisel")[seed % 2])
    state = chains.usual_cutter(shape, 1, "left", rng, **known)
    return shape, links.build_cutter(shape, state)


class Solids(unittest.TestCase):
    def test_gauge_drop_by_rays_from_above(self):
        for seed in SEEDS:
            shape, cutter = some_cutter(seed)
            top = self._highest(cutter.tooth.mesh, cutter.tooth.mesh.vertices[:, 2].max())
            gauge = self._highest(cutter.body, cutter.gauge_vertices()[:, 2].max(), cutter.gauge_from_x)
            self.assertAlmostEqual(top - gauge, cutter.tooth.state.drop_mm, delta=TESSELLATION_MM, msg=f"seed {seed}")

    @staticmethod
    def _highest(solid: mesh.Mesh, about: float, from_x: float = -np.inf) -> float:
        """Highest surface met by a fine grid of rays falling on the highest 0.4 mm of a solid."""
        near = solid.vertices[(solid.vertices[:, 2] > about - 0.02) & (solid.vertices[:, 0] > from_x)]
        best = near[np.argsort(-near[:, 2])[:40]]
        grid = np.concatenate([best[:, :2] + [dx, dy] for dx in (-0.003, 0, 0.003) for dy in (-0.003, 0, 0.003)])
        starts = np.c_[grid, np.full(len(grid), about + 5.0)]
        reach = first_hits(solid, starts, np.array([0, 0, -1.0]))
        return float((about + 5.0 - reach[np.isfinite(reach)]).max())

    def test_edge_radius_by_cutting_square_to_the_edge(self):
        for seed in SEEDS:
            _, cutter = some_cutter(seed, edge_radius_um=12.0 + 9 * (seed - 10))
            t = cutter.tooth
            for at in np.linspace(t.t_start + 0.6, t.t_end - 0.6, 5):
                point = t.corner + at * t.along
                cut = sections(t.mesh, point, t.along)
                flat = np.c_[(cut - point) @ t.ahead, (cut - point) @ t.top_normal]
                wanted = float(t.radius_mm(at))
                near = flat[(np.hypot(*flat.T) < 4 * wanted)]
                low, high = -0.75 * wanted, -0.02 * wanted  # depth under the top: within the arc for any of our wedges
                arc = near[(near[:, 1] > low) & (near[:, 1] < high) & (near[:, 0] > -3 * wanted)]
                _, radius = circle_fit(arc)
                self.assertAlmostEqual(radius / wanted, 1, delta=0.02, msg=f"seed {seed} at {at:.2f}")

    def test_bevel_lies_on_the_files_cylinder(self):
        for seed in SEEDS:
            _, cutter = some_cutter(seed)
            t = cutter.tooth
            rows = t.upper[[i for i, s in enumerate(t.stations) if s.t is not None]][:, -tooth.BEVEL_POINTS + 3:]
            rel = rows - t.axis_point
            away = np.linalg.norm(rel - (rel @ t.along)[..., None] * t.along, axis=-1)
            self.assertLess(np.abs(away - t.file_radius).max(), TESSELLATION_MM)

    def test_edge_angle_and_slope_by_fitting_the_sharp_line(self):
        for seed in SEEDS:
            shape, cutter = some_cutter(seed)
            t = cutter.tooth
            a, b = t.corner + t.along * t.t_start, t.corner + t.along * t.t_end
            self.assertAlmostEqual(np.degrees(np.arctan2(a[0] - b[0], a[1] - b[1])), t.state.edge_angle_deg, delta=1e-6)
            flat = first_hits(t.mesh, np.array([[t.rear_x + x, t.corner[1] - shape.top_width / 2, 20.0] for x in (0.8, 3.8)]),
                              np.array([0, 0, -1.0]))
            self.assertAlmostEqual(np.degrees(np.arctan((flat[0] - flat[1]) / 3.0)), shape.top_slope_deg, delta=0.01)

    def test_chip_depth_behind_the_worn_outline_seen_from_above(self):
        for seed in SEEDS:
            chip = chains.Chip(2.6, 0.12 + 0.05 * (seed - 10), 0.7, seed)
            shape, cutter = some_cutter(seed, chips=(chip,), edge_radius_um=30.0, radius_variation=0.0, corner_dulling=0.0)
            t = cutter.tooth
            plan = np.array([t.ahead[0], t.ahead[1], 0.0])
            plan /= np.linalg.norm(plan)
            along = np.array([t.along[0], t.along[1], 0.0]) / np.hypot(*t.along[:2])

            def foremost(at: float) -> float:
                point = t.corner + at * t.along
                cut = sections(t.mesh, point, along)
                upper = cut[:, 2] > point[2] - 0.5 * shape.top_thickness  # the bevel's lower lip may show through a deep notch
                return float(((cut - point) @ plan)[upper].max())

            whole = max(foremost(at) for at in np.arange(1.5, 1.9, 0.05))
            coarse = np.arange(2.2, 3.0, 0.02)
            near = coarse[np.argsort([foremost(at) for at in coarse])[:4]]
            deepest = min(foremost(at) for start in near for at in np.arange(start - 0.02, start + 0.02, 0.0005))
            self.assertAlmostEqual(whole - deepest, chip.depth_mm, delta=TESSELLATION_MM + 0.001, msg=f"seed {seed}")

    def test_finer_tessellation_moves_no_silhouette(self):
        for seed in SEEDS[:3]:
            shape, cutter = some_cutter(seed, edge_radius_um=45.0)
            fine = tooth.Tooth(shape, cutter.tooth.state, links.body_outer_u(shape), 0.25)
            rng = np.random.default_rng(seed)
            for _ in range(40):
                way = rng.normal(size=3)
                way /= np.linalg.norm(way)
                coarse_reach = (cutter.tooth.mesh.vertices @ way).max()
                self.assertLess(abs((fine.mesh.vertices @ way).max() - coarse_reach), TESSELLATION_MM)

    def test_length_by_rays_along_the_chain(self):
        for seed in SEEDS:
            shape, cutter = some_cutter(seed)
            t = cutter.tooth
            corner = truth.cutter_points(links_placed(cutter), shape)["corner"]
            grid = np.array([[50.0, u, z] for u in np.arange(corner[1] - 0.05, corner[1] + 0.05, 0.005)
                             for z in np.arange(corner[2] - 0.05, corner[2] + 0.05, 0.005)])
            ahead = 50.0 - first_hits(t.mesh, grid, np.array([-1.0, 0, 0])).min()
            self.assertAlmostEqual(ahead, corner[0], delta=TESSELLATION_MM, msg=f"seed {seed}")
            behind = first_hits(t.mesh, np.array([[-50.0, t.corner[1] - shape.top_width / 2, z] for z in np.arange(
                shape.rear_z - 0.9 * shape.top_thickness, shape.rear_z, 0.02)]), np.array([1.0, 0, 0])).min() - 50.0
            self.assertAlmostEqual(behind, t.rear_x, delta=TESSELLATION_MM)


def links_placed(cutter: links.Cutter):
    from workshop.assembly import PlacedCutter
    return PlacedCutter(cutter.tooth.state, cutter, 0.0)


class Projection(unittest.TestCase):
    """POV-Ray's rays, the lens and the pixel convention against the camera model of the truth files."""

    def test_marker_spheres_lie_where_the_camera_model_says(self):
        for orientation, seed in ((1, 3), (6, 4)):
            lens = replace(cam.phone("", np.random.default_rng(seed), False), k=(0.05, -0.04, 0.0)).resized(0.25)
            upright = cam.pose_towards(np.array([52.0, 38.0, 0.0]), 96.0 + seed, 9.0, 40.0 * seed, 3.0)
            pose = upright.turned(np.linalg.inv(cam.TURN[orientation]))
            window = photo.pinhole_window(lens)
            rng = np.random.default_rng(seed)
            points = np.c_[rng.uniform(0, 105, 40), rng.uniform(0, 75, 40), rng.uniform(-8, 0, 40)]
            picture = self._spheres(pose, window, points)
            seen = photo.through_lens_exactly(picture[:, :, None], window, photo.dense_directions(lens))[:, :, 0]
            wanted = lens.pixels(pose.to_camera(points))
            checked = 0
            for target in wanted:
                centre = self._centroid(seen, target)
                if centre is None:
                    continue
                checked += 1
                self.assertLess(np.abs(centre - target).max(), MARKER_PX)
            self.assertGreater(checked, 20)
            turned = lens.turned(orientation)
            at = truth.Projector.__new__(truth.Projector)
            at.scene, at.stored_camera, at.camera = type("S", (), {"orientation": orientation})(), lens, turned
            self.assertLess(np.abs(at.stored_px(turned.pixels(upright.to_camera(points))) - wanted).max(), 1e-9)

    @staticmethod
    def _spheres(pose: cam.Pose, window: povray.Window, points: np.ndarray) -> np.ndarray:
        writer = povray.PovScene.__new__(povray.PovScene)
        writer.pose, writer.threads, writer.seconds = pose, 1, {}
        with tempfile.TemporaryDirectory() as folder:
            writer.folder = Path(folder)
            text = "#version 3.7;\nglobal_settings { assumed_gamma 1.0 }\n" + writer.camera_text(window)
            for p in points:
                text += f"sphere {{ {povray.vec(p)}, 0.5 pigment {{ rgb 1 }} finish {{ ambient 0 diffuse 0 emission {1 / povray.LEVELS} }} }}\n"
            return writer.run_pov("spheres", text, window, 4, alpha=True)[:, :, 3]

    @staticmethod
    def _centroid(picture: np.ndarray, about: np.ndarray, reach: int = 9):
        x, y = np.round(about).astype(int)
        if not (reach < x < picture.shape[1] - reach and reach < y < picture.shape[0] - reach):
            return None
        tile = picture[y - reach:y + reach + 1, x - reach:x + reach + 1].astype(float)
        ring = tile.copy()
        ring[1:-1, 1:-1] = 0
        if ring.max() > 0.01 or tile.sum() < 1:
            return None  # another marker reaches in
        ys, xs = np.mgrid[y - reach:y + reach + 1, x - reach:x + reach + 1]
        return np.array([(tile * xs).sum(), (tile * ys).sum()]) / tile.sum()

    def test_exif_orientation_turns_the_stored_picture_upright(self):
        for orientation in (1, 3, 6, 8):
            lens = cam.phone("", np.random.default_rng(2), False).resized(0.05)
            stored = np.zeros((lens.height, lens.width, 3), np.uint8)
            stored[20, 35] = 255
            shot = variety.draw_scene("x", 1, variety.Knobs(orientation=orientation))
            encoded = Image.open(io.BytesIO(photo.encode(shot, lens, stored)))
            upright = np.array(ImageOps.exif_transpose(encoded).convert("L"))
            self.assertEqual(upright.shape[::-1], (lens.turned(orientation).width, lens.turned(orientation).height))
            turned = lens.turned(orientation)
            ray = np.r_[lens.directions(np.array([[35.0, 20.0]]))[0], 1.0]
            whole = np.eye(3)
            whole[:2, :2] = cam.TURN[orientation]
            x, y = turned.pixels(whole @ ray)[0]
            peak = np.unravel_index(np.argmax(upright), upright.shape)
            self.assertLess(abs(x - peak[1]) + abs(y - peak[0]), 1e-6 + 0.01 * 0)


class Card(unittest.TestCase):
    def test_markers_read_with_the_right_numbers_and_places(self):
        for kind in ("wide", "close"):
            sheet = cards.draw_card(kind)
            small = cv2.resize((sheet.pixels[:, :, 1] / 257).astype(np.uint8), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
            corners, ids, _ = cv2.aruco.detectMarkers(small, cv2.aruco.Dictionary_get(cv2.aruco.DICT_APRILTAG_36h11))
            q = cards.SQUARE_MM[kind]
            field = sum((r + c) % 2 == 1 for r in cards.FIELD_ROWS for c in cards.FIELD_COLUMNS)
            self.assertEqual(len(ids), cards.ROWS * cards.COLUMNS // 2 - field)
            places = [(r, c) for r in range(cards.ROWS) for c in range(cards.COLUMNS) if (r + c) % 2 == 1]
            for quad, marker in zip(corners, ids.ravel()):
                row, column = places[marker - cards.FIRST_ID[kind]]
                middle = (quad[0].mean(0) + 0.5) * 4 / sheet.px_per_mm - sheet.margin_mm
                self.assertLess(np.abs(middle - q * np.array([column + 0.5, row + 0.5])).max(), 0.03 * q)


if __name__ == "__main__":
    unittest.main()
