"""Shrinking pictures with their truth so that thin strands survive."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.model import Region

IGNORED = 255  # no truth here: outside the scene
UNKNOWN, NEAR = -1, -2  # of a fault: not seen, too near its limit to be taught
STRAND_SHARE = 0.25  # a pixel that strands cover to this share is strand

Picture = NDArray[np.uint8]
Bits = NDArray[np.uint16]


def shrink_labels(labels: Picture, width: int, height: int) -> Picture:
    """Labels (H, W) at a smaller size by area: the largest share wins, strands from a quarter."""
    size = (width, height)
    best = np.zeros((height, width), np.uint8)
    share = np.zeros((height, width), np.uint8)
    for region in np.flatnonzero(np.bincount(labels.ravel(), minlength=len(Region))):
        part = (labels == region).view(np.uint8) * np.uint8(255)
        part = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
        if region == Region.STRAND:
            part = np.where(part >= STRAND_SHARE * 255, np.uint8(255), np.uint8(0))
            wins = part > 0
        else:
            wins = (part > share) & (best != Region.STRAND)
        best[wins] = region
        share[wins] = part[wins]
    return best


def shrink_bits(bits: Bits, width: int, height: int) -> Bits:
    """Mark bits (H, W) at a smaller size: four samples of each pixel, or-ed, so thin marks stay."""
    ys = (np.arange(height * 2) + 0.5) * bits.shape[0] / (height * 2)
    xs = (np.arange(width * 2) + 0.5) * bits.shape[1] / (width * 2)
    fine = bits[np.ix_(ys.astype(np.intp), xs.astype(np.intp))]
    fine = fine[0::2] | fine[1::2]
    return np.ascontiguousarray(fine[:, 0::2] | fine[:, 1::2])


def shrink_picture(rgb: Picture, width: int, height: int) -> Picture:
    """Picture (H, W, 3) or (H, W) at a smaller size by area."""
    return np.asarray(cv2.resize(rgb, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
