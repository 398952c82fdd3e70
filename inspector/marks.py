"""Areas that the network marked, and how sure it is of them and of its labels.

Shared by the checks that look for something that should not be there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from inspector.areas import Box, around, boxed_parts, extent_d, placed
from inspector.model import Joint, Mark, Mask, Points
from inspector.probability import conformance

SURE_WITHIN_D = 0.12
WEAK = 0.25  # mark probability from which an area is looked at; its certainty is weighed later
CORES = (0.5, 0.75)  # a core this sure in a weaker surrounding is looked at by itself ...
CLEARER = 1.25  # ... if it is surer than the whole by this factor; ours, no source
AS_TELLING = 0.95  # share of the most telling thing's weight from which size decides
THIN = 2.0  # times the least size: so long a crack is no noise, however narrow


class Thing(NamedTuple):
    """One of several things found: size and its standard uncertainty in one unit, presence 0..1."""

    size: float
    u: float
    presence: float


def most_telling(things: Sequence[Thing], limit: float) -> tuple[int, float]:
    """Which of the `things` is to be measured, and how surely one like it is there, 0..1.

    Each weighs by the probability that it is there and over `limit`: a faint large one must not
    speak for a sure small one. Of those that weigh as good as most the largest is named, with the
    presence of the surest of them, so that one thing more never makes a joint look better.
    """
    weights = [t.presence * (1.0 - conformance(t.size, t.u, "max", limit)) for t in things]
    enough = AS_TELLING * max(weights)
    equal = [k for k, weight in enumerate(weights) if weight >= enough]
    named = max(equal, key=lambda k: things[k].size * things[k].presence)
    return named, max(things[k].presence for k in equal if weights[k] > 0 or k == named)


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


def marked(joint: Joint, mark: Mark, within: Mask, most_px: float) -> tuple[Mask, float]:
    """The area of `mark` inside `within` (h, w) and how sure the network is of it, 0..1.

    most_px: the area that is allowed. Nothing marked is an empty mask, sure.
    """
    mask, presence, _ = telling_area(blobs(joint, mark, within), within, most_px)
    return mask, presence


@dataclass(frozen=True, slots=True)
class Blob:
    """One area that the network marked: mask (h, w) and how sure the network is, 0..1."""

    mask: Mask
    probability: float


def telling_area(
    found: Sequence[Blob], within: Mask, most_px: float
) -> tuple[Mask, float, tuple[Blob, ...]]:
    """What of the areas inside `within` (h, w) speaks most against the joint, together.

    The surest alone, or with the next, and so on, each time as sure as the least sure of them: a
    large faint area must not hide a small sure one. most_px: the area that is allowed. Gives the
    mask, its presence 0..1, and the areas that it is made of; nothing is an empty mask, sure.
    """
    masks, things = [], []
    every = np.zeros_like(within)
    for blob in found:
        every = every | (blob.mask & within)
        area = float(every.sum())
        if area > 0:
            masks.append(every)
            things.append(Thing(area, 2.0 * area**0.5, blob.probability))
    if not things:
        return every, 1.0, ()
    named, presence = most_telling(things, most_px)
    own = [b for b in found if b.probability >= things[named].presence and (b.mask & within).any()]
    whole = [b for b in own if not any(_inside(b, other) for other in own)]
    return masks[named], presence, tuple(whole)


def telling_extent(
    joint: Joint, found: Sequence[Blob], edges_d: float, most_d: float
) -> tuple[float, float, Mask] | None:
    """The area whose extent speaks most against the joint: extent in D, presence 0..1 and mask.

    edges_d: standard uncertainty of an extent; most_d: the extent that is allowed. None where
    nothing is found.
    """
    things = [Thing(extent_d(joint, blob.mask), edges_d, blob.probability) for blob in found]
    if not any(thing.size > 0 for thing in things):
        return None
    named, presence = most_telling(things, most_d)
    return things[named].size, presence, found[named].mask


def _inside(blob: Blob, other: Blob) -> bool:
    """Whether an area is the core of the other one."""
    return blob is not other and not (blob.mask & ~other.mask).any()


def blobs(joint: Joint, mark: Mark, within: Mask, least_d: float = 0.03) -> list[Blob]:
    """Areas of `mark` that touch `within`, surest first; smaller than `least_d` D across: noise.

    Each area keeps the pixels of at least half its own certainty, so that a weak mark is measured
    at its true size too and is only believed less. An area with a much surer core is given twice,
    as a whole and as that core. What is narrow but long, such as a crack, is no noise.
    """
    chance = joint.patch.marks[int(mark)]
    found = []
    for box, part in _no_noise(joint, chance >= WEAK, least_d):
        here, near = chance[box], within[box]
        if not (part & near).any():
            continue
        p = float(np.percentile(here[part], 90))
        found.append(Blob(placed(part & (here >= 0.5 * p), box, within), p))
        for level in CORES:
            for inner, core in _no_noise(joint, part & (here >= level), least_d):
                if not (core & near[inner]).any():
                    continue
                surer = float(np.percentile(here[inner][core], 90))
                if surer >= CLEARER * p:
                    kept = placed(core & (here[inner] >= 0.5 * surer), inner, part)
                    found.append(Blob(placed(kept, box, within), surer))
    return sorted(found, key=lambda blob: -blob.probability)


def _no_noise(joint: Joint, mask: Mask, least_d: float) -> list[tuple[Box, Mask]]:
    """Connected parts of `mask` that are `least_d` D across, or longer than twice that."""
    least_px = max(2, round((least_d * joint.d_px) ** 2))
    long_px = max(2, round(THIN * least_d * joint.d_px))
    return [
        (box, part)
        for box, part in boxed_parts(mask, min(least_px, long_px))
        if np.count_nonzero(part) >= least_px or extent_d(joint, part) > THIN * least_d
    ]
