"""Peaks of a mark: places with sub-pixel position and strength."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.outline import sample

if TYPE_CHECKING:
    from inspector.model import Points

FLOOR = 0.25  # weaker peaks are noise
VALLEY = 0.7  # two tops are one peak when the saddle is higher than this share of the lower
WINDOW_PX = 4
CLOSEST_PX = 3.0


class Peak(NamedTuple):
    """Position (x, y) in patch pixels and strength in 0..1."""

    at: tuple[float, float]
    strength: float

    @property
    def point(self) -> Points:
        """The position as an array (2,)."""
        return np.array(self.at, float)


def find_peaks(mark: NDArray[np.float32], floor: float = FLOOR) -> tuple[Peak, ...]:
    """Peaks of `mark` (h, w), strongest first, none on another's shoulder."""
    if mark.size == 0 or float(mark.max()) < floor:
        return ()
    soft = np.asarray(cv2.GaussianBlur(mark.astype(np.float32), (0, 0), 1.0), np.float32)
    tops = (soft >= cv2.dilate(soft, np.ones((5, 5), np.uint8))) & (soft >= 0.7 * floor)
    rows, columns = np.nonzero(tops)
    order = np.argsort(-soft[rows, columns], kind="stable")[:64]
    kept: list[Peak] = []
    for row, column in zip(rows[order], columns[order], strict=True):
        strength = float(mark[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2].max())
        if strength < floor:
            continue
        peak = Peak(_centroid(soft, int(row), int(column)), strength)
        if not any(_same(soft, peak, other) for other in kept):
            kept.append(peak)
    return tuple(sorted(kept, key=lambda peak: -peak.strength))


def _centroid(soft: NDArray[np.float32], row: int, column: int) -> tuple[float, float]:
    """Centre of the part of the top above half its height; unbiased for a round peak."""
    top = float(soft[row, column])
    y, x = float(row), float(column)
    for _ in range(3):
        y0, x0 = round(y), round(x)
        ys = np.arange(max(y0 - WINDOW_PX, 0), min(y0 + WINDOW_PX + 1, soft.shape[0]))
        xs = np.arange(max(x0 - WINDOW_PX, 0), min(x0 + WINDOW_PX + 1, soft.shape[1]))
        part = np.clip(soft[np.ix_(ys, xs)].astype(float) - 0.5 * top, 0.0, None)
        total = float(part.sum())
        if total <= 0:
            break
        y, x = float(part.sum(1) @ ys) / total, float(part.sum(0) @ xs) / total
    return (x, y)


def _same(soft: NDArray[np.float32], one: Peak, other: Peak) -> bool:
    """Whether no real valley parts the two tops."""
    distance = float(np.hypot(*(one.point - other.point)))
    if distance < CLOSEST_PX:
        return True
    steps = np.linspace(0, 1, max(3, int(distance)))[:, None]
    along = sample(soft, one.point + steps * (other.point - one.point))
    lower = float(np.nanmin([along[0], along[-1]]))
    return bool(np.nanmin(along) > VALLEY * lower)
