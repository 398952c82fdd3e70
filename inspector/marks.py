"""Areas that the network marked, and how sure it is of them and of its labels.

Shared by the checks that look for something that should not be there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.areas import around, parts
from inspector.model import Joint, Mark, Mask, Points

SURE_WITHIN_D = 0.12
WEAK = 0.25  # mark probability from which an area is looked at; its certainty is weighed later


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
