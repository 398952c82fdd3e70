"""Marks that nobody could see in the picture are taken off: a pit in a black mirror, black char.

The mark of a pit or of burnt insulation stays only where its light differs from what lies round
it. The radiance before the camera's noise decides, so that a mark does not hang on the noise.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from . import part as pt
from .buffers import Buffers

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
# Natural logarithm of the ratio of radiances, in the channel where it is largest: a third more or
# less light. Common practice, no source: a tenth of that is seen on a lit page, not on a mirror.
LEAST_CONTRAST = 0.35
RING_PX = 5
FEWEST = 4  # pixels of a mark, or beside it, that make a median
HAZE = 0.01  # of the joint's bright metal: what any lens spreads into the dark


def only_seen(buffers: Buffers) -> Buffers:
    """The buffers without those marks HOLE and CHAR whose areas do not stand out."""
    marks = buffers.marks.copy()
    for bit, label in ((pt.HOLE, pt.SOLDER), (pt.CHAR, pt.INSULATION)):
        bearing = (marks & bit > 0) & (buffers.label == label)
        beside = (buffers.label == label) & ~bearing
        areas, count = ndimage.label(bearing, np.ones((3, 3)))
        for k, box in enumerate(ndimage.find_objects(areas, count), 1):
            wide = tuple(slice(max(0, s.start - RING_PX - 1), s.stop + RING_PX + 1) for s in box)
            mine = areas[wide] == k
            if not _stands_out(buffers, wide, mine, beside[wide]):
                marks[wide] &= np.where(mine, ~np.uint16(bit), np.uint16(0xFFFF))
    return replace(buffers, marks=marks)


def _stands_out(buffers: Buffers, box: tuple[slice, ...], mine: Mask, beside: Mask) -> bool:
    """Whether the pixels `mine` of a box differ in light from those beside them."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * RING_PX + 1, 2 * RING_PX + 1))
    ring = (cv2.dilate(mine.astype(np.uint8), disc) > 0) & beside
    if mine.sum() < FEWEST or ring.sum() < FEWEST:
        return bool(mine.sum() >= FEWEST)  # nothing of its kind beside it to compare with
    light = buffers.radiance[box]
    own = buffers.joint[box][mine]
    metal = buffers.radiance[(buffers.joint == own[0]) & (buffers.label != pt.INSULATION)]
    haze = HAZE * float(np.quantile(metal, 0.9)) if len(metal) else HAZE * float(light.max())
    inside, outside = (np.median(light[m], axis=0) + haze + 1e-9 for m in (mine, ring))
    return float(np.abs(np.log(inside / outside)).max()) >= LEAST_CONTRAST
