"""The reference card as a picture: linear reflectance and coverage, drawn from OpenCV's dictionary.

Board frame: origin at the board's top-left corner, X right, Y down, mm of the true (stretched) print.
"""
from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

COLUMNS, ROWS = 21, 15
FIELD_COLUMNS, FIELD_ROWS = range(4, 17), range(3, 12)
PAPER, INK = 0.80, 0.042
FIELD_SRGB = {"blue": (20, 70, 190), "green": (10, 125, 60), "magenta": (185, 25, 115), "orange": (235, 110, 15)}
SQUARE_MM = {"wide": 5.0, "close": 2.0}
FIRST_ID = {"wide": 0, "close": 157}
TEXTURE_PX_PER_MM = {"wide": 56, "close": 140}


@dataclass(frozen=True)
class Slot:
    """Cut-out of a plan card along its middle. length None: it runs through, the card lies in two halves."""

    width_mm: float
    length_mm: float | None = None
    offset_mm: float = 0.0  # of its middle line from the card's, along Y


@dataclass(frozen=True)
class Tag:
    """A loose number tag lying on the field: 'cutter number'."""

    number: int
    x_mm: float
    y_mm: float
    turn_deg: float


def linear_from_srgb(value: np.ndarray | tuple[int, ...]) -> np.ndarray:
    v = np.asarray(value, float) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


@dataclass
class CardTexture:
    """`pixels` (rows, columns, 4): linear red, green, blue reflectance and coverage, 16 bit full scale.

    Texture pixel (i, j) has its centre at board ((i + 0.5) / px_per_mm - margin, ...) of the *nominal* print.
    """

    pixels: np.ndarray
    px_per_mm: float
    margin_mm: float
    stretch: tuple[float, float]

    def texture_xy(self, board_x: np.ndarray, board_y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return (((board_x / self.stretch[0] + self.margin_mm) * self.px_per_mm - 0.5).astype(np.float32),
                ((board_y / self.stretch[1] + self.margin_mm) * self.px_per_mm - 0.5).astype(np.float32))

    def paper_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the sheet in the board frame, true mm."""
        rows, columns = self.pixels.shape[:2]
        return (-self.margin_mm * self.stretch[0], -self.margin_mm * self.stretch[1],
                (columns / self.px_per_mm - self.margin_mm) * self.stretch[0],
                (rows / self.px_per_mm - self.margin_mm) * self.stretch[1])


def draw_card(kind: str, field: str = "blue", slot: Slot | None = None, tags: tuple[Tag, ...] = (),
              stretch: tuple[float, float] = (1.0, 1.0), paper_margin_squares: float = 1.3) -> CardTexture:
    """The whole sheet with quiet margin; slot cut out, tags laid on, paper's and ink's own unevenness added."""
    q, ppm = SQUARE_MM[kind], TEXTURE_PX_PER_MM[kind]
    margin = paper_margin_squares * q
    cell = int(round(q * ppm))
    pad = int(round(margin * ppm))
    height, width = ROWS * cell + 2 * pad, COLUMNS * cell + 2 * pad
    grey = np.full((height, width), PAPER, np.float32)
    dictionary = cv2.aruco.Dictionary_get(cv2.aruco.DICT_APRILTAG_36h11)
    marker_id = FIRST_ID[kind]
    side = int(round(0.75 * cell))
    for row in range(ROWS):
        for column in range(COLUMNS):
            black = (row + column) % 2 == 0
            in_field = row in FIELD_ROWS and column in FIELD_COLUMNS
            y, x = pad + row * cell, pad + column * cell
            if black and not in_field:
                grey[y:y + cell, x:x + cell] = INK
            if not black:
                if not in_field:
                    lead = (cell - side) // 2
                    grey[y + lead:y + lead + side, x + lead:x + lead + side] = _marker(dictionary, marker_id, side)
                marker_id += 1
    pixels = np.repeat(grey[:, :, None], 3, 2)
    y0, y1 = pad + FIELD_ROWS.start * cell, pad + FIELD_ROWS.stop * cell
    x0, x1 = pad + FIELD_COLUMNS.start * cell, pad + FIELD_COLUMNS.stop * cell
    pixels[y0:y1, x0:x1] = linear_from_srgb(FIELD_SRGB[field])
    for tag in tags:
        _lay_tag(pixels, dictionary, tag, kind, pad, ppm)
    pixels *= _unevenness(height, width)[:, :, None]
    cover = np.ones((height, width), np.float32)
    if slot:
        _cut(cover, slot, pad, cell, ppm)
    out = np.dstack([pixels, cover])
    return CardTexture((np.clip(out, 0, 1) * 65535).astype(np.uint16), ppm, pad / ppm, stretch)


def _marker(dictionary, marker_id: int, side: int) -> np.ndarray:
    bits = cv2.aruco.drawMarker(dictionary, marker_id, 8 * 8, borderBits=1)
    return np.where(cv2.resize(bits, (side, side), interpolation=cv2.INTER_NEAREST) > 127, PAPER, INK).astype(np.float32)


def _lay_tag(pixels: np.ndarray, dictionary, tag: Tag, kind: str, pad: int, ppm: float) -> None:
    outer, inner = (8.0, 6.0) if kind == "wide" else (4.0, 3.0)
    size, side = int(outer * ppm), int(inner * ppm)
    picture = np.full((size, size), PAPER, np.float32)
    lead = (size - side) // 2
    picture[lead:lead + side, lead:lead + side] = _marker(dictionary, 400 + tag.number, side)
    angle = np.radians(tag.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    centre = np.array([tag.x_mm, tag.y_mm]) * ppm + pad
    affine = np.c_[turn, centre - turn @ [size / 2, size / 2]].astype(np.float32)
    shape = (pixels.shape[1], pixels.shape[0])
    laid = cv2.warpAffine(picture, affine, shape, flags=cv2.INTER_LINEAR)
    cover = cv2.warpAffine(np.ones_like(picture), affine, shape, flags=cv2.INTER_LINEAR)
    pixels[:] = pixels * (1 - cover[:, :, None]) + laid[:, :, None]


def _unevenness(height: int, width: int) -> np.ndarray:
    rng = np.random.default_rng(5)
    total = np.ones((height, width), np.float32)
    for cells, share in ((12, 0.02), (80, 0.015), (500, 0.012)):
        coarse = rng.normal(0, share, (cells * height // width + 2, cells)).astype(np.float32)
        total += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    return total


def _cut(cover: np.ndarray, slot: Slot, pad: int, cell: int, ppm: float) -> None:
    middle_y = pad + ROWS * cell / 2 + slot.offset_mm * ppm
    half = slot.width_mm * ppm / 2
    rows = slice(int(round(middle_y - half)), int(round(middle_y + half)))
    if slot.length_mm is None:
        cover[rows] = 0
        return
    middle_x, reach = pad + COLUMNS * cell / 2, slot.length_mm * ppm / 2
    cover[rows, int(round(middle_x - reach)):int(round(middle_x + reach))] = 0
