"""Centre lines of thin areas, and their lengths.

The length of a pixel skeleton is biased: steps of 1 and sqrt(2) read up to 8 % long, and thinning
eats the ends. So the path is resampled evenly, smoothed by local cubics (which keep circle arcs
as they are, unlike a running mean), and drawn out to the area's ends.
"""

from __future__ import annotations

import numpy as np
from skimage.graph import MCP_Geometric
from skimage.morphology import skeletonize

from inspector.model import Mask, Points

_WINDOW_PX = 13  # smoothing span; an arc of 5 px radius still keeps its length within 2 %
_ORDER = 3
_PAD = 2
_LOOK_BACK = 6  # pixels over which the direction of an end is taken
_SMALL = 3


def centre_line(area: Mask) -> Points:
    """Longest path (N, 2) along the middle of a connected thin area, end to end, 1 px apart.

    An area too small for a skeleton gives its extent as two points. Raises ValueError if empty.
    """
    ys, xs = np.nonzero(area)
    if len(xs) == 0:
        raise ValueError("an empty area has no centre line")
    origin = np.array([xs.min() - _PAD, ys.min() - _PAD], float)
    window = np.pad(area[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1], _PAD)
    skeleton: Mask = skeletonize(window)  # type: ignore[no-untyped-call]
    path = _longest_path(skeleton)
    if len(path) < _SMALL:
        return _extent(np.stack([xs, ys], axis=-1).astype(float))
    smooth = smoothed(path)
    ends = [_end(window, smooth[::-1]), _end(window, smooth)]
    whole: Points = np.concatenate([ends[0][None], smooth, ends[1][None]]) + origin
    return whole


def length(points: Points) -> float:
    """Length of a polyline (N, 2), in the points' unit."""
    return float(np.hypot(*np.diff(np.asarray(points, float), axis=0).T).sum())


def resampled(points: Points, step: float = 1.0) -> Points:
    """The polyline (N, 2) with points about `step` apart, both ends kept."""
    points = np.asarray(points, float)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(2, round(along[-1] / step) + 1))
    return np.stack([np.interp(at, along, points[:, k]) for k in (0, 1)], axis=-1)


def smoothed(path: Points) -> Points:
    """A pixel path (N, 2) without its stairs, points about 1 px apart."""
    points = resampled(path)
    for _ in range(2):  # the second pass is on steps that are even by now
        window = min(_WINDOW_PX, len(points) - (len(points) + 1) % 2)
        if window <= _ORDER:
            return points[[0, -1]]
        points = resampled(local_cubics(points, window))
    return points


def local_cubics(points: Points, window: int) -> Points:
    """Each point replaced by the cubic that fits its `window` neighbours best; (N, 2), N >= window.

    Toward the ends the first and the last window's cubics are used (Savitzky and Golay's filter).
    """
    half = window // 2
    x = np.arange(-half, half + 1) / max(half, 1)
    basis = x[:, None] ** np.arange(_ORDER + 1)
    hat = basis @ np.linalg.pinv(basis)  # (window, window): values to fitted values
    windows = np.lib.stride_tricks.sliding_window_view(points, window, axis=0)
    middle = windows @ hat[half]
    return np.concatenate(
        [hat[:half] @ points[:window], middle, hat[half + 1 :] @ points[-window:]]
    )


def _longest_path(skeleton: Mask) -> Points:
    """Longest of the shortest ways through the skeleton, as pixels (N, 2) x, y."""
    ys, xs = np.nonzero(skeleton)
    if len(xs) == 0:
        return np.zeros((0, 2))
    cost = np.where(skeleton, 1.0, -1.0)  # negative: no way through
    start = (int(ys[0]), int(xs[0]))
    far = start
    graph = MCP_Geometric(cost)
    for _ in range(2):  # the farthest from the farthest are the two ends
        start = far
        reach, _ = graph.find_costs([start])
        reach = np.where(np.isfinite(reach) & skeleton, reach, -1.0)
        row, column = np.unravel_index(int(np.argmax(reach)), reach.shape)
        far = (int(row), int(column))
    way: Points = np.array(graph.traceback(far), float)
    return way[:, ::-1]


def _end(area: Mask, path: Points) -> Points:
    """Where the last stretch of `path`, prolonged, leaves the area."""
    tip: Points = path[-1]
    way = tip - path[-min(_LOOK_BACK, len(path))]
    size = float(np.hypot(*way))
    if size == 0.0:
        return tip
    way = way / size
    last = tip
    for step in np.arange(0.25, 12.0, 0.25):
        here = tip + step * way
        x, y = round(float(here[0])), round(float(here[1]))
        if not (0 <= y < area.shape[0] and 0 <= x < area.shape[1] and area[y, x]):
            break
        last = here
    return last


def _extent(points: Points) -> Points:
    """The two ends (2, 2) of a small cloud of pixels along its longer axis."""
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    along = (points - middle) @ axes[0]
    return np.stack(
        [middle + (along.min() - 0.5) * axes[0], middle + (along.max() + 0.5) * axes[0]]
    )
