"""Areas of the region map and of the marks, and the ruler that turns pixels into numbers.

Shared by the checks that look for something that should not be there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree
from scipy.special import ndtr

from inspector.model import Evidence, Joint, Mark, Mask, Points, Region, Unit, View
from inspector.outline import box_of, is_any

SURE_WITHIN_D = 0.12
BARE = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL)
# Without a wire size, 0.5 mm is read as 0.11 D: its size at 4.5 mm overall. Soft wire is 1.5 to
# 6.3 mm overall (docs/criteria, wire table); taken as log-uniform, that is 41 % on a limit in D.
NOMINAL_D_MM = 4.5
WIRE_SPREAD = math.log(6.3 / 1.5) / math.sqrt(12)
WEAK = 0.25  # mark probability from which an area is looked at; its certainty is weighed later


@dataclass(frozen=True, slots=True)
class Ruler:
    """How lengths in patch pixels become the unit that this view allows.

    per_px: `unit` per patch pixel, with its relative standard uncertainty. coarse_px: size in
    `unit` of the coarser of a photo pixel and a patch pixel, since neither shows finer detail.
    """

    unit: Unit
    per_px: float
    relative: float
    coarse_px: float

    def of_mm(self, length_mm: float) -> float:
        """A length in mm in the ruler's unit; at the nominal wire if the scale is not known."""
        return length_mm if self.unit == "mm" else length_mm / NOMINAL_D_MM

    def name(self, name: str) -> str:
        """The measurement's name: with "-in-D" where millimetres are not known."""
        return name if self.unit == "mm" else f"{name}-in-D"

    def spread(self, limit_mm: float) -> float:
        """Standard uncertainty of a limit of `limit_mm` for want of the wire's size."""
        return 0.0 if self.unit == "mm" else WIRE_SPREAD * self.of_mm(limit_mm)


def ruler(view: View, *, in_d: bool = False) -> Ruler:
    """Millimetres if the view has a scale and `in_d` is not asked for, else D."""
    joint, scale = view.joint, view.scale
    step = joint.patch.step
    if scale.mm_per_px is not None and not in_d:
        u = scale.standard_uncertainty or 0.0
        size = scale.mm_per_px
        return Ruler("mm", size * step, u / size, size * max(1.0, step))
    relative = joint.d_standard_uncertainty_px / joint.d_px
    return Ruler("D", 1.0 / joint.d_px, relative, max(1.0, 1.0 / step) / joint.d_px)


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
    box = box_of(mask)
    inside = mask[box].astype(np.uint8)
    if inside.size == 0:
        return []
    count, index, stats, _ = cv2.connectedComponentsWithStats(inside, connectivity=8)
    sizes = stats[1:count, cv2.CC_STAT_AREA]
    found = []
    for i in np.argsort(-sizes, kind="stable"):
        if sizes[i] >= least_px:
            part = np.zeros(mask.shape, bool)
            part[box] = index == 1 + i
            found.append(part)
    return found


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


def sureness(joint: Joint, points: Points, mask: Mask) -> float:
    """How sure the network is of the labels of `mask` near patch points (N, 2), 0..1.

    The upper quartile within 0.12 D: edges are never sure, the body of a thing that is there is.
    1 where nothing of the mask is near.
    """
    if len(points) == 0:
        return 1.0
    high, wide = mask.shape
    spots = np.zeros(mask.shape, np.uint8)
    x, y = np.clip(np.round(points).astype(int), 0, (wide - 1, high - 1)).T
    spots[y, x] = 1
    near = around(spots.astype(bool), SURE_WITHIN_D * joint.d_px) & mask
    return float(np.percentile(joint.patch.sure[near], 75)) if near.any() else 1.0


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
    return bool((mask & view.joint.own).sum() >= (mask & theirs(view)).sum())


def marked(joint: Joint, mark: Mark, within: Mask) -> tuple[Mask, float]:
    """The area of `mark` inside `within` (h, w) and how sure the network is of it, 0..1.

    Areas are weighed by their size; nothing marked is an empty mask, sure.
    """
    found = [(blob.mask & within, blob.probability) for blob in blobs(joint, mark, within)]
    total = sum(float(mask.sum()) for mask, _ in found)
    if total == 0.0:
        return np.zeros_like(within), 1.0
    every = np.logical_or.reduce([mask for mask, _ in found])
    return every, sum(float(mask.sum()) * p for mask, p in found) / total


def rectified(value: float, u: float) -> tuple[float, float]:
    """What stands out, and its standard uncertainty, of a normal value that may be negative.

    Of x ~ N(value, u) only max(0, x) counts: the root mean square of max(0, x) about max(0, value).
    """
    if u <= 0.0:
        return max(0.0, value), 0.0
    z, best = value / u, max(0.0, value)
    part, density = float(ndtr(z)), math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    mean = value * part + u * density
    square = (value * value + u * u) * part + value * u * density
    return best, math.sqrt(max(square - 2 * best * mean + best * best, 0.0))


def outline(joint: Joint, mask: Mask) -> Evidence:
    """The outline of the largest part of `mask`, for the overlay."""
    lines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(lines, key=len).reshape(-1, 2).astype(float)
    return Evidence("outline", joint.patch.to_photo(longest))


def line(joint: Joint, points: Points, *, dimension: bool = False) -> Evidence:
    """An open line of patch positions (N, 2), or a dimension from the first to the last."""
    return Evidence("dimension" if dimension else "line", joint.patch.to_photo(points))


def extent_d(joint: Joint, mask: Mask) -> float:
    """Longest side of the mask in the joint frame, D; 0 if it is empty."""
    points = border_points(mask)
    if len(points) == 0:
        return 0.0
    s, t = joint.to_frame(points).T
    return float(max(np.ptp(s), np.ptp(t))) + 1.0 / joint.d_px


@dataclass(frozen=True, slots=True)
class Blob:
    """One area that the network marked: mask (h, w) and how sure the network is, 0..1."""

    mask: Mask
    probability: float


def blobs(joint: Joint, mark: Mark, within: Mask, least_d: float = 0.03) -> list[Blob]:
    """Areas of `mark` that touch `within`, surest first; smaller than `least_d` D across: noise.

    Each area keeps the pixels of at least half its own certainty, so that a weak mark is measured
    at its true size too and is only believed less.
    """
    chance = joint.patch.marks[int(mark)]
    least_px = max(2, round((least_d * joint.d_px) ** 2))
    found = []
    for part in parts(chance >= WEAK, least_px):
        if not (part & within).any():
            continue
        p = float(np.percentile(chance[part], 90))
        found.append(Blob(part & (chance >= 0.5 * p), p))
    return sorted(found, key=lambda blob: -blob.probability)
