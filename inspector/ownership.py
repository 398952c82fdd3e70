"""Which pixels belong to which joint, where wires and cups lie side by side."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

from inspector.frame import Ruler, unit
from inspector.links import Link
from inspector.model import Joint, Region
from inspector.outline import is_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Mask, Patch, Points

JOINT_REGIONS = (
    Region.INSULATION,
    Region.CONDUCTOR,
    Region.SOLDER,
    Region.TERMINAL,
    Region.STRAND,
    Region.SLEEVE,
)
BEHIND_D, BEYOND_D, ASIDE_D = 2.2, 3.2, 1.6  # how far a joint's own pixels may lie from its axis
WIRE_FROM_D, WIRE_ASIDE_D = -0.3, 0.75  # behind this s, pixels farther aside are another wire


def shares_of_insulation(patch: Patch, links: Sequence[Link]) -> list[Mask | None]:
    """Pixels in or beside insulation that are nearer to each wire's line than to another's.

    None for a wire that has no other near it.
    """
    shares: list[Mask | None] = [None] * len(links)
    if len(links) == 1:
        return shares
    inside = is_any(patch.labels, (Region.INSULATION,)).astype(np.uint8)
    rows, columns = np.nonzero(cv2.dilate(inside, np.ones((3, 3), np.uint8)))
    grid = np.stack([columns, rows], axis=-1).astype(float)
    away = [_to_line(grid, one) for one in links]
    for index, one in enumerate(links):
        others = [
            away[k]
            for k, other in enumerate(links)
            if other is not one
            and np.hypot(*(other.end.peak.point - one.end.peak.point)) < 3 * one.end.d_px
        ]
        if others:
            keep = np.zeros(patch.labels.shape, bool)
            keep[rows, columns] = away[index] <= np.min(others, axis=0)
            shares[index] = keep
    return shares


def _to_line(grid: Points, one: Link) -> Points:
    """Distance of each grid point to the wire behind `one`'s end (a half line)."""
    offset = grid - one.end.peak.point
    length = one.lip.point - one.end.peak.point
    a = unit(length) if np.hypot(*length) > 0.5 * one.end.d_px else one.end.direction
    back = np.minimum(offset @ a, np.hypot(*length))
    return np.asarray(np.hypot(*np.moveaxis(offset - back[..., None] * a, -1, 0)), float)


def owners(patch: Patch, drafts: Sequence[tuple[Joint, Link, Ruler]]) -> np.ndarray:
    """For each pixel the index of the joint whose line is nearest, -1 for none."""
    metal = is_any(patch.labels, JOINT_REGIONS)
    rows, columns = np.nonzero(metal)
    grid = np.stack([columns, rows], axis=1).astype(float)
    owner = np.full(patch.labels.shape, -1, np.int16)
    best = np.full(len(grid), np.inf)
    mine = np.full(len(grid), -1, np.int16)
    for index, (joint, _, ruler) in enumerate(drafts):
        end, lip, d_px = np.array(joint.end), np.array(joint.lip), joint.d_px
        back = end - BEHIND_D * d_px * ruler.direction
        ahead = lip + BEYOND_D * d_px * np.array(joint.axis)
        line = np.array([back, end, lip, ahead])
        low, high = line.min(axis=0) - ASIDE_D * d_px, line.max(axis=0) + ASIDE_D * d_px
        near = np.flatnonzero(((grid >= low) & (grid <= high)).all(axis=1))
        places = grid[near]
        distance = np.full(len(places), np.inf)
        for one, two in pairwise(line):
            distance = np.minimum(distance, to_segment(places, one, two))
        along = joint.to_frame(places)[:, 0]
        # insulation of other wires that pass close by is not this joint's
        room = np.where(along < WIRE_FROM_D, WIRE_ASIDE_D, ASIDE_D) * d_px
        better = (distance <= room) & (distance < best[near])
        best[near[better]], mine[near[better]] = distance[better], index
    owner[rows, columns] = mine
    return owner


def to_segment(grid: Points, one: Points, two: Points) -> Points:
    """Distance of points (n, 2) to the segment between `one` and `two`."""
    run = two - one
    share = np.clip(((grid - one) @ run) / max(float(run @ run), 1e-9), 0, 1)
    return np.asarray(np.hypot(*(grid - one - share[:, None] * run).T), float)


def touching(mine: Mask, joint: Joint) -> Mask:
    """The part of `mine` that hangs together with the joint's axis, small gaps allowed."""
    kernel = np.ones((3, 3), np.uint8)
    grown = cv2.dilate(mine.astype(np.uint8), kernel)
    _, parts = cv2.connectedComponents(grown, connectivity=8)
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    line = joint.from_frame(np.stack([np.linspace(-0.6, lip_s + 0.5, 60), np.zeros(60)], axis=1))
    height, width = mine.shape
    x = np.clip(np.rint(line[:, 0]).astype(int), 0, width - 1)
    y = np.clip(np.rint(line[:, 1]).astype(int), 0, height - 1)
    on_axis = np.unique(parts[y, x])
    return np.asarray(mine & np.isin(parts, on_axis[on_axis > 0]), bool)
