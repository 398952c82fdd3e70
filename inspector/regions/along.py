"""A joint seen once more for the second opinion: along its axis, mirrored, in a window of its own.

What is wrong with a joint does not hang on how it lies in the picture; what the network says does,
a little. Two answers to pictures that differ in turn, side and surroundings err less together.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.model import Along, Joint, Photo, Points
from inspector.regions import network
from inspector.regions.capsule import CELL_PX
from inspector.regions.network import CLOSE_D_PX, CLOSE_SIDE_PX, LARGEST_GAIN, side_of

# What the window shows, in D: the joint's cells and a little around them; ours, no source. 0.4 D
# more on every side, for two thirds more pixels, told no more (87 bad, 128 sound joints).
BEHIND_D, BEYOND_D, ASIDE_D = 0.9, 1.6, 1.1
_SHRINK_FROM = 1.25  # photo pixels for one of the window's: from here on average before turning


def along(photo: Photo, joint: Joint) -> Along:
    """The opinions on a joint from a window along it, by a network that has a second opinion."""
    d_px = joint.d_px * joint.patch.step
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    length_px = (BEHIND_D + lip + BEYOND_D) * d_px
    step = max(d_px / CLOSE_D_PX, 1 / LARGEST_GAIN, length_px / CLOSE_SIDE_PX)
    width = side_of(length_px / step, CLOSE_SIDE_PX)
    height = side_of(2 * ASIDE_D * d_px / step, CLOSE_SIDE_PX)
    grid = network.opinions(_turned(photo, _matrix(joint, step, height), width, height))
    places = _places(grid.shape[1:], d_px / step, height)
    for array in (grid, places):
        array.setflags(write=False)
    return Along(grid, places)


def _matrix(joint: Joint, step: float, height: int) -> NDArray[np.float64]:
    """Positions in the window to those in the photo, (2, 3); t runs upward: mirrored."""
    ax, ay = joint.axis
    axis, aside = np.array([ax, ay]), np.array([-ay, ax])
    start = joint.patch.to_photo(np.array([joint.end]))[0]
    corner = start - BEHIND_D * joint.d_px * joint.patch.step * axis
    corner = corner + step * aside * (height - 1) / 2
    return np.stack([step * axis, -step * aside, corner], axis=1)


def _places(shape: tuple[int, int], px_per_d: float, height: int) -> Points:
    """(s, t) in D of the middle of each cell of the grid, (h, w, 2)."""
    ys, xs = np.indices(shape) * CELL_PX + (CELL_PX - 1) / 2
    return np.stack([xs / px_per_d - BEHIND_D, ((height - 1) / 2 - ys) / px_per_d], axis=-1)


def _turned(photo: Photo, matrix: NDArray[np.float64], width: int, height: int) -> network.Pixels:
    """The window's picture; beyond the photo its edge is repeated."""
    corners = np.array([[0, 0, 1], [width, 0, 1], [0, height, 1], [width, height, 1]], float)
    reached = corners @ matrix.T
    high, wide = photo.rgb.shape[:2]
    shrink = math.hypot(*matrix[:, 0])
    margin = 2 + 2 * shrink
    x0, y0 = np.clip(reached.min(axis=0) - margin, 0, (wide - 2, high - 2)).astype(int)
    x1, y1 = np.clip(reached.max(axis=0) + margin, (x0 + 2, y0 + 2), (wide, high)).astype(int)
    part = photo.rgb[y0:y1, x0:x1]
    size = (x1 - x0, y1 - y0)
    if shrink >= _SHRINK_FROM:
        size = (max(2, round(size[0] / shrink)), max(2, round(size[1] / shrink)))
        part = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)
    # positions in the part, whose pixels may be larger than the photo's
    by = np.array([size[0] / (x1 - x0), size[1] / (y1 - y0)])
    inside = matrix * by[:, None]
    inside[:, 2] = (matrix[:, 2] - (x0, y0) + 0.5) * by - 0.5
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpAffine(part, inside, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE),
        np.uint8,
    )
