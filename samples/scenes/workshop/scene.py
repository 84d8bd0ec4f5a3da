"""The description of one photograph: chain, cutters, placing, card, light, surface, camera, picture.

Board frame (world): origin at the card's top-left corner, X right, Y down, Z into the card, so 'up' is -Z.
"""
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .assembly import ChainRun, build_run
from .camera import TURN, Camera, Pose, pose_towards
from .card import COLUMNS, ROWS, SQUARE_MM, Slot, Tag
from .chain import ChainShape, CutterState


@dataclass(frozen=True)
class Light:
    """kind: 'window' | 'lamp' | 'two lamps' | 'ring' | 'overcast'. azimuth: in the card's plane from X towards Y;
    elevation over it. strength and warmth are relative."""

    name: str
    kind: str
    azimuth_deg: float = 0.0
    elevation_deg: float = 50.0
    warmth: float = 0.0
    fill: float = 0.25


@dataclass(frozen=True)
class Surface:
    """finish: 'stamped' | 'mirror' | 'scratched'; rust, oil: 0 to 1; dirt: 0 clean to 3 very dirty."""

    finish: str = "stamped"
    rust: float = 0.0
    oil: float = 0.0
    dirt: int = 0
    engraved: bool = False
    seed: int = 0


@dataclass(frozen=True)
class Picture:
    """What lens and phone do to the picture. Blurs are standard deviations in px of the full-size picture."""

    blur_px: float = 0.85
    sharpen: float = 0.5
    sharpen_sigma_px: float = 1.2
    noise_8bit: float = 1.3  # standard deviation at half grey
    vignetting: float = 0.15
    jpeg_quality: int = 88
    focus_error_mm: float = 0.0  # focused so far above (towards the camera of) the cutters
    exposure: float = 0.74  # linear level of lit paper
    contrast: float = 0.0  # strength of the phone's tone curve
    white_balance: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass
class Scene:
    """All of one photograph. Placing: `anchor_mm` is the board point over which the chain point (chain_x, chain_z) lies;
    turn_deg: running direction in the card's plane from X towards Y (profile: 0 with tops up runs right)."""

    name: str
    view: str  # 'profile' | 'plan'
    card: str
    chain: ChainShape
    states: list[CutterState | None]
    camera: Camera  # of the stored picture
    pose: Pose  # of the upright picture
    orientation: int = 1
    mounting: str = "bench"  # profile: 'bench' | 'bar'; plan: 'block'
    side_up: str = "right"  # profile: hand whose outer faces look at the camera
    turn_deg: float = 0.0
    anchor_mm: tuple[float, float] = (0.0, 0.0)
    chain_x: float = 0.0
    chain_z: float = 5.0
    stand_off_mm: float = 0.0  # bar: gap between card and chain; plan: highest top plate over the card plane
    slot: Slot | None = None
    slip: bool = False
    field_colour: str = "blue"
    tags: tuple[Tag, ...] = ()
    stretch: tuple[float, float] = (1.0, 1.0)
    curl_mm: float = 0.0
    bench: str = "wood"
    light: Light = field(default_factory=lambda: Light("window", "window", 60, 52))
    surface: Surface = field(default_factory=Surface)
    picture: Picture = field(default_factory=Picture)
    must_refuse: str | None = None
    seed: int = 0
    run: ChainRun | None = None

    def __post_init__(self) -> None:
        if self.run is None:
            self.run = build_run(self.chain, self.states, 3 if self.card == "wide" else 2)

    def board_mm(self) -> tuple[float, float]:
        q = SQUARE_MM[self.card]
        return COLUMNS * q * self.stretch[0], ROWS * q * self.stretch[1]

    def board_from_chain(self) -> tuple[np.ndarray, np.ndarray]:
        """Rotation and translation taking chain-frame points to the board frame."""
        turn = np.radians(self.turn_deg)
        along = np.array([np.cos(turn), np.sin(turn), 0.0])
        if self.view == "plan":
            up = np.array([0.0, 0.0, -1.0])
            rotation = np.stack([along, np.cross(up, along), up], 1)
            height = -self.stand_off_mm + self.highest_top()
            at = np.array([*self.anchor_mm, height])
            return rotation, at - rotation @ np.array([self.chain_x, 0.0, 0.0])
        left, right = self.run.half_width()
        side = np.array([0, 0, 1.0]) if self.side_up == "right" else np.array([0, 0, -1.0])
        under = left if self.side_up == "right" else right
        rotation = np.stack([along, side, np.cross(along, side)], 1)
        at = np.array([*self.anchor_mm, -(under + self.stand_off_mm)])
        return rotation, at - rotation @ np.array([self.chain_x, 0.0, self.chain_z])

    def highest_top(self) -> float:
        return max(float(c.cutter.tooth.mesh.vertices[:, 2].max()) for c in self.run.cutters)

    def stored_pose(self) -> Pose:
        return self.pose.turned(np.linalg.inv(TURN[self.orientation]))

    def curl_z(self, x: np.ndarray) -> np.ndarray:
        """Height of the bowed sheet as board Z (negative: lifted)."""
        half = self.board_mm()[0] / 2
        return -self.curl_mm * ((np.asarray(x) - half) / half) ** 2


def aimed_pose(camera: Camera, card: str, target: tuple[float, float, float], fill: float, tilt_deg: float,
               tilt_azimuth_deg: float, roll_deg: float, upright_width: int | None = None) -> Pose:
    """A pose that sees the card (with its quiet margin) over the share `fill` of the upright picture's width."""
    q = SQUARE_MM[card]
    span = (COLUMNS + 2) * q
    distance = camera.focal_px * span / (fill * (upright_width or camera.width))
    return pose_towards(np.array(target), distance, tilt_deg, tilt_azimuth_deg, roll_deg)
