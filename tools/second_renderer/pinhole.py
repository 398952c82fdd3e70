"""Where points of the scene lie in the photo, and which part of it holds the joints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .joint import Joint
from .meshes import Array

LEAST_WINDOW_PX = 30
Window = tuple[int, int, int, int]  # left, top, right, bottom in pixels


@dataclass(frozen=True, slots=True)
class Pinhole:
    """A camera without distortion.

    pose (4, 4): camera to scene; it looks along its -z, its y is up in the picture. focal_px.
    shift (2,): how far the picture's middle lies right of and above the line of sight, in widths.
    size: width and height in pixels.
    """

    pose: Array
    focal_px: float
    shift: tuple[float, float]
    size: tuple[int, int]

    def project(self, points: ArrayLike) -> Array:
        """Rows (n, 3) of x to the right and y down in pixels, and depth in D, of points (n, 3).

        Pixel (0, 0) is the middle of the first pixel.
        """
        away = np.asarray(points, float) - self.pose[:3, 3]
        right, up, back = (away @ self.pose[:3, :3]).T
        wide, high = self.size
        x = wide / 2 + self.focal_px * right / -back - self.shift[0] * wide - 0.5
        y = high / 2 - self.focal_px * up / -back + self.shift[1] * wide - 0.5
        return np.stack([x, y, -back], 1)


def joint_window(joints: Sequence[Joint], pinhole: Pinhole) -> Window | None:
    """The part of the photo round all joints, or None when next to nothing is in view."""
    points = []
    for joint in joints:
        wide = 0.75 + max(joint.strays_mm, default=0.0) / joint.overall_mm
        if joint.check == "spike":
            wide += joint.defect_size / joint.overall_mm
        points += [
            (x, joint.y + y, 0.3)
            for x in (-joint.gap - 0.7, joint.cup.depth + 0.1)
            for y in (-wide, wide)
        ]
    places = pinhole.project(points)[:, :2]
    low = np.maximum(np.floor(places.min(0)), 0).astype(int)
    high = np.minimum(np.ceil(places.max(0)), pinhole.size).astype(int)
    if (high - low).min() < LEAST_WINDOW_PX:
        return None
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])
