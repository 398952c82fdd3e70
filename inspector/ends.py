"""Ends of insulation, marked by the network or not, and where a terminal begins ahead of one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from inspector.frame import rough_direction, rough_width
from inspector.model import Mark, Region
from inspector.outline import is_any, pick
from inspector.peaks import Peak, find_peaks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Mask, Patch, Points

LEAST_D_PX = 4.0  # a wire thinner than this in the patch has no measurable outline
DERIVED = 0.3  # strength given to a place derived from regions alone
SHORTEST, LONGEST = 0.25, 1.3  # length of an interface in widths of the wire
LONGEST_D = 5.0  # bare length beyond which two peaks are not taken for one joint
WHOLE = 0.72  # share of a line that metal covers where nothing lies over it
RIM = 2  # samples of terminal across a station: a filled cup shows only its rim
CHAIN = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL, Region.SLEEVE, Region.STRAND)
JOINED = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL, Region.SLEEVE)


@dataclass(frozen=True, slots=True)
class WireEnd:
    """An end of insulation: its peak, rough width in pixels and rough unit direction (2,)."""

    peak: Peak
    d_px: float
    direction: Points


def wire_ends(patch: Patch) -> tuple[WireEnd, ...]:
    """Ends of insulation: the network's peaks, then interfaces that have none."""
    inside = is_any(patch.labels, (Region.INSULATION,))
    if not inside.any():
        return ()
    peaks = list(find_peaks(patch.marks[Mark.END]))
    found = [end for peak in peaks if (end := _wire_end(inside, peak, peaks)) is not None]
    for peak in _interfaces(patch, inside):
        near = [e for e in found if np.hypot(*(e.peak.point - peak.point)) < 0.8 * e.d_px]
        end = None if near else _wire_end(inside, peak, peaks)
        if end is not None:
            found.append(end)
    return tuple(found)


def _wire_end(inside: Mask, peak: Peak, peaks: Sequence[Peak]) -> WireEnd | None:
    """The wire at `peak`, or None where no insulation is near."""
    d_px = rough_width(inside, peak.point)
    others = [o.point for o in peaks if o is not peak]
    close = [float(np.hypot(*(point - peak.point))) for point in others]
    close = [distance for distance in close if distance > 0.25 * d_px]
    if close:  # wires that touch side by side look like one wide one
        d_px = min(d_px, 1.15 * min(close))
    if d_px < LEAST_D_PX:
        return None
    direction = rough_direction(inside, peak.point, d_px, others)
    return WireEnd(peak, d_px, direction) if direction.any() else None


def _interfaces(patch: Patch, inside: Mask) -> list[Peak]:
    """Middles of the borders between insulation and metal (or sleeve)."""
    kernel = np.ones((3, 3), np.uint8)
    metal = is_any(patch.labels, JOINED).astype(np.uint8)
    border = cv2.dilate(metal, kernel) & inside.astype(np.uint8)
    count, parts, stats, centres = cv2.connectedComponentsWithStats(
        cv2.dilate(border, np.ones((5, 5), np.uint8)), connectivity=8
    )
    del parts
    found = []
    for k in range(1, min(count, 40)):
        at = (float(centres[k][0]), float(centres[k][1]))
        length = float(max(stats[k][cv2.CC_STAT_WIDTH], stats[k][cv2.CC_STAT_HEIGHT])) - 4.0
        width = rough_width(inside, np.array(at))
        if width > 0 and SHORTEST <= length / width <= LONGEST:
            found.append(Peak(at, DERIVED))
    return found


def derive_lip(patch: Patch, end: WireEnd) -> Peak | None:
    """Where the terminal begins ahead of an end without a lip peak; None if it does not."""
    a, d_px = end.direction, end.d_px
    normal = np.array([-a[1], a[0]])
    stations = np.arange(0.0, LONGEST_D * d_px)
    aside = np.linspace(-0.5, 0.5, 21) * d_px
    points = end.peak.point + stations[:, None, None] * a + aside[None, :, None] * normal
    labels = pick(patch.labels, points)
    terminal = np.count_nonzero(is_any(labels, (Region.TERMINAL,)), axis=1) >= RIM
    metal = np.asarray(is_any(labels, CHAIN).any(axis=1))
    start = int(0.15 * d_px)
    run = max(2, int(0.15 * d_px))
    share = np.convolve(terminal.astype(float), np.ones(run), "valid")
    hits = np.flatnonzero(share >= 0.8 * run)
    if len(hits) == 0 or float(metal[start : max(hits[0], start + 1)].mean()) < WHOLE:
        return None
    spot = end.peak.point + float(hits[0]) * a
    return Peak((float(spot[0]), float(spot[1])), DERIVED)
