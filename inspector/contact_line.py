"""The line where solder meets other metal, in stretches, and which of its points are dry."""

from __future__ import annotations

import cv2
import numpy as np

from inspector.areas import around, boxed_parts, own, parts, rather, theirs
from inspector.model import Mark, Region, View
from inspector.outline import HALF, Floats, belief, evenly, is_any, outlines, pick, sample
from inspector.trace import centre_line

REACH_PX = 2.5  # how far beside the solder's edge the other metal is looked for
FEWEST, FEWEST_DRY = 4, 3  # pixels of a line, and of a dry stretch, that count
BESIDE_D = 0.06  # a mark nearer than this to the line is that line's own
DRY_PX = 2.0  # how far beside the line its mark may lie
MARK_D2 = 0.006  # a mark smaller than this is noise


def contact_line(view: View) -> list[tuple[np.ndarray, Floats]]:
    """Open stretches of the solder's edge on other metal: points 1 px apart, chance of dry."""
    joint = view.joint
    labels = np.where(joint.own, joint.patch.labels, np.uint8(Region.BACKGROUND))
    solder = belief(joint.patch, (Region.SOLDER,), joint.own)
    dry = joint.patch.marks[Mark.DRY]
    found: list[tuple[np.ndarray, Floats]] = []
    for closed in outlines(solder, 0.1 * joint.d_px):
        points = evenly(closed)
        ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
        normal = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
        normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
        metal = np.zeros(len(points), bool)
        for way in (-REACH_PX, REACH_PX):
            beside = pick(labels, points + way * normal)
            metal |= is_any(beside, (Region.CONDUCTOR, Region.TERMINAL))
        metal = cv2.morphologyEx(  # a pixel of another label does not part the line
            metal.astype(np.uint8)[None, :], cv2.MORPH_CLOSE, np.ones((1, 5), np.uint8)
        )[0].astype(bool)
        if metal.any() and not metal.all():  # start where the line is open
            turn = int(np.argmin(metal))
            points, normal = np.roll(points, -turn, axis=0), np.roll(normal, -turn, axis=0)
            metal = np.roll(metal, -turn)
        ends = np.flatnonzero(np.diff(np.concatenate([[0], metal.astype(int), [0]])))
        for first, last in zip(ends[::2], ends[1::2], strict=True):
            if last - first >= FEWEST:
                part, aside = points[first:last], normal[first:last]
                steps = np.linspace(-DRY_PX, DRY_PX, 5)[:, None, None]
                found.append((part, np.nan_to_num(sample(dry, part + steps * aside)).max(axis=0)))
    return found


def bare_lines(view: View, lines: list[np.ndarray]) -> list[tuple[np.ndarray, Floats]]:
    """Stretches marked as not wetted that no solder touches: points 1 px apart, chance of dry."""
    joint = view.joint
    chance = joint.patch.marks[Mark.DRY]
    metal = own(joint, Region.TERMINAL, Region.CONDUCTOR, Region.SOLDER)
    others = theirs(view)
    dry = np.zeros(chance.shape, bool)
    for box, area in boxed_parts(chance >= HALF, FEWEST):
        if rather(area, joint.own[box], others[box]):
            dry[box] |= area & metal[box]
    if not dry.any():
        return []
    counted = np.zeros(dry.shape, np.uint8)
    x, y = np.rint(np.concatenate(lines)).astype(int).T
    counted[np.clip(y, 0, dry.shape[0] - 1), np.clip(x, 0, dry.shape[1] - 1)] = 1
    beside = around(counted > 0, BESIDE_D * joint.d_px)
    found = []
    for area in parts(dry & ~beside, max(FEWEST, round(MARK_D2 * joint.d_px**2))):
        points = evenly(centre_line(area))
        found.append((points, np.full(len(points), float(np.median(chance[area])))))
    return found


def dry_runs(stretches: list[tuple[np.ndarray, Floats]]) -> list[np.ndarray]:
    """Points of each dry stretch, longest first; breaks of up to 4 px are bridged."""
    runs = []
    for points, dry in stretches:
        bad = cv2.morphologyEx(
            (dry >= HALF).astype(np.uint8)[None, :], cv2.MORPH_CLOSE, np.ones((1, 5), np.uint8)
        )[0]
        ends = np.flatnonzero(np.diff(np.concatenate([[0], bad.astype(int), [0]])))
        pairs = zip(ends[::2], ends[1::2], strict=True)
        runs += [points[i:k] for i, k in pairs if k - i >= FEWEST_DRY]
    return sorted(runs, key=len, reverse=True)
