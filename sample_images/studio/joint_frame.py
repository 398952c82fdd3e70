"""A joint in the picture: its frame, and which of its points the camera sees."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .buffers import Buffers
from .joint import JointModel
from .view import Camera

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


def line_slack_mm(d_mm: float) -> float:
    """How far a contact line may lie behind what covers it: rounded rims, waves of the solder."""
    return 0.12 + 0.03 * d_mm


def seen(camera: Camera, buffers: Buffers, points: Array, slack_mm: float) -> Mask:
    """Which points (n, 3) are in the frame and not behind something else by over `slack_mm`."""
    xy, _ = camera.project(points)
    inside = ((xy >= 0) & (xy <= [camera.width - 1, camera.height - 1])).all(axis=1)
    return inside & buffers.sight(points, slack_mm)


def frame(model: JointModel, camera: Camera) -> tuple[Array, Array, float]:
    """Origin (pixels), unit axis and D (pixels) of the joint frame in the picture."""
    end, depth = camera.project(model.end)
    ahead, _ = camera.project(model.end + model.axis)
    axis = ahead - end
    axis = axis / (np.linalg.norm(axis) + 1e-9)
    return end, axis, float(model.spec.d_mm * camera.focal_px / depth)


def in_frame(model: JointModel, camera: Camera, points: Array) -> Array:
    """Points (n, 3) to (s, t) of the joint frame, in D."""
    end, axis, d_px = frame(model, camera)
    xy, _ = camera.project(points)
    off = xy - end
    return np.stack([off @ axis, off @ np.array([-axis[1], axis[0]])], -1) / d_px
