"""Whether something stands out from what lies beside it, as a person would see it.

Two things are asked, of the radiance before the camera's noise, so that truth does not hang on the
noise. The light differs by LEAST_CONTRAST. And it differs by more than what lies beside it differs
in itself: the contrast over its spread, times the root of the number of resolved cells, is at least
5 (A. Rose, The sensitivity performance of the human eye on an absolute scale, J. Opt. Soc. Am. 38,
196, 1948; the figure from memory). Rose counts photons; here the texture is the noise.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .buffers import Buffers

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
# Natural logarithm of the ratio of radiances, in the channel where it is largest: a third more or
# less light. Common practice, no source: a tenth of that is seen on a lit page, not on a mirror.
LEAST_CONTRAST = 0.35
ROSE = 5.0
# The figures from here on are ours, no source.
CELL_PX = 4.0  # a colour sensor resolves two by two pixels
FEWEST = 4  # pixels that make a median
HAZE = 0.01  # of the joint's bright metal: what any lens spreads into the dark
PIXEL = 1.4  # its diagonal
INNER = (0.2, 0.6, 1.0)  # of a line's half width: where each side of it is looked at
STEPS = 4  # a stretch overlaps the next by all but so much of its length
FLANK_PX = (1.5, 2.5, 3.5)  # how far beside a line's edge its flanks are looked at
RING_PX = 5  # round a spot
ALIKE = 0.005  # of the places on its surface may differ as much from what lies round them
TURNS_DEG = (0.0, 45.0, 90.0, 135.0)
WITHIN = 0.9  # of a spot has to lie on the surface to be compared
FEW_SPOTS = 10.0  # times its own pixels: a smaller surface says nothing


def haze_of(buffers: Buffers, joint: int) -> float:
    """What the lens spreads over a joint, in units of radiance."""
    metal = buffers.radiance[(buffers.joint == joint) & (buffers.label != pt.INSULATION)]
    bright = np.quantile(metal, 0.9) if len(metal) else buffers.radiance.max()
    return HAZE * float(bright)


def differs(inside: Array, beside: Array, haze: float) -> bool:
    """Whether the light (n, 3) of some pixels stands out from that (m, 3) of those beside them."""
    if len(inside) < FEWEST or len(beside) < FEWEST:
        return False
    own, other = (np.log(light + haze + 1e-9) for light in (inside, beside))
    middle = np.median(other, axis=0)
    contrast = np.abs(np.median(own, axis=0) - middle)
    spread = 1.4826 * np.median(np.abs(other - middle), axis=0) + 1e-6
    rose = contrast / spread * np.sqrt(len(inside) / CELL_PX)
    return bool(((contrast >= LEAST_CONTRAST) & (rose >= ROSE)).any())


def spot_differs(light: Array, spot: Mask, beside: Mask, haze: float) -> bool:
    """Whether a spot (h, w) stands out from what lies `beside` it (h, w) in a ring round it.

    True too where nothing of its kind lies there to compare with, unless it is tiny itself.
    """
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * RING_PX + 1, 2 * RING_PX + 1))
    ring = (cv2.dilate(spot.astype(np.uint8), disc) > 0) & beside
    if spot.sum() < FEWEST or ring.sum() < FEWEST:
        return bool(spot.sum() >= FEWEST)
    return differs(light[spot], light[ring], haze)


def singular(light: Array, spot: Mask, beside: Mask, haze: float) -> bool:
    """Whether a spot (h, w) is not one of many such: a mirror shows dark dots and lines of its own.

    `light` (h, w, 3) is radiance, `beside` (h, w) the same surface without this spot and its like.
    The spot is laid, in four turns, wherever it fits beside itself; of those places few may differ
    as much from their surroundings, in the same direction. True too if there is too little surface.
    """
    rows, columns = np.nonzero(spot)
    if beside.sum() < FEW_SPOTS * len(rows):
        return True
    ring = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * RING_PX + 1, 2 * RING_PX + 1))
    round_it = (cv2.dilate(spot.astype(np.uint8), ring) > 0) & beside
    if not round_it.any():
        return True
    logs = np.log(light + haze + 1e-9).astype(np.float32)
    own = logs[spot].mean(axis=0) - logs[round_it].mean(axis=0)
    channel = int(np.abs(own).argmax())
    tone, on = logs[..., channel] * np.sign(own[channel]), beside.astype(np.float32)
    reach = int(np.ceil(np.hypot(np.ptp(rows), np.ptp(columns)) / 2)) + 2 * RING_PX
    shape = np.zeros((2 * reach + 1, 2 * reach + 1), np.uint8)
    shape[rows - rows.min() - np.ptp(rows) // 2 + reach,
          columns - columns.min() - np.ptp(columns) // 2 + reach] = 1  # fmt: skip
    alike: list[Array] = []
    for turn in TURNS_DEG:
        matrix = cv2.getRotationMatrix2D((reach, reach), turn, 1.0)
        inner = cv2.warpAffine(shape, matrix, shape.shape, flags=cv2.INTER_NEAREST)
        outer = cv2.dilate(inner, ring) - inner
        (held, own_share), (around, share) = (_means(tone, on, k) for k in (inner, outer))
        fits = (own_share >= WITHIN) & (share * outer.sum() >= FEWEST) & beside
        alike.append((held - around)[fits])
    other = np.concatenate(alike)
    return not len(other) or float((other >= abs(own[channel])).mean()) <= ALIKE


def _means(tone: Array, on: Array, kernel: NDArray[np.uint8]) -> tuple[Array, Array]:
    """Mean of a picture (h, w) under a kernel, of what is `on`; which share of the kernel is."""
    k = kernel.astype(np.float32)
    border = cv2.BORDER_CONSTANT
    count = cv2.filter2D(on, cv2.CV_32F, k, borderType=border)
    total = cv2.filter2D((tone * on).astype(np.float32), cv2.CV_32F, k, borderType=border)
    return total / np.maximum(count, 1e-3), count / max(float(k.sum()), 1.0)


def along(
    buffers: Buffers, xy: Array, half_px: Array, run_px: float, haze: float, *, both: bool = True
) -> Mask:
    """Which points (n, 2) of a line stand out from both of its flanks, or from either.

    Each side of the line is held against its own flank, since a round mirror's two sides differ:
    one may be brighter and the other darker than what lies beyond. A flank that is all strand or
    spike says nothing.

    `half_px` (n,) is half its width. A point does if some stretch of `run_px` that holds it does.
    """
    out = np.zeros(len(xy), bool)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))])
    at = np.arange(0.0, way[-1] + 1e-9, 1.0)
    if len(at) < 2:
        return out
    points = np.stack([np.interp(at, way, xy[:, k]) for k in (0, 1)], -1)
    half = np.interp(at, way, half_px)
    ahead = np.gradient(points, axis=0)
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], -1) / (
        np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-9
    )
    deep = np.maximum(half - PIXEL / 2, 0.0)  # a pixel on the edge is neither in nor out
    inner, outer = [], []
    for side in (-1, 1):
        within = [points + side * k * deep[:, None] * normal for k in INNER]
        beyond = [points + side * (half + f)[:, None] * normal for f in FLANK_PX]
        inner.append(np.stack([_light(buffers, p)[0] for p in within], 1))
        looked = [_light(buffers, p) for p in beyond]
        outer.append((np.stack([k[0] for k in looked], 1), np.stack([k[1] for k in looked], 1)))
    run = max(round(run_px), 3)
    stands = np.zeros(len(points), bool)
    last = max(0, len(points) - run)
    for first in {*range(0, last, max(1, run // STEPS)), last}:
        part = slice(first, first + run)
        # as many pixels as that side of the stretch has, not fewer than it is long
        many = max(FEWEST, round(float(np.maximum(half[part], 1.0).sum())))
        insides = [_some(light[part].reshape(-1, 3), many) for light in inner]
        flanks = [light[part][free[part]] for light, free in outer]
        told = [differs(*pair, haze) for pair in zip(insides, flanks, strict=True) if len(pair[1])]
        if told and (all(told) if both else any(told)):
            stands[part] = True
    out[:] = stands[np.clip(np.rint(way).astype(int), 0, len(stands) - 1)]
    return out


def _some(rows: Array, many: int) -> Array:
    """At most so many of the rows, evenly spread."""
    return rows[np.linspace(0, len(rows) - 1, min(many, len(rows))).astype(int)]


def _light(buffers: Buffers, xy: Array) -> tuple[Array, Mask]:
    """Radiance (n, 3) at points, and which of them lie in the picture and on no strand or spike."""
    h, w = buffers.label.shape
    x, y = np.rint(xy).astype(int).T
    inside = (x >= 0) & (x < w) & (y >= 0) & (y < h)
    x, y = np.clip(x, 0, w - 1), np.clip(y, 0, h - 1)
    thin = (buffers.label[y, x] == pt.STRAND) | (buffers.marks[y, x] & pt.SPIKE > 0)
    return buffers.radiance[y, x].astype(float), inside & ~thin
