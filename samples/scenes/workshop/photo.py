"""From linear passes to a phone's JPEG: lens distortion, focus, vignetting, noise, tone, sharpening, EXIF."""
from __future__ import annotations

import io
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import piexif
from PIL import Image
from scipy.ndimage import map_coordinates

from .camera import Camera
from .card import CardTexture, draw_card
from .povray import PovScene, Window
from .scene import Scene

CARD_SAMPLES = 4  # per pixel side
LOW_RES = 1 / 3


@dataclass
class Shot:
    """A finished photograph: encoded JPEG and what was found out on the way."""

    jpeg: bytes
    grain_8bit: float
    focus_distance_mm: float
    seconds: float
    passes: dict[str, tuple[float, float]]


def take(scene: Scene, folder: Path, scale: float = 1.0, threads: int = 2, grid: int = 2) -> Shot:
    """Renders a scene as the *stored* picture; scale: of the picture's side lengths (1 = full size)."""
    began = time.time()
    camera = scene.camera.resized(scale)
    card = draw_card(scene.card, scene.field_colour, scene.slot, scene.tags, scene.stretch)
    pov = PovScene(scene, scene.stored_pose(), card, folder, threads)
    linear, focus = compose(scene, camera, pov, card, grid)
    encoded, grain = develop(scene, camera, linear, scale)
    return Shot(encoded, grain, focus, time.time() - began, pov.seconds)


# --- passes through the lens ------------------------------------------------------------------------------------------
def pinhole_window(camera: Camera) -> Window:
    """The smallest pinhole picture that holds all the lens sees."""
    xs, ys = np.linspace(-2, camera.width + 1, 60), np.linspace(-2, camera.height + 1, 60)
    border = np.concatenate([np.c_[xs, np.full(60, ys[0])], np.c_[xs, np.full(60, ys[-1])],
                             np.c_[np.full(60, xs[0]), ys], np.c_[np.full(60, xs[-1]), ys]])
    flat = camera.directions(border) * camera.focal_px
    low, high = np.floor(flat.min(0)) - 2, np.ceil(flat.max(0)) + 2
    size = (high - low + 1).astype(int)
    return Window(camera.focal_px, int(size[0]), int(size[1]), (-low[0], -low[1]))


def dense_directions(camera: Camera) -> np.ndarray:
    """(height, width, 2) float32: x/z, y/z of every pixel. The lens is radial: one factor of the squared radius, a
    polynomial fitted to the exact inverse (worst error under 1e-5 px)."""
    corner = np.hypot(max(camera.centre[0], camera.width - camera.centre[0]), max(camera.centre[1], camera.height - camera.centre[1]))
    radius = np.linspace(1.0, corner + 4, 400)
    exact = camera.directions(np.c_[camera.centre[0] + radius, np.full(400, camera.centre[1])])[:, 0] * camera.focal_px / radius
    inverse = np.polynomial.Polynomial.fit(radius**2, exact, 7)
    xs = (np.arange(camera.width) - camera.centre[0]).astype(np.float32)
    ys = (np.arange(camera.height) - camera.centre[1]).astype(np.float32)
    factor = inverse(xs[None, :] ** 2 + ys[:, None] ** 2).astype(np.float32) / np.float32(camera.focal_px)
    return np.dstack([xs[None, :] * factor, ys[:, None] * factor])


def through_lens(picture: np.ndarray, window: Window, directions: np.ndarray, how: int = cv2.INTER_CUBIC) -> np.ndarray:
    map_x = (directions[:, :, 0] * window.focal_px + window.axis[0]).astype(np.float32)
    map_y = (directions[:, :, 1] * window.focal_px + window.axis[1]).astype(np.float32)
    return cv2.remap(picture, map_x, map_y, how, borderMode=cv2.BORDER_REPLICATE)


def board_xy(scene: Scene, pov: PovScene, directions: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Board X, Y where every pixel's ray meets the (bowed) sheet."""
    r, eye = pov.pose.rotation, pov.pose.eye()
    d = [directions[:, :, 0] * np.float32(r[0, i]) + directions[:, :, 1] * np.float32(r[1, i]) + np.float32(r[2, i]) for i in range(3)]
    z = np.zeros_like(d[0])
    for _ in range(4 if scene.curl_mm else 1):
        reach = (z - np.float32(eye[2])) / d[2]
        x = np.float32(eye[0]) + d[0] * reach
        if scene.curl_mm:
            z = scene.curl_z(x).astype(np.float32)
    return x, np.float32(eye[1]) + d[1] * reach


def card_layer(scene: Scene, pov: PovScene, card: CardTexture, directions: np.ndarray) -> np.ndarray:
    """Reflectance (premultiplied) and coverage of the card, averaged over CARD_SAMPLES² points of every pixel."""
    x, y = board_xy(scene, pov, directions)
    tx, ty = card.texture_xy(x, y)
    ax, ay = np.gradient(tx, axis=1), np.gradient(ty, axis=1)
    bx, by = np.gradient(tx, axis=0), np.gradient(ty, axis=0)
    total = np.zeros((*tx.shape, 4), np.float32)
    steps = (np.arange(CARD_SAMPLES) + 0.5) / CARD_SAMPLES - 0.5
    premultiplied = card.pixels
    if (card.pixels[:, :, 3] < 65535).any():
        premultiplied = card.pixels.copy()
        premultiplied[premultiplied[:, :, 3] == 0] = 0
    for j in steps:
        for i in steps:
            total += cv2.remap(premultiplied, tx + np.float32(i) * ax + np.float32(j) * bx, ty + np.float32(i) * ay + np.float32(j) * by,
                               cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    return total / (65535 * CARD_SAMPLES**2)


def compose(scene: Scene, camera: Camera, pov: PovScene, card: CardTexture, grid: int) -> tuple[np.ndarray, float]:
    """The linear picture in front of the sensor, defocused by depth, and the distance in focus."""
    window = pinhole_window(camera)
    directions = dense_directions(camera)
    plan = scene.view == "plan"
    low = window.scaled(LOW_RES)
    sheet = through_lens(pov.sheet(low), low, directions, cv2.INTER_LINEAR)
    ground = through_lens(pov.ground(low), low, directions, cv2.INTER_LINEAR)
    if plan:
        strip = window.cropped(*slot_box(scene, pov, window))
        below = through_lens_exactly(np.dstack([pov.under(strip, 1), np.ones((strip.height, strip.width), np.float32)]), strip, directions, 1)
        ground = np.where(below[:, :, 3:4] > 0.999, below[:, :, :3], ground)
    layer = card_layer(scene, pov, card, directions)
    cover = layer[:, :, 3:4]
    focus = focus_distance(scene, pov)
    card_blur = defocus_px(camera, _sheet_distance(pov, directions), focus)
    backdrop = layer[:, :, :3] * sheet + ground * (1 - cover)
    backdrop = blurred_by(backdrop, card_blur)
    box = chain_box(scene, pov, window, plan)
    part = window.cropped(*box)
    chain = through_lens_exactly(pov.steel(part, plan, grid), part, directions)
    depth_window = part.scaled(LOW_RES)
    depth = through_lens_exactly(pov.depth(depth_window, plan)[:, :, None], depth_window, directions, 0)
    depth = depth[:, :, 0]
    chain = blurred_by(chain, defocus_px(camera, _spread(depth, focus), focus))
    return chain[:, :, :3] + backdrop * (1 - chain[:, :, 3:4]), focus


def through_lens_exactly(picture: np.ndarray, window: Window, directions: np.ndarray, order: int = 3) -> np.ndarray:
    """As through_lens, by splines; nothing outside the window. OpenCV's remap rounds positions to 1/32 px and was seen to
    move outlines by 0.03 px (one standard deviation), which is too much for a picture that outlines are measured in."""
    out = np.zeros((*directions.shape[:2], picture.shape[2]), np.float32)
    map_x = directions[:, :, 0] * window.focal_px + window.axis[0]
    map_y = directions[:, :, 1] * window.focal_px + window.axis[1]
    hit = (map_x > -1) & (map_x < window.width) & (map_y > -1) & (map_y < window.height)
    if not hit.any():
        return out
    rows, columns = np.flatnonzero(hit.any(1)), np.flatnonzero(hit.any(0))
    box = np.s_[rows[0]:rows[-1] + 1, columns[0]:columns[-1] + 1]
    for channel in range(picture.shape[2]):
        out[box + (channel,)] = map_coordinates(picture[:, :, channel], [map_y[box], map_x[box]], order=order, mode="constant")
    return out


def slot_box(scene: Scene, pov: PovScene, window: Window) -> tuple[int, int, int, int]:
    """The part of the pinhole picture in which the chain may show through the slot or beside the card."""
    w, h = scene.board_mm()
    reach = scene.slot.width_mm / 2 + 1.0 if scene.slot else 8.0
    middle = h / 2 + (scene.slot.offset_mm if scene.slot else 0.0)
    ends = np.array([[x, y, z] for x in (-0.5 * w, 1.5 * w) for y in (middle - reach, middle + reach) for z in (0.0, 8.0)])
    chain = scene.board_from_chain()
    along = chain[0] @ np.array([[x, y, z] for x in (scene.chain_x - w, scene.chain_x + w) for y in (-4.0, 4.0) for z in (-9.0, 6.0)]).T
    return _box_of(np.concatenate([ends, along.T + chain[1]]), pov, window)


def _box_of(board: np.ndarray, pov: PovScene, window: Window) -> tuple[int, int, int, int]:
    seen = pov.pose.to_camera(board)
    seen = seen[seen[:, 2] > 5]
    px = seen[:, :2] / seen[:, 2:] * window.focal_px + window.axis
    pad = 30
    x0, y0 = np.maximum(np.floor(px.min(0)).astype(int) - pad, 0)
    x1, y1 = np.minimum(np.ceil(px.max(0)).astype(int) + pad, [window.width, window.height])
    return int(x0), int(y0), int(x1), int(y1)


def chain_box(scene: Scene, pov: PovScene, window: Window, plan: bool) -> tuple[int, int, int, int]:
    """The part of the pinhole picture in which steel (plan: steel over the card) can be seen."""
    if scene.surface.dirt >= 2:
        return 0, 0, window.width, window.height  # sawdust lies everywhere
    rotation, origin = scene.board_from_chain()
    points = []
    for part in scene.run.parts:
        v = scene.run.meshes[part.mesh_name].vertices[::7] * [1.0, 1.0 if part.left else -1.0, 1.0] + [part.x, 0, 0]
        points.append(v @ rotation.T + origin)
    board = np.concatenate(points)
    if plan:
        board = board[board[:, 2] < 0.2]
    if scene.mounting == "bar":
        ends = np.array([[x, y, z] for x in (-150.0, 150.0) for y in (-4.0, 4.0) for z in (-5.0, -60.0)])
        board = np.concatenate([board, ends @ rotation.T + origin])
    return _box_of(board, pov, window)


# --- focus ------------------------------------------------------------------------------------------------------------
def focus_distance(scene: Scene, pov: PovScene) -> float:
    """Autofocus finds the cutters' corners (their mean distance), off by the picture's focus error."""
    rotation, origin = scene.board_from_chain()
    corners = np.array([rotation @ c.to_chain(c.cutter.tooth.corner) + origin for c in scene.run.cutters])
    if not len(corners):
        corners = np.array([[*np.array(scene.board_mm()) / 2, 0.0]])
    seen = pov.pose.to_camera(corners)
    near = np.hypot(seen[:, 0], seen[:, 1]) < 0.35 * seen[:, 2]
    return float((seen[near] if near.any() else seen)[:, 2].mean() - scene.picture.focus_error_mm)


def defocus_px(camera: Camera, distance: np.ndarray | float, focus: float) -> np.ndarray | float:
    """Standard deviation of the thin lens's blur disc (a quarter of its diameter), px of this camera's picture."""
    aperture = camera.focal_mm / camera.f_number
    return camera.focal_px * aperture * np.abs(1 / np.asarray(distance) - 1 / focus) / 4


def _sheet_distance(pov: PovScene, directions: np.ndarray) -> np.ndarray:
    r, eye = pov.pose.rotation, pov.pose.eye()
    down = directions[:, :, 0] * np.float32(r[0, 2]) + directions[:, :, 1] * np.float32(r[1, 2]) + np.float32(r[2, 2])
    return (-np.float32(eye[2]) / np.maximum(down, 1e-3)).astype(np.float32)


def _spread(depth: np.ndarray, focus: float) -> np.ndarray:
    """Depths carried a little way over their own outline, so that a blurred rim takes its own blur along."""
    grown = depth.copy()
    for _ in range(6):
        wider = cv2.dilate(grown, np.ones((7, 7), np.uint8))
        grown = np.where(grown > 0, grown, wider)
    return np.where(grown > 0, grown, focus)


def blurred_by(picture: np.ndarray, sigma: np.ndarray) -> np.ndarray:
    """Every pixel blurred by its own standard deviation: linear between Gaussians of doubling variance."""
    top = float(np.max(sigma))
    if top < 0.12:
        return picture
    levels = [0.0, 0.35]
    while levels[-1] < top:
        levels.append(levels[-1] * 1.35)
    out = np.zeros_like(picture)
    below = picture
    for low, high in zip(levels, levels[1:]):
        above = cv2.GaussianBlur(picture, (0, 0), high)
        share = np.clip((sigma**2 - low**2) / (high**2 - low**2), 0, 1).astype(np.float32)
        chosen = (sigma >= low) & ((sigma < high) | (high == levels[-1]))
        mixed = below + (above - below) * share[:, :, None]
        out[chosen] = mixed[chosen]
        below = above
    return out


# --- sensor and phone -------------------------------------------------------------------------------------------------
def develop(scene: Scene, camera: Camera, linear: np.ndarray, scale: float) -> tuple[bytes, float]:
    """Lens blur, vignetting, exposure, noise, tone curve, sharpening, 8 bits, JPEG with EXIF."""
    p = scene.picture
    rng = np.random.default_rng(scene.seed + 99)
    linear = cv2.GaussianBlur(linear, (0, 0), max(p.blur_px * scale, 0.3))
    ys, xs = np.mgrid[0:camera.height, 0:camera.width].astype(np.float32)
    radius2 = ((xs - camera.centre[0]) ** 2 + (ys - camera.centre[1]) ** 2) / ((camera.width**2 + camera.height**2) / 4)
    linear *= (1 - p.vignetting * radius2)[:, :, None]
    paper = np.percentile(linear[::8, ::8].mean(2), 96)
    linear *= (p.exposure / max(paper, 1e-3)) * np.array(p.white_balance, np.float32)
    shot = 0.0085 * p.noise_8bit
    noise = rng.standard_normal(linear.shape, dtype=np.float32)
    noise = 0.75 * noise + 0.9 * cv2.GaussianBlur(noise, (0, 0), 0.9)
    linear += noise * shot * np.sqrt(np.clip(linear, 0, None) * 0.9 + 0.01)
    grey = tone(np.clip(linear, 0, 1), p.contrast)
    if p.sharpen > 0:
        soft = cv2.GaussianBlur(grey, (0, 0), max(p.sharpen_sigma_px * scale, 0.4))
        grey = grey + p.sharpen * (grey - soft)
    eight = np.clip(np.round(grey * 255), 0, 255).astype(np.uint8)
    return encode(scene, camera, eight), grain(eight)


def tone(linear: np.ndarray, contrast: float) -> np.ndarray:
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.power(np.maximum(linear, 1e-6), 1 / 2.4) - 0.055)
    if contrast:
        curve = curve + contrast * (curve * curve * (3 - 2 * curve) - curve)
    return curve.astype(np.float32)


def grain(eight: np.ndarray) -> float:
    """Standard deviation of the finest detail in the quieter quarter of 32-pixel tiles, 8-bit levels."""
    g = eight[:, :, 1].astype(np.float32)
    fine = g - cv2.GaussianBlur(g, (0, 0), 2.0)
    h, w = (fine.shape[0] // 32) * 32, (fine.shape[1] // 32) * 32
    tiles = fine[:h, :w].reshape(h // 32, 32, w // 32, 32).std(axis=(1, 3))
    return float(np.percentile(tiles, 25))


def encode(scene: Scene, camera: Camera, eight: np.ndarray) -> bytes:
    diagonal = np.hypot(camera.width, camera.height)
    equivalent = int(round(camera.focal_px * 43.2666 / diagonal))
    zeroth = {piexif.ImageIFD.Orientation: scene.orientation}
    if camera.name:
        zeroth[piexif.ImageIFD.Make] = b"Fictitious"
        zeroth[piexif.ImageIFD.Model] = camera.name.encode()
    exif = {
        piexif.ExifIFD.FocalLength: (int(round(camera.focal_mm * 100)), 100),
        piexif.ExifIFD.FocalLengthIn35mmFilm: equivalent,
        piexif.ExifIFD.FNumber: (int(round(camera.f_number * 10)), 10),
        piexif.ExifIFD.ExposureTime: (1, 120), piexif.ExifIFD.ISOSpeedRatings: 125,
        piexif.ExifIFD.DateTimeOriginal: b"2026:09:14 16:%02d:%02d" % (scene.seed % 60, (scene.seed // 60) % 60),
        piexif.ExifIFD.ColorSpace: 1, piexif.ExifIFD.PixelXDimension: camera.width, piexif.ExifIFD.PixelYDimension: camera.height,
    }
    out = io.BytesIO()
    Image.fromarray(eight).save(out, "JPEG", quality=scene.picture.jpeg_quality, subsampling=2,
                                exif=piexif.dump({"0th": zeroth, "Exif": exif}))
    return out.getvalue()
