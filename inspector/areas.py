"""Masks of the region map: whose their pixels are, how far apart, where they are drawn."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree
from scipy.spatial.distance import pdist

from inspector.model import Evidence, Joint, Mask, Points, Region, View
from inspector.outline import box_of, is_any

Box = tuple[slice, slice]
BARE = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL)


def own(joint: Joint, *regions: Region) -> Mask:
    """Mask (h, w) of the joint's own pixels of these regions."""
    return is_any(joint.patch.labels, regions) & joint.own


def distance_px(mask: Mask) -> NDArray[np.float32]:
    """Distance (h, w) of each pixel to the nearest pixel of `mask`; infinite if it is empty."""
    if not mask.any():
        return np.full(mask.shape, np.inf, np.float32)
    found = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(found, np.float32)


def around(mask: Mask, reach_px: float) -> Mask:
    """Mask (h, w) of the pixels not farther than `reach_px` from a pixel of `mask`."""
    found = np.zeros(mask.shape, bool)
    box = box_of(mask, math.ceil(reach_px) + 1)
    if found[box].size:
        found[box] = distance_px(mask[box]) <= reach_px
    return found


def parts(mask: Mask, least_px: int = 1) -> list[Mask]:
    """Connected parts (8 neighbours) of at least `least_px` pixels, largest first."""
    return [placed(part, box, mask) for box, part in boxed_parts(mask, least_px)]


def boxed_parts(mask: Mask, least_px: int = 1) -> list[tuple[Box, Mask]]:
    """As `parts`, each as the box that holds it and its mask in there: quicker, for many parts."""
    box = box_of(mask)
    inside = mask[box].astype(np.uint8)
    if inside.size == 0:
        return []
    top, left = box[0].start, box[1].start
    count, index, stats, _ = cv2.connectedComponentsWithStats(inside, connectivity=8)
    sizes = stats[1:count, cv2.CC_STAT_AREA]
    found = []
    for i in np.argsort(-sizes, kind="stable"):
        if sizes[i] >= least_px:
            x, y, wide, high = map(int, stats[1 + i, :4])
            rows, columns = slice(y - y % 2, y + high), slice(x - x % 2, x + wide)  # as in box_of
            frame = (
                slice(top + rows.start, top + rows.stop),
                slice(left + columns.start, left + columns.stop),
            )
            found.append((frame, index[rows, columns] == 1 + i))
    return found


def placed(part: Mask, box: Box, where: Mask) -> Mask:
    """The mask of a part in its box as one of the size of `where`."""
    whole = np.zeros(where.shape, bool)
    whole[box] = part
    return whole


def border_points(mask: Mask) -> Points:
    """Positions (N, 2) of the mask's pixels that touch its outside; (0, 2) if it is empty."""
    box = box_of(mask)
    inside = mask[box]
    if inside.size == 0:
        return np.zeros((0, 2))
    inner = cv2.erode(inside.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    ys, xs = np.nonzero(inside & (inner == 0))
    return np.stack([xs + box[1].start, ys + box[0].start], axis=-1).astype(float)


def places(mask: Mask) -> Points:
    """Positions (N, 2) of the mask's pixels, row by row."""
    box = box_of(mask)
    ys, xs = np.nonzero(mask[box])
    return np.array([xs + box[1].start, ys + box[0].start], float).T


def nearest(points: Points, others: Points) -> tuple[float, Points]:
    """Smallest distance between two point sets and that pair (2, 2); infinite if one is empty."""
    if len(points) == 0 or len(others) == 0:
        return math.inf, np.zeros((0, 2))
    gaps, indices = KDTree(others).query(points)
    i = int(np.argmin(gaps))
    return float(gaps[i]), np.stack([points[i], others[int(indices[i])]])


def others_points(view: View, *regions: Region) -> Points:
    """Outline pixels (N, 2) of the neighbours' own regions, in this joint's patch pixels."""
    found = [
        view.joint.patch.from_photo(n.patch.to_photo(border_points(own(n, *regions))))
        for n in view.neighbours
    ]
    return np.concatenate(found) if found else np.zeros((0, 2))


def theirs(view: View) -> Mask:
    """Mask (h, w) of the pixels that belong to a neighbour, in this joint's patch."""
    patch = view.joint.patch
    mask = np.zeros(patch.labels.shape, bool)
    for other in view.neighbours:
        if other.patch is patch:
            mask |= other.own
            continue
        scale = other.patch.step / patch.step
        x, y = patch.from_photo(np.array([other.patch.origin]))[0]
        turn = np.array([[scale, 0.0, x], [0.0, scale, y]])
        size = mask.shape[::-1]
        mask |= cv2.warpAffine(other.own.astype(np.uint8), turn, size, flags=cv2.INTER_NEAREST) > 0
    return np.asarray(mask & ~view.joint.own, bool)


def mine(view: View, mask: Mask) -> bool:
    """Whether an area is rather this joint's than a neighbour's.

    Where wires overlap in the picture, some of either's pixels lie nearer to the other's axis.
    """
    return rather(mask, view.joint.own, theirs(view))


def rather(area: Mask, mine: Mask, others: Mask) -> bool:
    """Whether at least as much of an area lies in one mask as in the other."""
    return bool(np.count_nonzero(area & mine) >= np.count_nonzero(area & others))


def outline(joint: Joint, mask: Mask) -> Evidence:
    """The outline of the largest part of `mask`, for the overlay."""
    lines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(lines, key=len).reshape(-1, 2).astype(float)
    return Evidence("outline", joint.patch.to_photo(longest))


def line(joint: Joint, points: Points, *, dimension: bool = False) -> Evidence:
    """An open line of patch positions (N, 2), or a dimension from the first to the last."""
    return Evidence("dimension" if dimension else "line", joint.patch.to_photo(points))


def extent_d(joint: Joint, mask: Mask) -> float:
    """Greatest distance across the mask, whichever way it lies, D; 0 if it is empty."""
    points = border_points(mask)
    if len(points) == 0:
        return 0.0
    corners = cv2.convexHull(points.astype(np.float32)).reshape(-1, 2)
    across = float(pdist(corners).max()) if len(corners) > 1 else 0.0
    return (across + 1.0) / joint.d_px
