"""A pinhole camera: where it stands, and where points land in the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """position and basis in mm; focal_px is the focal length in pixels."""

    position: Array
    forward: Array
    right: Array
    up: Array
    focal_px: float
    width: int
    height: int

    def project(self, points: Array) -> tuple[Array, Array]:
        """Points (..., 3) to pixels (..., 2), x right, y down, and depth along the axis (mm)."""
        p = np.asarray(points, float) - self.position
        depth = p @ self.forward
        safe = np.where(np.abs(depth) < 1e-6, 1e-6, depth)
        x = self.width / 2 - 0.5 + self.focal_px * (p @ self.right) / safe
        y = self.height / 2 - 0.5 - self.focal_px * (p @ self.up) / safe
        return np.stack([x, y], axis=-1), depth

    def rays(self, x: Array, y: Array) -> Array:
        """Unit directions (n, 3) through pixel centres."""
        a = (x - self.width / 2 + 0.5) / self.focal_px
        b = -(y - self.height / 2 + 0.5) / self.focal_px
        d = self.forward + a[..., None] * self.right + b[..., None] * self.up
        return d / np.linalg.norm(d, axis=-1, keepdims=True)


def looking(
    position: Array, target: Array, roll: float, focal_px: float, width: int, height: int
) -> Camera:
    """A camera at `position` that sees `target` in the middle; roll in radians."""
    forward = (target - position) / np.linalg.norm(target - position)
    helper = np.array([0.0, 1.0, 0.0]) if abs(forward[1]) < 0.95 else np.array([1.0, 0.0, 0.0])
    right = np.cross(forward, helper)
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    c, s = np.cos(roll), np.sin(roll)
    return Camera(
        position, forward, c * right + s * up, c * up - s * right, focal_px, width, height
    )
