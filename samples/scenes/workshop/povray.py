"""Writes a scene for POV-Ray and renders its passes to linear pictures.

Passes, all by the same exact pinhole (the lens comes later): `steel` (the chain alone with coverage; card, bench and
lamps are mirrored in it but not seen), `sheet` (the light falling on the card's plane, cast shadows included), `ground`
(bench or block without card), `depth`. Pictures are 16-bit linear; LEVELS is the brightest level kept, lit paper = 1.
"""
from __future__ import annotations

import os
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from .assembly import Part
from .camera import Pose
from .card import FIELD_SRGB, CardTexture, linear_from_srgb
from .mesh import povray_mesh
from .scene import Scene

LEVELS = 6.0
DEPTH_RANGE_MM = 400.0
CARD_THICKNESS_MM = 0.25
EDGE_SAMPLES = 4  # per pixel side, along cutting edges


@dataclass(frozen=True)
class Window:
    """A pinhole picture: focal length px, size, and the pixel of the optical axis (centre convention)."""

    focal_px: float
    width: int
    height: int
    axis: tuple[float, float]

    def scaled(self, scale: float) -> "Window":
        w, h = int(np.ceil(self.width * scale)), int(np.ceil(self.height * scale))
        return Window(self.focal_px * scale, w, h, ((self.axis[0] + 0.5) * scale - 0.5, (self.axis[1] + 0.5) * scale - 0.5))

    def cropped(self, x0: int, y0: int, x1: int, y1: int) -> "Window":
        return Window(self.focal_px, x1 - x0, y1 - y0, (self.axis[0] - x0, self.axis[1] - y0))


def vec(v) -> str:
    return "<" + ",".join(f"{float(c):.7g}" for c in v) + ">"


class PovScene:
    """Shared text of all passes of one scene, written into `folder`."""

    def __init__(self, scene: Scene, pose: Pose, card: CardTexture, folder: Path, threads: int = 2):
        self.scene, self.pose, self.card, self.folder, self.threads = scene, pose, card, folder, threads
        self.seconds: dict[str, tuple[float, float]] = {}  # by pass: wall clock, processor
        folder.mkdir(parents=True, exist_ok=True)
        self._write_meshes()
        self._write_card()

    def _write_meshes(self) -> None:
        with open(self.folder / "meshes.inc", "w") as out:
            for name, mesh in self.scene.run.meshes.items():
                out.write(f"#declare Mesh_{name} = {povray_mesh(mesh)};\n")

    def _write_card(self) -> None:
        rows, columns = self.card.pixels.shape[:2]
        width = 2400
        small = cv2.resize(self.card.pixels, (width, width * rows // columns), interpolation=cv2.INTER_AREA)
        cv2.imwrite(str(self.folder / "card.png"), small[:, :, [2, 1, 0, 3]])

    # --- camera, lamps, surroundings --------------------------------------------------------------------------------
    def camera_text(self, window: Window) -> str:
        r = self.pose.rotation
        right, down, ahead = r[0], r[1], r[2]
        shift_x = ((window.width - 1) / 2 - window.axis[0]) / window.focal_px
        shift_y = ((window.height - 1) / 2 - window.axis[1]) / window.focal_px
        direction = ahead + right * shift_x + down * shift_y
        return (f"camera {{ perspective location {vec(self.pose.eye())} direction {vec(direction)}\n"
                f" right {vec(right * window.width / window.focal_px)} up {vec(-down * window.height / window.focal_px)} }}\n")

    def _frame_at(self, azimuth_deg: float, elevation_deg: float, distance: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        a, e = np.radians([azimuth_deg, elevation_deg])
        way = np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), -np.sin(e)])
        w, h = self.scene.board_mm()
        centre = np.array([w / 2, h / 2, 0.0]) + way * distance
        side = np.cross(way, [0, 0, 1.0])
        side = side / np.linalg.norm(side) if np.linalg.norm(side) > 1e-6 else np.array([1.0, 0, 0])
        return centre, side, np.cross(way, side)

    def lights_text(self, fine: bool = True) -> str:
        """fine: soft shadows sampled finely, as the card needs; on steel coarser ones do, at a third of the time."""
        light = self.scene.light
        self._shadow = "5, 5 adaptive 1" if fine else "3, 3 adaptive 0"
        colour = np.array([1 + 0.18 * light.warmth, 1.0, 1 - 0.3 * light.warmth])
        text = ""
        if light.kind == "window":
            text += self._panel(light.azimuth_deg, light.elevation_deg, 620, 420, 620, colour * 1.0, 3.2)
        elif light.kind == "lamp":
            text += self._panel(light.azimuth_deg, light.elevation_deg, 380, 70, 70, colour * 1.1, 14)
        elif light.kind == "two lamps":
            text += self._panel(light.azimuth_deg, light.elevation_deg, 450, 110, 110, colour * 0.65, 9)
            text += self._panel(light.azimuth_deg + 145, light.elevation_deg + 8, 450, 110, 110, colour * 0.5, 7)
        elif light.kind == "overcast":
            text += self._panel(light.azimuth_deg, 86, 900, 1300, 1300, colour * 0.75, 0.9)
        elif light.kind == "ring":
            text += self._ring(colour)
        else:
            raise ValueError(f"unknown light '{light.kind}': use window, lamp, two lamps, ring or overcast")
        dome = 0.62 if light.kind == "overcast" else 0.05 + 0.6 * light.fill
        text += self._surroundings(dome / LEVELS)
        up = np.array([0, 0, -1.0])
        w, h = self.scene.board_mm()
        text += (f"light_source {{ {vec(np.array([w / 2, h / 2, 0]) + up * 800)} color rgb {light.fill / LEVELS:.6f} shadowless }}\n")
        return text

    def _panel(self, azimuth, elevation, distance, width, height, colour, glow) -> str:
        centre, side, over = self._frame_at(azimuth, elevation, distance)
        corners = [centre + a * side * width / 2 + b * over * height / 2 for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        points = ",".join(vec(c) for c in [*corners, corners[0]])
        return (f"light_source {{ {vec(centre)} color rgb {vec(colour / LEVELS)} area_light {vec(side * width)}, {vec(over * height)},"
                f" {self._shadow} jitter }}\n"
                f"polygon {{ 5, {points} pigment {{ rgb {vec(colour / colour.max())} }} finish {{ ambient 0 diffuse 0 emission {glow / LEVELS:.6f} }}"
                f" no_image no_shadow }}\n")

    def _ring(self, colour: np.ndarray) -> str:
        r, eye = self.pose.rotation, self.pose.eye()
        text = ""
        for i in range(12):
            angle = 2 * np.pi * i / 12
            at = eye + 32 * (np.cos(angle) * r[0] + np.sin(angle) * r[1])
            text += f"light_source {{ {vec(at)} color rgb {vec(colour * 1.1 / 12 / LEVELS)} }}\n"
            text += (f"sphere {{ {vec(at)}, 8.5 pigment {{ rgb 1 }} finish {{ ambient 0 diffuse 0 emission {7 / LEVELS:.6f} }} no_image no_shadow }}\n")
        return text

    def _surroundings(self, dome: float) -> str:
        """Sky dome, and the dark phone itself: steel that faces the camera mirrors it."""
        r, eye = self.pose.rotation, self.pose.eye()
        rows = " ".join(",".join(f"{c:.7g}" for c in row) + "," for row in (r[0], r[1], r[2]))
        matrix = f"matrix <{rows} {','.join(f'{c:.7g}' for c in eye)}>"
        phone = (f"box {{ <-75,-36,-9>, <14,36,-0.5> pigment {{ rgb 0.03 }} finish {{ ambient 0 diffuse 0.6 reflection 0.04 }} no_image {matrix} }}\n")
        stops = ((0.0, (1.0, 0.97, 0.92), 0.25), (0.5, (1.0, 0.97, 0.92), 0.3), (0.6, (1.0, 0.97, 0.92), 0.55),
                 (0.75, (0.96, 0.98, 1.0), 1.0), (1.0, (0.95, 0.98, 1.0), 1.1))
        ramp = " ".join(f"[{at} rgb {vec(np.array(tint) * level * dome)}]" for at, tint, level in stops)
        sky = (f"sphere {{ 0, 1 pigment {{ gradient z color_map {{ {ramp} }} scale <1,1,2> translate <0,0,-1> scale <1,1,-1> }}"
               f" finish {{ ambient 0 diffuse 0 emission 1 }} hollow scale 20000 no_image no_shadow }}\n")
        return sky + phone

    def ground_text(self, seen: bool) -> str:
        w, h = self.scene.board_mm()
        hide = "" if seen else "no_image"
        depth = CARD_THICKNESS_MM
        if self.scene.view == "plan":
            return self._block_text(hide)
        if self.scene.mounting == "bar":
            depth = 60.0
        return f"plane {{ <0,0,1>, {depth} texture {{ {bench_texture(self.scene)} }} {hide} }}\n"

    def _block_text(self, hide: str) -> str:
        """Wooden block with a saw kerf that takes the tangs, a rail on either side carrying the card."""
        s = self.scene
        rotation, origin = s.board_from_chain()
        straps = s.chain.half_height + 0.15
        top = origin[2] + straps  # board Z of the block's top: the side links stand on it
        w, h = s.board_mm()
        turn = f"rotate z*{s.turn_deg:.6g} translate {vec([*s.anchor_mm, 0])}"
        kerf = s.chain.gauge_thickness / 2 + 0.25
        reach = 2.2 * w
        wood = bench_texture(s)
        rails = ""
        gap = 9.0 if s.slot is None else s.slot.width_mm / 2 + 1.5
        for side in (-1, 1):
            y0, y1 = sorted((side * gap, side * (gap + 0.8 * h)))
            rails += f"box {{ <{-reach},{y0},0.3>, <{reach},{y1},{top + 30}> }}\n"
            y0, y1 = sorted((side * kerf, side * 40))
            rails += f"box {{ <{-reach},{y0},{top}>, <{reach},{y1},{top + 30}> }}\n"
        return (f"union {{ {rails} texture {{ {wood} }} {turn} {hide} }}\n"
                f"plane {{ <0,0,1>, {top + 30} texture {{ {wood} }} {hide} }}\n")

    def card_text(self) -> str:
        left, top, right, bottom = self.card.paper_mm()
        return (f"polygon {{ 5, <0,0>,<1,0>,<1,1>,<0,1>,<0,0> pigment {{ image_map {{ png \"card.png\" gamma 1.0 once interpolate 2 }} }}"
                f" finish {{ ambient 0 diffuse 1 }} scale <{right - left},{top - bottom},1> translate <{left},{bottom},0> no_image }}\n")

    def slip_text(self) -> str:
        """A strip of paper in the field's colour under the edge: over the card, in front of the edge of the chosen cutter."""
        if not self.scene.slip:
            return ""
        colour = linear_from_srgb(FIELD_SRGB[self.scene.field_colour])
        text = ""
        for corners in slip_corners(self.scene):
            text += quad_text(corners, f"pigment {{ rgb {vec(colour)} }} finish {{ ambient 0 diffuse 1 }}")
        return text

    def specks_text(self, texture: str | None = None) -> str:
        """Sawdust lying on the card, more of it the dirtier the scene."""
        count = {0: 0, 1: 0, 2: 45, 3: 110}[self.scene.surface.dirt]
        rng = np.random.default_rng(self.scene.surface.seed + 8)
        w, h = self.scene.board_mm()
        pieces = []
        for _ in range(count):
            size = np.array([rng.uniform(0.25, 1.3), rng.uniform(0.1, 0.45), rng.uniform(0.03, 0.1)]) / 2
            x, y = rng.uniform(-0.1, 1.1) * w, rng.uniform(-0.1, 1.1) * h
            tint = rng.uniform(0.6, 1.1) * np.array([0.52, 0.34, 0.17])
            if self.scene.slot and abs(y - h / 2) < self.scene.slot.width_mm / 2 + 1:
                continue
            own = texture or f"pigment {{ rgb {vec(tint)} }} finish {{ ambient 0 diffuse 0.9 }}"
            pieces.append(f"box {{ {vec(-size)}, {vec(size)} texture {{ {own} }} rotate <{rng.uniform(-12, 12):.2f},{rng.uniform(-12, 12):.2f},"
                          f"{rng.uniform(0, 180):.2f}> translate <{x:.4f},{y:.4f},{-size[2] - rng.uniform(0.02, 0.2):.4f}> }}\n")
        return "".join(pieces)

    # --- the chain --------------------------------------------------------------------------------------------------
    def chain_text(self, hide: str = "", texture: str | None = None, clip_above: bool = False) -> str:
        rng = np.random.default_rng(self.scene.surface.seed + 3)
        clip = "clipped_by { plane { <0,0,1>, 0 } }" if clip_above else ""
        pieces = []
        for part in self.scene.run.parts:
            shift = vec(rng.uniform(-50, 50, 3))
            own = f"texture {{ Steel_{part.kind} translate {shift} }}" if texture is None else ""
            extra = engraving(self.scene, part) if texture is None and not hide else ""
            pieces.append(f"object {{ Mesh_{part.mesh_name} {own} {scene_matrix(self.scene, part)} {hide} {clip} }}\n" + extra)
        body = "".join(pieces)
        if texture is None:
            return body
        return f"union {{ {body} texture {{ {texture} }} }}\n"

    def bar_text(self, hide: str = "", texture: str | None = None) -> str:
        if self.scene.mounting != "bar":
            return ""
        rotation, origin = self.scene.board_from_chain()
        c = self.scene.chain
        top = -c.half_height - 0.1
        rows = ", ".join(",".join(f"{v:.9g}" for v in rotation[:, i]) for i in range(3))
        matrix = f"matrix <{rows}, {','.join(f'{v:.9g}' for v in origin)}>"
        groove, wide = c.gauge_thickness / 2 + 0.1, c.gauge_thickness / 2 + c.clearance + max(c.strap_plate, c.cutter_plate) + 0.05
        own = texture or "Steel_bar"
        return (f"union {{ box {{ <-400,{groove},{top}>, <400,{wide},{top - 70}> }} box {{ <-400,{-wide},{top}>, <400,{-groove},{top - 70}> }}"
                f" box {{ <-400,{-groove},{top - c.tang_depth}>, <400,{groove},{top - 70}> }} texture {{ {own} }} {matrix} {hide} }}\n")

    # --- passes -----------------------------------------------------------------------------------------------------
    def header(self, window: Window) -> str:
        return ("#version 3.7;\nglobal_settings { assumed_gamma 1.0 max_trace_level 3 ambient_light rgb 1 }\n"
                "#include \"meshes.inc\"\n" + steel_textures(self.scene) + self.camera_text(window))

    def steel(self, window: Window, over_card_only: bool, grid: int) -> np.ndarray:
        """Linear red, green, blue (premultiplied by coverage) and coverage of the chain, float32.

        Two renderings: the shading, smoothed only where neighbours differ much, and the coverage by many cheap rays at
        every outline, since outlines are what photographs are measured by.
        """
        text = self.header(window) + self.lights_text(fine=False) + self.card_text() + self.ground_text(False)
        text += self.chain_text(clip_above=over_card_only) + self.bar_text()
        text += self.slip_text() + self.specks_text()
        shading = self.run_pov("steel", text, window, grid, alpha=True, threshold=0.05)
        if self.scene.view == "plan":
            body = text[len(self.header(window)):]
            for x0, y0, x1, y1 in edge_boxes(self.scene, self.pose, window):
                part = window.cropped(x0, y0, x1, y1)
                shading[y0:y1, x0:x1] = self._averaged("edge", body, part, EDGE_SAMPLES)
        flat = "pigment { rgb 1 } finish { ambient 0 diffuse 0 emission 1 }"
        text = self.header(window) + self.chain_text(texture=flat, clip_above=over_card_only) + self.bar_text(texture=flat)
        text += self.slip_text() + self.specks_text(flat)
        cover = self.run_pov("cover", text, window, 4, alpha=True)[:, :, 3]
        return np.dstack([_grown(shading) * cover[:, :, None], cover])

    def _averaged(self, name: str, body: str, window: Window, side: int) -> np.ndarray:
        """A pass with side x side samples in every pixel, whether or not neighbours differ: the mirror image of a lamp in a
        worn edge is a line thinner than a pixel, which an adaptive sampler misses and turns into dots."""
        fine = window.scaled(side)
        picture = self.run_pov(name, self.header(fine) + body, fine, 1, alpha=True)
        return picture.reshape(window.height, side, window.width, side, 4).mean((1, 3))

    def under(self, window: Window, grid: int) -> np.ndarray:
        """Plan: everything that shows through the slot."""
        text = self.header(window) + self.lights_text(fine=False) + self.card_text() + self.ground_text(True) + self.chain_text()
        return self.run_pov("under", text, window, grid, alpha=False, threshold=0.05)

    def sheet(self, window: Window) -> np.ndarray:
        text = self.header(window) + self.lights_text() + self.chain_text(hide="no_image") + self.bar_text("no_image")
        text += "plane { <0,0,1>, 0 pigment { rgb 1 } finish { ambient 0 diffuse 1 } }\n"
        return self.run_pov("sheet", text, window, 1, alpha=False)

    def ground(self, window: Window) -> np.ndarray:
        text = self.header(window) + self.lights_text(fine=False) + self.chain_text(hide="no_image") + self.bar_text("no_image")
        text += self.card_text() + self.ground_text(True)
        return self.run_pov("ground", text, window, 1, alpha=False)

    def depth(self, window: Window, over_card_only: bool) -> np.ndarray:
        """Distance along the optical axis of whatever of the chain is seen, mm; 0 where nothing is."""
        ahead, eye = self.pose.rotation[2], self.pose.eye()
        ramp = (f"pigment {{ gradient {vec(ahead)} color_map {{ [0 rgb 0] [1 rgb {1.0}] }} scale {DEPTH_RANGE_MM} translate {vec(eye)} }}"
                f" finish {{ ambient 0 diffuse 0 emission 1 }}")
        text = self.header(window) + self.chain_text(texture=ramp, clip_above=over_card_only) + self.bar_text(texture=ramp)
        picture = self.run_pov("depth", text, window, 1, alpha=True)
        cover = picture[:, :, 3]
        return np.where(cover > 0.5, picture[:, :, 0] / LEVELS * DEPTH_RANGE_MM, 0).astype(np.float32)

    def run_pov(self, name: str, text: str, window: Window, grid: int, alpha: bool, threshold: float = 0.01) -> np.ndarray:
        """grid: samples per pixel side where neighbours differ by more than the threshold."""
        (self.folder / f"{name}.pov").write_text(text)
        png = self.folder / f"{name}.png"
        png.unlink(missing_ok=True)
        command = ["povray", f"+I{name}.pov", f"+O{name}.png", f"+W{window.width}", f"+H{window.height}", "+FN16",
                   "File_Gamma=1.0", "-D", f"+WT{self.threads}", "+UA" if alpha else "-UA", "-GA", "-P"]
        command += ["+AM1", f"+R{grid}", f"+A{threshold}", "-J"] if grid > 1 else ["-A"]
        began = time.time(), os.times().children_user
        done = subprocess.run(command, cwd=self.folder, capture_output=True, text=True)
        if done.returncode != 0 or not png.exists():
            raise RuntimeError(f"povray failed on {name}.pov:\n{done.stderr[-2000:]}")
        self.seconds[name] = (round(time.time() - began[0], 1), round(os.times().children_user - began[1], 1))
        picture = cv2.imread(str(png), cv2.IMREAD_UNCHANGED).astype(np.float32) / 65535
        channels = [2, 1, 0, 3] if picture.shape[2] == 4 else [2, 1, 0]
        picture = picture[:, :, channels]
        picture[:, :, :3] *= LEVELS
        if alpha:
            picture[:, :, :3] *= picture[:, :, 3:4]
        return picture


def edge_boxes(scene: Scene, pose: Pose, window: Window) -> list[tuple[int, int, int, int]]:
    """Where the cutting edges lie in a pinhole picture, with some room around; edges outside of it are left out."""
    rotation, origin = scene.board_from_chain()
    boxes = []
    for placed in scene.run.cutters:
        tooth = placed.cutter.tooth
        ends = np.array([tooth.corner + tooth.along * t + tooth.ahead * a for t in (-0.3, tooth.t_end + 0.1) for a in (-0.25, 0.1)])
        seen = pose.to_camera(placed.to_chain(ends) @ rotation.T + origin)
        px = seen[:, :2] / seen[:, 2:] * window.focal_px + window.axis
        low = np.maximum(np.floor(px.min(0)).astype(int) - 6, 0)
        high = np.minimum(np.ceil(px.max(0)).astype(int) + 6, [window.width, window.height])
        if (high - low > 8).all():
            boxes.append((int(low[0]), int(low[1]), int(high[0]), int(high[1])))
    return boxes


def _grown(shading: np.ndarray) -> np.ndarray:
    """Colour without coverage, carried three pixels beyond the outline."""
    cover = shading[:, :, 3]
    colour = shading[:, :, :3] / np.maximum(cover, 1 / 64)[:, :, None]
    weight = (cover > 0.4).astype(np.float32)
    blurred = cv2.GaussianBlur(colour * weight[:, :, None], (7, 7), 1.2)
    near = cv2.GaussianBlur(weight, (7, 7), 1.2)
    return np.where(weight[:, :, None] > 0, colour, blurred / np.maximum(near, 1e-4)[:, :, None])


def slip_corners(scene: Scene) -> list[list[np.ndarray]]:
    """The slip's quadrilaterals in the board frame, one per cutter of full length in the run."""
    rotation, origin = scene.board_from_chain()
    quads = []
    for placed in scene.run.cutters:
        tooth = placed.cutter.tooth
        along, ahead = tooth.along.copy(), tooth.ahead.copy()
        along[2] = ahead[2] = 0
        along, ahead = along / np.linalg.norm(along), ahead / np.linalg.norm(ahead)
        base = tooth.corner + along * tooth.t_end / 2
        rear, front, half = -0.35, 3.6, 8.0
        quad = []
        for a, b in ((-half, rear), (half, rear), (half, front), (-half, front)):
            point = base + along * a + ahead * b
            board = rotation @ placed.to_chain(point) + origin
            board[2] = -0.12 - 0.02 * (b > 0)
            quad.append(board)
        quads.append(quad)
    return quads


def bench_texture(scene: Scene) -> str:
    rng = np.random.default_rng(scene.seed + 11)
    spin = f"rotate <0,0,{rng.uniform(-30, 30):.3f}> translate {vec(rng.uniform(-90, 90, 3))}"
    if scene.bench == "wood":
        light, dark = rng.uniform(0.22, 0.36), rng.uniform(0.08, 0.16)
        return (f"pigment {{ wood turbulence 0.06 octaves 4 color_map {{ [0 rgb {vec(np.array([1, 0.66, 0.38]) * light)}] [0.7 rgb {vec(np.array([1, 0.6, 0.33]) * light * 0.8)}]"
                f" [1 rgb {vec(np.array([1, 0.55, 0.3]) * dark)}] }} scale <{rng.uniform(6, 11):.3f},{rng.uniform(6, 11):.3f},200> rotate <{rng.uniform(86, 94):.3f},{rng.uniform(80, 100):.3f},0> }}"
                f" normal {{ bozo 0.15 scale <12,0.5,0.5> }} finish {{ ambient 0 diffuse 0.9 specular 0.05 roughness 0.1 }} {spin}")
    if scene.bench == "metal":
        return (f"pigment {{ bozo turbulence 0.4 color_map {{ [0 rgb 0.16] [1 rgb 0.26] }} scale 25 }} normal {{ bozo 0.05 scale 3 }}"
                f" finish {{ ambient 0 diffuse 0.8 specular 0.2 roughness 0.05 reflection 0.05 }} {spin}")
    if scene.bench == "concrete":
        return (f"pigment {{ granite color_map {{ [0 rgb 0.22] [0.6 rgb 0.34] [1 rgb 0.42] }} scale 14 }} normal {{ granite 0.2 scale 3 }}"
                f" finish {{ ambient 0 diffuse 0.9 }} {spin}")
    raise ValueError(f"unknown bench '{scene.bench}': use wood, metal or concrete")


def steel_textures(scene: Scene) -> str:
    s = scene.surface
    rng = np.random.default_rng(s.seed)
    tone = rng.uniform(0.9, 1.1)
    shine = {"stamped": (0.44, 0.40, 0.30), "mirror": (0.66, 0.1, 0.02), "scratched": (0.54, 0.28, 0.38)}
    if s.finish not in shine:
        raise ValueError(f"unknown finish '{s.finish}': use stamped, mirror or scratched")
    mirror, matt, bump = shine[s.finish]
    grade = {"cutter": 1.05, "strap": 0.82, "drive": 0.86, "rivet": 1.0, "bar": 0.95}
    text = ""
    for kind, grey in grade.items():
        level = grey * tone
        grain = "<0.9,0.05,0.05>" if kind in ("cutter", "strap", "drive") else "<0.25,0.25,0.25>"
        base = (
            f"pigment {{ bozo turbulence 0.6 octaves 3 color_map {{ [0 rgb {vec(np.array([0.62, 0.61, 0.60]) * level)}] [1 rgb {vec(np.array([0.80, 0.795, 0.79]) * level)}] }} scale 1.7 }}\n"
            f" normal {{ bozo {bump * (0.35 if kind == 'cutter' else 1.2):.3f} scale {grain} }}\n"
            f" finish {{ ambient 0 diffuse {matt} brilliance 1.4 specular {0.5 + 0.4 * (s.finish == 'mirror'):.2f} roughness {0.06 if s.finish != 'mirror' else 0.004} metallic"
            f" reflection {{ {mirror * grey:.3f} metallic }} }}")
        layers = f"texture {{ {base} }}"
        if s.oil > 0:
            layers += (f" texture {{ pigment {{ bozo turbulence 0.7 color_map {{ [0 rgbt <0.16,0.10,0.04,{1 - 0.55 * s.oil:.3f}>] [{0.35 + 0.4 * s.oil:.2f} rgbt <0.2,0.13,0.05,{1 - 0.35 * s.oil:.3f}>]"
                       f" [{0.45 + 0.5 * s.oil:.2f} rgbt <0.2,0.13,0.05,1>] [1 rgbt 1] }} scale 3 }} finish {{ ambient 0 diffuse 0.5 specular 0.5 roughness 0.01 }} }}")
        if s.rust > 0:
            edge = 1 - 0.62 * s.rust
            layers += (f" texture {{ pigment {{ granite turbulence 0.3 color_map {{ [0 rgbt 1] [{edge - 0.12:.3f} rgbt <0.3,0.13,0.05,1>] [{edge:.3f} rgbt <0.27,0.11,0.04,0.15>] [1 rgbt <0.17,0.07,0.03,0>] }} scale 2.6 }}"
                       f" normal {{ bozo 0.6 scale 0.15 }} finish {{ ambient 0 diffuse 0.8 }} }}")
        if s.dirt > 0:
            edge = 0.86 - 0.13 * s.dirt
            layers += (f" texture {{ pigment {{ bozo turbulence 1.1 octaves 6 color_map {{ [0 rgbt 1] [{edge - 0.22:.3f} rgbt <0.16,0.12,0.08,1>] [{edge:.3f} rgbt <0.12,0.09,0.06,0.45>] [{min(edge + 0.2, 0.99):.3f} rgbt <0.10,0.075,0.05,0.15>] [1 rgbt <0.07,0.05,0.035,0.05>] }} scale 1.9 }}"
                       f" normal {{ bozo 0.5 scale 0.2 }} finish {{ ambient 0 diffuse 0.75 }} }}")
        text += f"#declare Steel_{kind} = {layers}\n" if layers.count("texture {") > 1 else f"#declare Steel_{kind} = texture {{ {base} }}\n"
    return text


def quad_text(corners, texture: str) -> str:
    a, b, c, d = (vec(p) for p in corners)
    return f"union {{ triangle {{ {a},{b},{c} }} triangle {{ {a},{c},{d} }} texture {{ {texture} }} }}\n"


def engraving(scene: Scene, part: Part) -> str:
    """Engraved lines in the link's frame: a wear mark across the top plate, parallel to the edge, and strokes on the side
    plate between the rivets; drawn as dark strips a few micrometres proud."""
    if not scene.surface.engraved or part.kind != "cutter":
        return ""
    placed = next(c for c in scene.run.cutters if c.x == part.x)
    tooth = placed.cutter.tooth
    dark = "pigment { rgb 0.09 } finish { ambient 0 diffuse 0.7 specular 0.1 }"
    level = lambda x: tooth.corner[2] - (tooth.corner[0] - x) * tooth.slope + 0.003  # noqa: E731
    start, width = tooth.rear_x + 3.4, 0.16
    lean = -tooth.along[0] / tooth.along[1]
    mark = []
    for dx, du in ((0, 0.6), (width, 0.6), (width, scene.chain.top_width - 0.6), (0, scene.chain.top_width - 0.6)):
        x = start + dx + lean * du
        mark.append(np.array([x, tooth.corner[1] - du, level(x)]))
    text = quad_text(mark, dark)
    face = placed.cutter.body.vertices[:, 1]
    side = float(np.median(face[face > face.mean()])) + 0.004
    for k, (x, height) in enumerate(((-1.1, 1.3), (-0.5, 1.3), (0.1, 0.8), (0.7, 1.3))):
        tilt = 0.25 * (k % 2)
        stroke = [np.array([x + a + tilt * b, side, b - 1.2]) for a, b in ((0, 0), (0.13, 0), (0.13, height), (0, height))]
        text += quad_text(stroke, dark)
    own = scene_matrix(scene, part)
    return f"union {{ {text} {own} }}\n"


def scene_matrix(scene: Scene, part: Part) -> str:
    """POV-Ray's matrix that takes a part's own frame (x, u, z) to the board frame."""
    rotation, origin = scene.board_from_chain()
    linear = rotation @ np.diag([1.0, 1.0 if part.left else -1.0, 1.0])
    at = origin + rotation @ np.array([part.x, 0, 0])
    rows = ", ".join(",".join(f"{c:.9g}" for c in linear[:, i]) for i in range(3))
    return f"matrix <{rows}, {','.join(f'{c:.9g}' for c in at)}>"
