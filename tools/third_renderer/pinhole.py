"""Where points of the scene lie in the photo, and which part of it holds the joints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .fields import Array
from .pole import Pole

SENSOR_MM = 36.0  # Blender's own; only the ratio to the focal length counts
STICKING_OUT = frozenset({"spike", "stray-strand"})


@dataclass(frozen=True, slots=True)
class Pinhole:
    """A camera without distortion, whose line of sight meets the picture's middle.

    pose (4, 4): camera to scene, mm; it looks along its -z, its y is up in the picture. lens_mm:
    focal length on a sensor 36 mm wide along the picture's longer side. size: width and height in
    pixels.
    """

    pose: Array
    lens_mm: float
    size: tuple[int, int]

    @property
    def place(self) -> Array:
        """Where the camera stands, (3,)."""
        return np.asarray(self.pose[:3, 3])

    def project(self, points: ArrayLike) -> Array:
        """Rows (n, 2) of x to the right and y down in pixels, of points (n, 3), or (2,) of (3,).

        (0, 0) is the picture's corner, so that the first pixel's middle is (0.5, 0.5).
        """
        right, up, back = np.moveaxis((np.asarray(points) - self.place) @ self.pose[:3, :3], -1, 0)
        focal_px = self.lens_mm / SENSOR_MM * max(self.size)
        wide, high = self.size
        x = wide / 2 + focal_px * right / -back
        y = high / 2 - focal_px * up / -back
        return np.stack([x, y], -1)


def joint_window(poles: Sequence[Pole], pinhole: Pinhole) -> tuple[Array, Array] | None:
    """Corners (2,) of the part of the photo round all joints, or None where there is none."""
    points = []
    for pole in poles:
        spare = 2.5 if pole.fault in STICKING_OUT else 0.3
        wide = 1.15 * max(pole.overall / 2, pole.bore + pole.wall) + spare
        points += [
            (x, pole.y + side * wide, 0.3)
            for x in (-pole.gap - 0.9 * pole.overall, pole.length + 1.0)
            for side in (-1, 1)
        ]
    if not points:
        return None
    places = pinhole.project(points)
    low = places.min(0).clip(0, pinhole.size)
    high = places.max(0).clip(0, pinhole.size)
    return (low, high) if (high > low).all() else None
