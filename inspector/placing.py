"""Where callouts go: inside the frame, off the joints, off each other, near what they name.

Pure geometry in the pixels of one panel of the overlay; nothing is drawn here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inspector.model import Mask, Points

GRID_PX = 6  # obstacles are kept on a grid this coarse
_ANGLES = tuple(2 * math.pi * k / 24 for k in range(24))
_RINGS = 14
_MARGIN_PX = 8
_ROUNDS = 2

# What a place costs, per whole label covered; a leader across the panel costs 1.
_COST_ON_JOINT, _COST_ON_LABEL, _COST_ON_EVIDENCE, _COST_CROSSING = 60.0, 90.0, 12.0, 1.5


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, x0 < x1 and y0 < y1."""

    x0: float
    y0: float
    x1: float
    y1: float

    def overlap(self, other: Box) -> float:
        """Common area."""
        wide = min(self.x1, other.x1) - max(self.x0, other.x0)
        high = min(self.y1, other.y1) - max(self.y0, other.y0)
        return max(0.0, wide) * max(0.0, high)

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """The point of the rectangle that is nearest to (x, y)."""
        return min(max(x, self.x0), self.x1), min(max(y, self.y0), self.y1)

    def grown(self, by: float) -> Box:
        """The rectangle with `by` added on each side."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)


@dataclass(frozen=True, slots=True)
class Wish:
    """A label of a size (width, height) that belongs to some points (N, 2).

    `home` is the middle of the joint that it is about: metal between two poles belongs to both.
    """

    size: tuple[float, float]
    points: Points
    home: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a label went, and the point of its own that its leader leads to."""

    box: Box
    tip: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Sums over the grid of what labels should keep off (a summed-area table each)."""

    joints: NDArray[np.float64]
    evidence: NDArray[np.float64]

    @classmethod
    def of(cls, joints: Mask, evidence: Mask) -> Obstacles:
        """Obstacles of two masks on the grid (rows, columns), GRID_PX pixels a cell."""
        return cls(_table(joints), _table(evidence))


def place(wishes: list[Wish], obstacles: Obstacles, frame: tuple[int, int]) -> list[Place]:
    """Place every label in turn within the frame (width, height); same order as the wishes.

    A label always gets a place inside the frame: where all are bad it gets the least bad.
    """
    choices = [_offers(wish, obstacles, frame) for wish in wishes]
    placed: list[Place] = []
    for offered in choices:
        placed.append(_best(offered, placed))
    # the first ones chose before the others lay: once more around, so that leaders part
    for _ in range(_ROUNDS):
        for k, offered in enumerate(choices):
            placed[k] = _best(offered, placed[:k] + placed[k + 1 :])
    return placed


def _offers(wish: Wish, obstacles: Obstacles, frame: tuple[int, int]) -> list[tuple[float, Place]]:
    """Places for one label with what each costs by itself, cheapest first."""
    places = [Place(box, _tip(wish.points, box)) for box in _candidates(wish, frame)]
    if not places:  # larger than the frame: the top left corner shows most of it
        box = Box(0.0, 0.0, *wish.size)
        places = [Place(box, _tip(wish.points, box))]
    costs = [_cost_alone(place, wish.home, obstacles, math.hypot(*frame)) for place in places]
    return sorted(zip(costs, places, strict=True), key=lambda offer: offer[0])


def _best(offers: list[tuple[float, Place]], others: list[Place]) -> Place:
    """The place that costs least beside the others."""
    least, best = math.inf, offers[0][1]
    for alone, place in offers:
        if alone >= least:
            break  # so are all that follow
        cost = alone + _cost_beside(place, others, least - alone)
        if cost < least:
            least, best = cost, place
    return best


def _table(mask: Mask) -> NDArray[np.float64]:
    return np.pad(mask.astype(float).cumsum(0).cumsum(1), ((1, 0), (1, 0)))


def _covered(table: NDArray[np.float64], box: Box) -> float:
    """Share of the rectangle that the mask covers, 0 to 1."""
    rows, columns = table.shape[0] - 1, table.shape[1] - 1
    x0 = min(max(math.floor(box.x0 / GRID_PX), 0), columns - 1)
    y0 = min(max(math.floor(box.y0 / GRID_PX), 0), rows - 1)
    x1 = min(max(math.ceil(box.x1 / GRID_PX), x0 + 1), columns)
    y1 = min(max(math.ceil(box.y1 / GRID_PX), y0 + 1), rows)
    total = table[y1, x1] - table[y0, x1] - table[y1, x0] + table[y0, x0]
    return float(total / ((x1 - x0) * (y1 - y0)))


def _candidates(wish: Wish, frame: tuple[int, int]) -> list[Box]:
    """Rings of places around the middle of the points, kept whole inside the frame."""
    (wide, high), (frame_wide, frame_high) = wish.size, frame
    x, y = wish.points.mean(axis=0)
    low_x, low_y = _MARGIN_PX + wide / 2, _MARGIN_PX + high / 2
    high_x, high_y = frame_wide - low_x, frame_high - low_y
    if high_x < low_x or high_y < low_y:
        return []
    boxes = []
    for ring in range(1, _RINGS + 1):
        reach = max(frame) * 0.75 * (ring / _RINGS) ** 1.5
        for angle in _ANGLES:
            # half the label's size is added so that wide labels clear their point sideways
            cx = x + (reach + wide / 2) * math.cos(angle)
            cy = y + (reach + high / 2) * math.sin(angle)
            cx, cy = min(max(cx, low_x), high_x), min(max(cy, low_y), high_y)
            boxes.append(Box(cx - wide / 2, cy - high / 2, cx + wide / 2, cy + high / 2))
    return boxes


def _tip(points: Points, box: Box) -> tuple[float, float]:
    cx, cy = (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2
    tip = points[int(np.argmin(np.hypot(points[:, 0] - cx, points[:, 1] - cy)))]
    return float(tip[0]), float(tip[1])


def _cost_alone(
    candidate: Place, home: tuple[float, float] | None, obstacles: Obstacles, diagonal: float
) -> float:
    box, tip = candidate.box, candidate.tip
    cost = 6.0 * math.dist(box.nearest(*tip), tip) / diagonal
    if home is not None:
        cost += 6.0 * math.dist(box.nearest(*home), home) / diagonal
    cost += _COST_ON_JOINT * _covered(obstacles.joints, box.grown(_MARGIN_PX))
    return cost + _COST_ON_EVIDENCE * _covered(obstacles.evidence, box.grown(_MARGIN_PX))


def _cost_beside(candidate: Place, others: list[Place], most: float) -> float:
    """What a place costs beside the others; more than `most` need not be exact."""
    box, tip = candidate.box, candidate.tip
    area, room = (box.x1 - box.x0) * (box.y1 - box.y0), box.grown(_MARGIN_PX)
    start, cost = box.nearest(*tip), 0.0
    for other in others:
        cost += _COST_ON_LABEL * room.overlap(other.box) / area
        other_start = other.box.nearest(*other.tip)
        if _cross(start, tip, other_start, other.tip):
            cost += _COST_CROSSING
        if _enters(start, tip, other.box) or _enters(other_start, other.tip, box):
            cost += 4 * _COST_CROSSING
        if cost > most:
            break
    return cost


Point = tuple[float, float]


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the open segments ab and cd cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _enters(a: Point, b: Point, box: Box) -> bool:
    """Whether the segment ab runs through the inside of the rectangle."""
    first, last = 0.0, 1.0
    for start, way, low, high in (
        (a[0], b[0] - a[0], box.x0, box.x1),
        (a[1], b[1] - a[1], box.y0, box.y1),
    ):
        if way == 0.0:
            if not low < start < high:
                return False
            continue
        near, far = sorted(((low - start) / way, (high - start) / way))
        first, last = max(first, near), min(last, far)
    return first < last
