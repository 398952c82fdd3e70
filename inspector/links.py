"""Which end of insulation belongs to which lip: candidates, chains between them, assignment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from inspector.frame import rough_direction, rough_width, unit
from inspector.model import Mark, Region
from inspector.outline import is_any, pick
from inspector.peaks import Peak, find_peaks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Mask, Patch, Points

LONGEST_D = 5.0  # bare length beyond which two peaks are not taken for one joint
WIDEST_DEG = 55.0  # between the wire's direction and the line from end to lip
WHOLE, BROKEN = 0.72, 0.35  # shares of the line that metal covers: linked; linked but covered
LEAST_D_PX = 4.0  # a wire thinner than this in the patch has no measurable outline
DERIVED = 0.3  # strength given to a place derived from regions alone
GUESSED = 3.0  # what a place costs that the network did not mark: it gives way to one it did
APART_D = 0.25  # ends farther apart than this, across the wire or along it, are two wires
BESIDE = 0.8  # ... and two that share a lip, nearer than this share of a width, share a cup
BEHIND_D = 1.2  # ... and one nearer than this behind another's end is not the wire's other end
DIRECTED_D = 0.4  # end and lip farther apart than this have a direction
NEAR_D = 2.5  # peaks nearer than this may belong together whatever lies around
SURE_PEAK, SURE_DEG, SURE_D = 0.4, 25.0, 3.5  # where peaks alone make a joint, though covered
SHORTEST, LONGEST = 0.25, 1.3  # length of an interface in widths of the wire
RIM_D = 0.42  # how far the insulation reaches past the middle of its end, seen from behind
RIM = 2  # samples of terminal across a station: a filled cup shows only its rim
CHAIN = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL, Region.SLEEVE, Region.STRAND)
JOINED = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL, Region.SLEEVE)


@dataclass(frozen=True, slots=True)
class WireEnd:
    """An end of insulation: its peak, rough width in pixels and rough unit direction (2,)."""

    peak: Peak
    d_px: float
    direction: Points


@dataclass(frozen=True, slots=True)
class Link:
    """An end with its lip. chain: share of metal between them; cost: lower is better."""

    end: WireEnd
    lip: Peak
    chain: float
    cost: float


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


def chain_share(patch: Patch, end: Points, lip: Points, d_px: float) -> float:
    """Share of the line from `end` to `lip` that metal covers, a little off the line allowed.

    Seen from behind, the rim of the insulation reaches over the middle of its own end; what it
    covers there does not count.
    """
    length = float(np.hypot(*(lip - end)))
    if length < 0.25 * d_px:
        return 1.0
    along = np.linspace(0.12 * d_px / length, 1.0, max(4, int(length)))[:, None]
    a = unit(lip - end)
    aside = np.array([-0.12, 0.0, 0.12])[None, :, None] * d_px * np.array([-a[1], a[0]])
    points = (end + along * (lip - end))[:, None, :] + aside
    labels = pick(patch.labels, points)
    metal = np.asarray(is_any(labels, CHAIN).any(axis=1), bool)
    rim = is_any(labels, (Region.INSULATION,)).all(axis=1) & (along[:, 0] * length < RIM_D * d_px)
    first = int(np.argmin(rim)) if not rim.all() else len(rim)
    return float(metal[first:].mean()) if first < len(metal) else 0.0


def _fits(patch: Patch, end: WireEnd, lip: Peak) -> Link | None:
    """The link between `end` and `lip`, or None when they cannot be one joint."""
    offset = lip.point - end.peak.point
    length = float(np.hypot(*offset)) / end.d_px
    if length > LONGEST_D:
        return None
    angle = 0.0
    if length > DIRECTED_D:
        cosine = float(np.clip(unit(offset) @ end.direction, -1, 1))
        angle = float(np.degrees(np.arccos(cosine)))
    chain = chain_share(patch, end.peak.point, lip.point, end.d_px)
    sure = min(end.peak.strength, lip.strength) > SURE_PEAK
    if angle > WIDEST_DEG:
        # insulation of another wire that crosses there can hide which way this one lies
        if not (sure and chain >= WHOLE and length < NEAR_D and _backed(patch, end, lip)):
            return None
        angle, end = WIDEST_DEG, replace(end, direction=unit(offset))
    sound = sure and angle < SURE_DEG and length < SURE_D
    if chain < (BROKEN if sound else WHOLE):
        return None
    cost = length * (1.0 + (angle / 30.0) ** 2) + 4.0 * (1.0 - chain)
    return Link(end, lip, chain, cost + GUESSED * (2.0 - end.peak.strength - lip.strength))


def _backed(patch: Patch, end: WireEnd, lip: Peak) -> bool:
    """Whether insulation lies behind `end` as seen from `lip`."""
    a = unit(lip.point - end.peak.point)
    behind = end.peak.point - np.linspace(0.1, 0.4, 7)[:, None] * end.d_px * a
    return float(is_any(pick(patch.labels, behind), (Region.INSULATION,)).mean()) > WHOLE


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


def link(patch: Patch) -> tuple[tuple[Link, ...], tuple[Link, ...]]:
    """Joints as links, and links of further wires that end on a lip already taken."""
    ends, lips = wire_ends(patch), find_peaks(patch.marks[Mark.LIP])
    possible = [one for end in ends for lip in lips if (one := _fits(patch, end, lip)) is not None]
    chosen: list[Link] = []
    for one in sorted(possible, key=lambda item: item.cost):
        if all(one.end.peak is not other.end.peak and one.lip is not other.lip for other in chosen):
            chosen.append(one)
    extra: list[Link] = []
    for end in ends:
        if _told(end, chosen):
            continue
        rivals = [one for one in possible if one.end.peak is end.peak and one.chain >= WHOLE]
        if end.peak.strength > DERIVED and any(_shared(patch, one, chosen) for one in rivals):
            extra.append(min(rivals, key=lambda item: item.cost))
            continue
        own = derive_lip(patch, end)
        taken = [other for other in chosen if own is not None and _near(own, other, end.d_px)]
        if own is not None and not taken and end.peak.strength > 0:
            one = _fits(patch, end, own)
            if one is not None:
                chosen.append(one)
            continue
        rivals = [one for one in rivals if _second(one, chosen)]
        if rivals and end.peak.strength > DERIVED:
            extra.append(min(rivals, key=lambda item: item.cost))
        elif end.peak.strength > SURE_PEAK:  # its strands are hidden: it lies behind the first
            extra += [replace(one, end=end, chain=0.0) for one in chosen if _on_wire(end, one)][:1]
    return tuple(chosen), tuple(extra)


def _told(end: WireEnd, chosen: Sequence[Link]) -> bool:
    """Whether `end` is a joint's own, or insulation in the solder of a joint that has its end."""
    weak = end.peak.strength <= DERIVED
    return any(end.peak is one.end.peak or (weak and _within(end, one)) for one in chosen)


def _near(lip: Peak, other: Link, d_px: float) -> bool:
    return float(np.hypot(*(lip.point - other.lip.point))) < 0.7 * d_px


def _within(end: WireEnd, other: Link) -> bool:
    """Whether `end` lies beside the line from another joint's end to its lip."""
    start = other.end.peak.point
    run = other.lip.point - start
    share = float(np.clip((end.peak.point - start) @ run / max(float(run @ run), 1e-9), 0, 1))
    return float(np.hypot(*(end.peak.point - start - share * run))) < other.end.d_px


def _on_wire(end: WireEnd, other: Link) -> bool:
    """Whether `end` lies on another joint's wire, a little behind its end."""
    a = other.end.direction
    apart = (end.peak.point - other.end.peak.point) / other.end.d_px
    across = abs(float(apart @ np.array([-a[1], a[0]])))
    return APART_D < -float(apart @ a) < BEHIND_D and across < BESIDE


def _shared(patch: Patch, one: Link, chosen: Sequence[Link]) -> bool:
    """Whether `one` and a chosen joint share their lip, their ends nearer than wires can lie.

    Poles of a connector are a wire's diameter apart at least, so these go into one cup: beside
    each other, or one before the other.
    """
    for other in chosen:
        if other.lip is one.lip:
            width = rough_width(is_any(patch.labels, (Region.INSULATION,)), other.end.peak.point)
            apart = float(np.hypot(*(one.end.peak.point - other.end.peak.point)))
            return apart < BESIDE * width
    return False


def _second(one: Link, chosen: Sequence[Link]) -> bool:
    """Whether `one` brings a second wire to a lip: its end beside the first one's, or behind it."""
    for other in chosen:
        if other.lip is one.lip:
            a = other.end.direction
            apart = one.end.peak.point - other.end.peak.point
            across, behind = abs(float(apart @ np.array([-a[1], a[0]]))), -float(apart @ a)
            return max(across, behind) > APART_D * other.end.d_px
    return False
