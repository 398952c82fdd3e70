"""Peaks of a mark: places with sub-pixel position and strength."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.outline import sample

if TYPE_CHECKING:
    from collections.abc import Sequence

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
        if not _shoulder(soft, peak, kept):
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


def _shoulder(soft: NDArray[np.float32], one: Peak, others: Sequence[Peak]) -> bool:
    """Whether no real valley parts the top from one of the others."""
    if not others:
        return False
    run = np.array([other.at for other in others]) - one.point
    distance = np.hypot(run[:, 0], run[:, 1])
    if (distance < CLOSEST_PX).any():
        return True
    counts = np.maximum(3, distance.astype(int))
    # the lines to all the others one after the other: in noise there are many, and short
    steps = np.concatenate([_steps(int(count)) for count in counts])[:, None]
    along = sample(soft, one.point + steps * np.repeat(run, counts, axis=0))
    first = np.cumsum(counts) - counts
    lowest = np.fmin.reduceat(along, first)  # fmin: past the image nothing is known
    lower = np.fmin(along[first], along[first + counts - 1])
    return bool((lowest > VALLEY * lower).any())


@cache
def _steps(count: int) -> NDArray[np.float64]:
    return np.linspace(0, 1, count)
