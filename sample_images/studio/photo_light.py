"""What stands out in the light of a photo: areas of a mark, and the seam of a dry contact line.

The same questions as in `standing_out`, asked of the picture in the file in place of the light
before the camera.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree
from skimage.morphology import skeletonize

from . import part as pt
from .standing_out import FEWEST, HAZE, LEAST_CONTRAST, RING_PX, singular, spot_differs

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Box = tuple[slice, ...]
# All figures from here on are ours, no source.
DARK = 0.02  # of white: a step among such tones is lost on a screen
METAL = (pt.CONDUCTOR, pt.SOLDER, pt.TERMINAL)
ROUND_D = 1.6  # the solder that a pit is compared with lies within
SEAM_D = 0.08  # how far from the middle of its mark a seam is looked for, to each side
FLANKS_D = (0.03, 0.05, 0.08)  # how far beside a seam its flanks are looked at
TOLD = 0.6  # of a stretch has to show it
SHADE_D = 0.12  # so near to insulation a seam is taken for the shadow under its edge
ACROSS_D = SEAM_D + max(FLANKS_D)  # how far across a seam is looked
STEP_PX = 0.5
OUTLINE_PX, OUTLINED = 1.0, 0.5  # how far beside an outline is looked; how much of it must show


@dataclass(frozen=True)
class Picture:
    """Light (h, w, 3) of the photo, 1 is white; labels and marks (h, w)."""

    light: NDArray[np.float32]
    label: NDArray[np.uint8]
    marks: NDArray[np.uint16]

    def haze(self) -> float:
        """What the lens spreads, and the dark in which nothing shows."""
        metal = self.light[np.isin(self.label, METAL)]
        bright = float(np.quantile(metal, 0.9)) if len(metal) else 1.0
        return max(HAZE * bright, DARK)


def linear(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Light of 8-bit sRGB (IEC 61966-2-1), 0 to 1."""
    x = np.arange(256) / 255.0
    table = np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)
    return np.asarray(table.astype(np.float32)[rgb], np.float32)


def areas(picture: Picture, name: str, bit: int) -> Iterator[tuple[Box, Mask]]:
    """Each connected area of a mark, as a box and the mask in it, with a rim for its ring."""
    bearing = picture.marks & bit > 0
    if name in ("hole", "char"):
        bearing &= picture.label == (pt.SOLDER if name == "hole" else pt.INSULATION)
    rows, columns = bearing.any(axis=1).nonzero()[0], bearing.any(axis=0).nonzero()[0]
    if not len(rows):
        return
    y0, x0 = int(rows[0]), int(columns[0])
    inner = bearing[y0 : rows[-1] + 1, x0 : columns[-1] + 1]
    found, count = ndimage.label(inner, np.ones((3, 3)))
    edge = RING_PX + 1
    high, wide = bearing.shape
    for k, part in enumerate(ndimage.find_objects(found, count), 1):
        top, left = part[0].start + y0, part[1].start + x0
        bottom, right = part[0].stop + y0, part[1].stop + x0
        box = np.s_[
            max(0, top - edge) : min(high, bottom + edge),
            max(0, left - edge) : min(wide, right + edge),
        ]
        mine = np.zeros(bearing[box].shape, bool)
        at = np.s_[
            top - box[0].start : bottom - box[0].start, left - box[1].start : right - box[1].start
        ]
        mine[at] = found[part] == k
        yield box, mine


def middle(box: Box, mine: Mask) -> Array:
    """Middle (x, y) of an area, pixels of the picture."""
    ys, xs = np.nonzero(mine)
    return np.array([xs.mean() + box[1].start, ys.mean() + box[0].start])


def shows(picture: Picture, name: str, box: Box, mine: Mask, haze: float, d_px: float) -> bool:
    """Whether an area of the mark `name` (hole, char, dry or spike) stands out in the photo."""
    if name == "spike":
        wide, area = _wider(box, mine, picture.label.shape, RING_PX)
        return outline_shows(picture.light[wide], area, haze)
    if name == "dry":
        wide, area = _wider(box, mine, picture.label.shape, round(ACROSS_D * d_px) + 2)
        return seam_shows(picture.light[wide], picture.label[wide], area, d_px, haze)
    own = pt.SOLDER if name == "hole" else pt.INSULATION
    bit = pt.HOLE if name == "hole" else pt.CHAR
    beside = (picture.label[box] == own) & (picture.marks[box] & bit == 0)
    if not spot_differs(picture.light[box].astype(float), mine, beside, haze):
        return False
    return name == "char" or _is_singular(picture, box, mine, haze, d_px)


def _wider(box: Box, mine: Mask, shape: tuple[int, ...], by_px: int) -> tuple[Box, Mask]:
    """The box with a rim of `by_px` round it, within the picture, and the area in it."""
    wide = tuple(
        slice(max(0, s.start - by_px), min(n, s.stop + by_px))
        for s, n in zip(box, shape, strict=True)
    )
    before = [s.start - w.start for s, w in zip(box, wide, strict=True)]
    rim = [(b, w.stop - s.stop) for b, s, w in zip(before, box, wide, strict=True)]
    return wide, np.pad(mine, rim)


def _is_singular(picture: Picture, box: Box, mine: Mask, haze: float, d_px: float) -> bool:
    x, y = middle(box, mine).astype(int)
    r = round(ROUND_D * d_px)
    wide = np.s_[max(0, y - r) : y + r, max(0, x - r) : x + r]
    spot = np.zeros(picture.label.shape, bool)
    spot[box] = mine
    beside = (picture.label[wide] == pt.SOLDER) & (picture.marks[wide] & pt.HOLE == 0)
    return singular(picture.light[wide].astype(float), spot[wide], beside, haze)


def seam_shows(
    light: NDArray[np.float32], label: NDArray[np.uint8], mine: Mask, d_px: float, haze: float
) -> bool:
    """Whether a dark line between metals runs along most of a dry stretch's mark (h, w).

    Across the middle line of the mark the light is looked at: somewhere near the middle it must be
    darker, by LEAST_CONTRAST, than metal on both of its sides, and not beside insulation.
    """
    ys, xs = np.nonzero(skeletonize(mine))
    points = np.stack([xs, ys], -1).astype(float)
    if len(points) < FEWEST:
        return False
    tone = np.log(light.mean(axis=-1) + haze).astype(np.float32)
    normals = _normals(points, max(4.0, SEAM_D * d_px))
    most = ACROSS_D * d_px
    offsets = np.arange(-np.ceil(most / STEP_PX), np.ceil(most / STEP_PX) + 1) * STEP_PX
    at = points[:, None] + offsets[None, :, None] * normals[:, None]
    maps = [at[..., k].astype(np.float32) for k in (0, 1)]
    across = cv2.remap(tone, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    kinds = cv2.remap(label, *maps, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    metal = np.isin(kinds, METAL)
    near = np.flatnonzero(np.abs(offsets) <= SEAM_D * d_px)
    depth = np.full((len(points), len(near)), -np.inf)
    for flank in FLANKS_D:
        k = max(1, round(flank * d_px / STEP_PX))
        sides = np.minimum(across[:, near - k], across[:, near + k])
        between = metal[:, near - k] & metal[:, near + k]
        depth = np.maximum(depth, np.where(between, sides - across[:, near], -np.inf))
    told = depth.max(axis=1) >= LEAST_CONTRAST
    away = ndimage.distance_transform_edt(label != pt.INSULATION)
    return bool((told & (away[ys, xs] > SHADE_D * d_px)).mean() >= TOLD)


def outline_shows(light: NDArray[np.float32], mine: Mask, haze: float) -> bool:
    """Whether light differs by LEAST_CONTRAST across enough of the outline of an area (h, w)."""
    logs = np.log(light + haze).astype(np.float32)
    edges, _ = cv2.findContours(mine.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    points = np.concatenate(edges)[:, 0].astype(np.float32)
    within = ndimage.distance_transform_edt(mine)
    away = (ndimage.distance_transform_edt(~mine) - within).astype(np.float32)
    slope = np.gradient(cv2.GaussianBlur(away, (0, 0), OUTLINE_PX))
    x, y = points.astype(int).T
    out = np.stack([slope[1][y, x], slope[0][y, x]], -1)
    out /= np.linalg.norm(out, axis=1, keepdims=True) + 1e-6

    def at(by_px: float) -> Array:
        place = (points + by_px * out).astype(np.float32)[:, None]
        maps = place[..., 0], place[..., 1]
        seen = cv2.remap(logs, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(seen[:, 0], float)

    beyond = (at(2 * OUTLINE_PX) + at(3 * OUTLINE_PX)) / 2
    contrast = np.abs(at(-OUTLINE_PX) - beyond).max(axis=1)
    return bool((contrast >= LEAST_CONTRAST).mean() >= OUTLINED)


def _normals(points: Array, radius: float) -> Array:
    """Unit vectors (n, 2) across a line given as unordered points (n, 2)."""
    tree = cKDTree(points)
    out = np.zeros_like(points)
    for k, near in enumerate(tree.query_ball_point(points, radius)):
        spread = points[near] - points[near].mean(axis=0)
        _, _, ways = np.linalg.svd(spread, full_matrices=True)
        out[k] = ways[1]
    return out
