"""Sub-pixel outlines of regions: where the probability of a region crosses one half."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Mask, Patch, Points, Region

Floats = NDArray[np.float64]
HALF = 0.5  # probability at which one region ends and the next begins
TINY = 1e-9


class Spans(NamedTuple):
    """Left and right edge (n,) of a region across each of n stations, px; nan where unknown."""

    low: Floats
    high: Floats

    @property
    def width(self) -> Floats:
        """Distance between the edges."""
        return self.high - self.low

    @property
    def middle(self) -> Floats:
        """Point half-way between the edges."""
        return 0.5 * (self.low + self.high)


def is_any(labels: NDArray[np.uint8], regions: Sequence[Region]) -> Mask:
    """Mask, as `labels` in shape, of the pixels labelled as one of `regions`."""
    table = np.zeros(256, np.uint8)
    table[[int(region) for region in regions]] = 1
    flat = np.ascontiguousarray(labels).reshape(1, -1)  # much quicker than an index by labels
    return np.asarray(cv2.LUT(flat, table).reshape(labels.shape).view(bool), bool)


def box_of(mask: Mask, margin_px: int = 0) -> tuple[slice, slice]:
    """Rows and columns of the mask's bounding box, grown by a margin; empty for an empty mask.

    Its upper left corner is even, so that parts are numbered as they are in the whole image.
    """
    found = []
    for axis in (1, 0):
        hits = np.flatnonzero(mask.any(axis=axis))
        if len(hits) == 0:
            return slice(0, 0), slice(0, 0)
        low = max(int(hits[0]) - margin_px, 0)
        found.append(slice(low - low % 2, int(hits[-1]) + 1 + margin_px))
    return found[0], found[1]


def belief(patch: Patch, regions: Sequence[Region], keep: Mask | None = None) -> Floats:
    """Probability (h, w) that a pixel belongs to one of `regions`.

    Only the winning label's probability is known. Elsewhere the rest is taken as the chance of
    `regions`, at most one half, so that the half-way line stays between the labels. Away from
    the border of the set the value is certain: two labels of the set that meet there leave no
    line. Pixels outside `keep` count as not belonging.
    """
    whole = is_any(patch.labels, regions)
    if keep is not None:
        whole &= keep
    box = box_of(whole, 1)  # farther out nothing is near
    result = np.zeros(whole.shape)
    inside = whole[box]
    if inside.size == 0:
        return result
    kernel = np.ones((3, 3), np.uint8)
    # past the image nothing is known: it must not make a border
    deep = cv2.erode(inside.astype(np.uint8), kernel, borderValue=1) > 0
    near = cv2.dilate(inside.astype(np.uint8), kernel, borderValue=0) > 0
    sure = patch.sure[box].astype(np.float64)
    value = np.where(inside, np.maximum(sure, 0.501), np.minimum(1.0 - sure, 0.499))
    value[deep], value[~near] = 1.0, 0.0
    if keep is not None:
        # another joint's pixel of the same region: the border lies half-way, wherever that is
        value[near & ~inside & ~keep[box]] = 0.0
    result[box] = value
    return result


def sample(image: NDArray[np.generic], points: Points) -> Floats:
    """Bilinear values of `image` (h, w) at `points` (..., 2); nan outside the image."""
    height, width = image.shape
    x, y = points[..., 0], points[..., 1]
    outside = (x < 0) | (y < 0) | (x > width - 1) | (y > height - 1)
    x0 = np.clip(np.floor(x), 0, max(width - 2, 0)).astype(np.intp)
    y0 = np.clip(np.floor(y), 0, max(height - 2, 0)).astype(np.intp)
    x1, y1 = np.minimum(x0 + 1, width - 1), np.minimum(y0 + 1, height - 1)
    fx, fy = np.clip(x - x0, 0, 1), np.clip(y - y0, 0, 1)
    # only what is read is converted: the image may be far larger than the points are many
    a, b, c, d = (
        image[at].astype(np.float64, copy=False) for at in ((y0, x0), (y0, x1), (y1, x0), (y1, x1))
    )
    top = a * (1 - fx) + b * fx
    bottom = c * (1 - fx) + d * fx
    return np.where(outside, np.nan, top * (1 - fy) + bottom * fy)


def pick(labels: NDArray[np.uint8], points: Points, outside: int = 255) -> NDArray[np.uint8]:
    """Labels of the pixels nearest to `points` (..., 2); `outside` off the image."""
    height, width = labels.shape
    finite = np.isfinite(points).all(axis=-1)
    x = np.rint(np.where(finite, points[..., 0], -9)).astype(np.intp)
    y = np.rint(np.where(finite, points[..., 1], -9)).astype(np.intp)
    good = finite & (x >= 0) & (y >= 0) & (x < width) & (y < height)
    found = labels[np.where(good, y, 0), np.where(good, x, 0)]
    return np.where(good, found, np.uint8(outside)).astype(np.uint8)


def spans_across(
    image: Floats,
    origin: Points,
    axis: Points,
    stations_px: Floats,
    half_px: float,
    *,
    centre_px: Floats | float = 0.0,
    reach_px: float = 2.0,
    hole_px: float = 2.0,
    step_px: float = 0.5,
) -> Spans:
    """Edges across `axis` of the run of `image` >= 0.5 around `centre_px` at each station.

    `origin` (2,) and unit `axis` (2,) in patch pixels; `stations_px` (n,) along the axis. Runs
    up to `reach_px` off the centre are accepted, holes up to `hole_px` are bridged. An edge at
    the image's border, or beyond `half_px`, is nan.
    """
    normal = np.array([-axis[1], axis[0]])
    offsets = np.arange(-half_px, half_px + step_px, step_px)
    points = (
        origin
        + stations_px[:, None, None] * axis[None, None, :]
        + offsets[None, :, None] * normal[None, None, :]
    )
    values = sample(image, points)
    inside = (np.nan_to_num(values, nan=0.0) >= HALF).astype(np.uint8)
    # an odd kernel: closing with an even one moves every edge by a sample
    bridge = 2 * round(hole_px / step_px / 2) + 1
    closed = cv2.morphologyEx(inside, cv2.MORPH_CLOSE, np.ones((1, bridge), np.uint8)) > 0
    centre = np.broadcast_to(np.asarray(centre_px, float), stations_px.shape)
    away = np.where(closed, np.abs(offsets[None, :] - centre[:, None]), np.inf)
    start = np.argmin(away, axis=1)
    rows = np.arange(len(stations_px))
    lost = ~(away[rows, start] <= reach_px)
    columns = np.arange(len(offsets))[None, :]
    high = _crossing(values, offsets, closed, start, columns > start[:, None], 1)
    low = _crossing(values, offsets, closed, start, columns < start[:, None], -1)
    return Spans(np.where(lost, np.nan, low), np.where(lost, np.nan, high))


def _crossing(
    values: Floats, offsets: Floats, closed: Mask, start: NDArray[np.intp], side: Mask, way: int
) -> Floats:
    """First place outward from `start` where `values` falls below one half."""
    ends = ~closed & side
    order = ends if way > 0 else ends[:, ::-1]
    first = np.argmax(order, axis=1)
    none = ~order.any(axis=1)
    if way < 0:
        first = ends.shape[1] - 1 - first
    rows = np.arange(len(start))
    before = np.clip(first - way, 0, ends.shape[1] - 1)
    here, there = values[rows, before], values[rows, first]
    drop = here - there
    share = np.where(np.abs(drop) > TINY, (here - HALF) / np.where(drop == 0, 1, drop), 0.5)
    edge = offsets[before] + way * np.clip(share, 0, 1) * abs(offsets[1] - offsets[0])
    return np.where(none | np.isnan(there), np.nan, edge)


def outlines(image: Floats, shortest_px: float = 8.0) -> list[Points]:
    """Sub-pixel outlines of `image` >= 0.5, each (n, 2) x, y, at least `shortest_px` long.

    The image is closed by a zero border, so that every outline is a closed line.
    """
    found: list[Points] = []
    rows, columns = np.nonzero(image >= HALF)
    if len(rows) == 0:
        return found
    y0, x0 = max(int(rows.min()) - 2, 0), max(int(columns.min()) - 2, 0)
    part = image[y0 : int(rows.max()) + 3, x0 : int(columns.max()) + 3]
    for line in find_contours(np.pad(part, 1), HALF):  # type: ignore[no-untyped-call]
        points = line[:, ::-1] + (x0 - 1, y0 - 1)
        if float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()) >= shortest_px:
            found.append(np.ascontiguousarray(points, dtype=np.float64))
    return found


def evenly(points: Points, step_px: float = 1.0) -> Points:
    """`points` resampled every `step_px` along their length, lightly smoothed first."""
    if len(points) > 4:  # noqa: PLR2004 - else smoothing leaves nothing
        padded = np.pad(points, ((1, 1), (0, 0)), mode="edge")
        points = np.concatenate(
            [points[:1], ((padded[:-2] + padded[1:-1] + padded[2:]) / 3)[1:-1], points[-1:]]
        )
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    count = max(2, round(float(gone[-1]) / step_px) + 1)
    wanted = np.linspace(0.0, gone[-1], count)
    return np.stack([np.interp(wanted, gone, points[:, k]) for k in (0, 1)], axis=1)
