"""Which end of insulation belongs to which lip: candidates, chains between them, assignment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from inspector.ends import CHAIN, DERIVED, JOINED, LONGEST_D, WHOLE, WireEnd, derive_lip, wire_ends
from inspector.frame import rough_width, unit
from inspector.model import Mark, Region
from inspector.outline import is_any, pick, sample
from inspector.peaks import Peak, find_peaks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Patch, Points

WIDEST_DEG = 55.0  # between the wire's direction and the line from end to lip
BROKEN = 0.35  # share of the line that metal covers: linked, but covered
GUESSED = 3.0  # what a place costs that the network did not mark: it gives way to one it did
APART_D = 0.25  # ends farther apart than this, across the wire or along it, are two wires
BESIDE = 0.8  # ... and two that share a lip, nearer than this share of a width, share a cup
BEHIND_D = 1.2  # ... and one nearer than this behind another's end is not the wire's other end
DIRECTED_D = 0.4  # end and lip farther apart than this have a direction
SURE_PEAK, SURE_DEG, SURE_D = 0.4, 25.0, 3.5  # where peaks alone make a joint, though covered
WALL = 0.45  # share of the way to the cup along which its wall may show
AT_END_D = 0.5  # a lip nearer to the end may be the edge of a lump of solder
RIM_D = 0.42  # how far the insulation reaches past the middle of its end, seen from behind


@dataclass(frozen=True, slots=True)
class Link:
    """An end with its lip. chain: share of metal between them; cost: lower is better."""

    end: WireEnd
    lip: Peak
    chain: float
    cost: float


class Linked(NamedTuple):
    """Joints as links; links of further wires on a lip already taken; ends and lips left over."""

    chosen: tuple[Link, ...]
    extra: tuple[Link, ...]
    loose_ends: tuple[WireEnd, ...]
    loose_lips: tuple[Peak, ...]


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
    if rim.all():  # insulation that reaches over the lip: what lies right behind it tells
        beyond = pick(patch.labels, lip + np.linspace(0.1, RIM_D, 8)[:, None] * d_px * a)
        return float(is_any(beyond, JOINED).mean())
    return float(metal[int(np.argmin(rim)) :].mean())


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
        if not (sure and chain >= WHOLE and length < SURE_D and _backed(patch, end, lip)):
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


def link(patch: Patch) -> Linked:
    """The joints of `patch` as links, and what is left over."""
    ends, lips = wire_ends(patch), find_peaks(patch.marks[Mark.LIP])
    possible = [one for end in ends for lip in lips if (one := _fits(patch, end, lip)) is not None]
    chosen: list[Link] = []
    for one in sorted(possible, key=lambda item: item.cost):
        if all(one.end.peak is not other.end.peak and one.lip is not other.lip for other in chosen):
            chosen.append(one)
    chosen = [_beyond_solder(patch, one, possible, chosen) for one in chosen]
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
    used = [*chosen, *extra]
    return Linked(
        tuple(chosen),
        tuple(extra),
        tuple(end for end in ends if all(end.peak is not one.end.peak for one in used)),
        tuple(lip for lip in lips if all(lip is not one.lip for one in used)),
    )


def _beyond_solder(
    patch: Patch, one: Link, possible: Sequence[Link], chosen: Sequence[Link]
) -> Link:
    """`one`, or its end with the next lip straight on, where the terminal is.

    A ring or lump of solder before the cup has an edge toward the insulation that looks like a
    lip; behind it no terminal shows.
    """
    start, a = one.end.peak.point, one.end.direction
    if float(np.hypot(*(one.lip.point - start))) > AT_END_D * one.end.d_px:
        return one
    taken = [other.lip for other in chosen]
    for other in sorted(possible, key=lambda item: item.cost):
        offset = other.lip.point - start
        across = abs(float(offset @ np.array([-a[1], a[0]])))
        ahead = float((other.lip.point - one.lip.point) @ a)
        if (
            other.end.peak is one.end.peak
            and other.chain >= WHOLE
            and all(other.lip is not lip for lip in taken)
            and ahead > across + APART_D * one.end.d_px
            and across < BESIDE / 2 * one.end.d_px
            and _is_cup(patch, one, other)
        ):
            return other
    return one


def _is_cup(patch: Patch, near: Link, far: Link) -> bool:
    """Whether the cup begins at the lip of `far`, not at that of `near`.

    Terminal lies about it, hardly any before it, and the cup's mouth opens behind it.
    """
    d_px = near.end.d_px
    a = unit(far.lip.point - near.lip.point)
    normal = np.array([-a[1], a[0]])
    length = float(np.hypot(*(far.lip.point - near.lip.point)))
    aside = np.linspace(-0.5, 0.5, 21)[None, :, None] * d_px * normal

    def terminal(start: Points, along: Points) -> Points:
        grid = (start + along[:, None] * a)[:, None] + aside
        return np.asarray(is_any(pick(patch.labels, grid), (Region.TERMINAL,)).any(axis=1), float)

    def mouth(lip: Peak) -> float:
        line = lip.point + np.linspace(0.1, 0.5, 9)[:, None] * d_px * a
        return float(np.nan_to_num(sample(patch.marks[Mark.MOUTH], line)).mean())

    before = terminal(near.lip.point, np.linspace(0.1, 0.9, 17) * length)
    about = terminal(far.lip.point, np.linspace(-0.1, 0.4, 11) * d_px)
    opens = mouth(far.lip) > mouth(near.lip) / 2
    return opens and float(before.mean()) < min(WALL, float(about.mean()))


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
