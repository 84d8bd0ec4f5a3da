"""Cameras and poses. Pixel convention: whole numbers are pixel centres, the top-left centre is (0, 0)."""
from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

TURN = {  # x, y axes of the upright picture in those of the stored one, by EXIF orientation
    1: np.array([[1.0, 0], [0, 1]]), 3: np.array([[-1.0, 0], [0, -1]]),
    6: np.array([[0.0, -1], [1, 0]]), 8: np.array([[0.0, 1], [-1, 0]]),
}


@dataclass(frozen=True)
class Camera:
    """Pinhole with OpenCV's radial distortion (k1, k2, 0, 0, k3), for a picture of width x height px."""

    name: str
    kind: str
    width: int
    height: int
    focal_px: float
    centre: tuple[float, float]
    k: tuple[float, float, float]
    focal_mm: float
    sensor_width_mm: float
    f_number: float

    def matrix(self) -> np.ndarray:
        return np.array([[self.focal_px, 0, self.centre[0]], [0, self.focal_px, self.centre[1]], [0, 0, 1.0]])

    def distortion(self) -> np.ndarray:
        return np.array([self.k[0], self.k[1], 0, 0, self.k[2]])

    def pixels(self, in_camera: np.ndarray) -> np.ndarray:
        p = np.atleast_2d(in_camera)
        x, y = p[:, 0] / p[:, 2], p[:, 1] / p[:, 2]
        r2 = x * x + y * y
        factor = 1 + r2 * (self.k[0] + r2 * (self.k[1] + r2 * self.k[2]))
        return np.c_[x, y] * factor[:, None] * self.focal_px + self.centre

    def directions(self, px: np.ndarray) -> np.ndarray:
        """(x/z, y/z) of pixels; Newton on the radius, exact to 1e-12."""
        d = (np.atleast_2d(px) - self.centre) / self.focal_px
        target = np.linalg.norm(d, axis=1)
        r = target.copy()
        for _ in range(12):
            r2 = r * r
            value = r * (1 + r2 * (self.k[0] + r2 * (self.k[1] + r2 * self.k[2]))) - target
            slope = 1 + r2 * (3 * self.k[0] + r2 * (5 * self.k[1] + 7 * r2 * self.k[2]))
            r = r - value / slope
        return d * np.where(target > 1e-15, r / np.maximum(target, 1e-15), 1.0)[:, None]

    def resized(self, scale: float) -> "Camera":
        """The same camera with pictures of `scale` times the size."""
        return Camera(self.name, self.kind, round(self.width * scale), round(self.height * scale), self.focal_px * scale,
                      ((self.centre[0] + 0.5) * scale - 0.5, (self.centre[1] + 0.5) * scale - 0.5), self.k,
                      self.focal_mm, self.sensor_width_mm, self.f_number)

    def turned(self, orientation: int) -> "Camera":
        """The camera of the upright picture whose stored picture is this one's."""
        turn = TURN[orientation]
        middle = np.array([(self.width - 1) / 2, (self.height - 1) / 2])
        size = np.abs(turn @ [self.width, self.height]).astype(int)
        centre = turn @ (np.array(self.centre) - middle) + (size - 1) / 2
        return Camera(self.name, self.kind, int(size[0]), int(size[1]), self.focal_px, (float(centre[0]), float(centre[1])),
                      self.k, self.focal_mm, self.sensor_width_mm, self.f_number)


@dataclass(frozen=True)
class Pose:
    """p_camera = rotation p_board + translation (mm)."""

    rotation: np.ndarray
    translation: np.ndarray

    def to_camera(self, in_board: np.ndarray) -> np.ndarray:
        return np.atleast_2d(in_board) @ self.rotation.T + self.translation

    def eye(self) -> np.ndarray:
        return -self.rotation.T @ self.translation

    def rvec(self) -> np.ndarray:
        return cv2.Rodrigues(self.rotation)[0].ravel()

    def tilt_deg(self) -> float:
        return float(np.degrees(np.arccos(np.clip(self.rotation[2, 2], -1, 1))))

    def turned(self, turn: np.ndarray) -> "Pose":
        whole = np.eye(3)
        whole[:2, :2] = turn
        return Pose(whole @ self.rotation, whole @ self.translation)


def pose_towards(target_board: np.ndarray, distance_mm: float, tilt_deg: float, tilt_azimuth_deg: float,
                 roll_deg: float) -> Pose:
    """A camera that looks at a point of the board frame from `distance_mm`, leaning by `tilt_deg` off the card's normal.

    tilt_azimuth_deg: where the camera stands as seen from the target, in the card's plane, from X towards Y.
    """
    tilt, azimuth, roll = np.radians([tilt_deg, tilt_azimuth_deg, roll_deg])
    axis = np.array([-np.sin(azimuth), np.cos(azimuth), 0.0])
    lean = cv2.Rodrigues(axis * tilt)[0]  # takes -Z (straight up) towards the azimuth
    back = lean @ np.array([0, 0, -1.0])
    if back[:2] @ [np.cos(azimuth), np.sin(azimuth)] < 0:
        lean = lean.T
        back = lean @ np.array([0, 0, -1.0])
    spin = cv2.Rodrigues(np.array([0, 0, 1.0]) * roll)[0]
    rotation = (lean @ spin).T
    return Pose(rotation, -rotation @ (np.asarray(target_board, float) + back * distance_mm))


def phone(name: str, rng: np.random.Generator, close: bool) -> Camera:
    """A camera like those in phones (wide card) or a tele-macro or small macro camera (close card), its own by `rng`."""
    sensor = float(rng.uniform(5.4, 7.2)) if not close else float(rng.uniform(4.6, 6.4))
    focal_px = float(rng.uniform(2750, 3500)) if not close else float(rng.uniform(5200, 8500))
    k1 = float(rng.uniform(-0.06, 0.06))
    return Camera(name, "phone, tele-macro" if close else "phone", 4000, 3000, focal_px,
                  (1999.5 + float(rng.normal(0, 10)), 1499.5 + float(rng.normal(0, 10))),
                  (k1, float(-0.8 * k1 + rng.uniform(-0.02, 0.02)), 0.0), focal_px * sensor / 4000, sensor,
                  float(rng.uniform(1.9, 2.9)) if not close else float(rng.uniform(5.5, 8.0)))
