"""Region map to joints: one wire on one terminal, its axis, its ruler D, its own pixels."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from inspector.ends import WHOLE
from inspector.frame import Ruler, measure_ruler, rough_width, unit
from inspector.links import Link, link
from inspector.model import Joint, Region
from inspector.outline import HALF, belief, is_any, pick, spans_across
from inspector.ownership import JOINT_REGIONS, owners, shares_of_insulation, touching
from inspector.spots import spots
from inspector.straight import robust_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Mask, Patch, Points
    from inspector.outline import Floats

CROPPED_D = 0.5  # visible length behind the end and beyond the lip that a joint must have
DIRECTED_D = 0.15  # end and lip farther apart than this have a direction
TERMINAL, TERMINAL_U = 0.35, 0.08  # slope and its uncertainty up to which a terminal steadies
ONWARD = 0.3  # cosine between the wire and the line to its lip, at least
NARROWER = 0.6  # share of the rough width at which D is looked for again
ASIDE = 0.15  # end off the wire's middle, in D, from which D is not the wire's own
SLEEVED = 0.2  # share of the line from end to lip under a sleeve


def find_joints(
    patch: Patch, kind: str, photo_size: tuple[int, int] | None = None
) -> tuple[Joint, ...]:
    """The joints in `patch`, numbered in reading order; empty when there is none.

    kind: name given to each. photo_size: (width, height) of the photo, where the patch may
    reach beyond it; else the patch's own border counts as the photo's.
    """
    linked = link(patch)
    links, extra = linked.chosen, linked.extra
    shares = shares_of_insulation(patch, links)
    metal = belief(patch, (Region.TERMINAL, Region.SOLDER))
    drafts, broken = [], []
    for one, keep in zip(links, shares, strict=True):
        ruler = _ruler(patch, one, keep, double=_double(one, extra))
        if ruler is not None:
            drafts.append((_draft(patch, kind, one, ruler, metal), one, ruler))
        else:
            broken.append(one)
    owner = owners(patch, drafts)
    found = []
    for index, (bare, one, ruler) in enumerate(drafts):
        own = touching(owner == index, bare)
        own.flags.writeable = False
        joint = replace(bare, own=own)
        problems = _problems(joint, one, ruler, photo_size, double=_double(one, extra))
        found.append(replace(joint, problems=problems))
    return number([*found, *spots(patch, kind, broken, linked, found)])


def number(joints: Sequence[Joint]) -> tuple[Joint, ...]:
    """`joints` numbered from 1 in reading order: rows from the top, left to right in a row."""
    if not joints:
        return ()
    place = [joint.patch.to_photo(np.array([joint.lip]))[0] for joint in joints]
    row_px = float(np.median([joint.d_px * joint.patch.step for joint in joints]))
    rows: list[list[int]] = []
    for index in sorted(range(len(joints)), key=lambda k: float(place[k][1])):
        if rows and place[index][1] - place[rows[-1][0]][1] < row_px:
            rows[-1].append(index)
        else:
            rows.append([index])
    order = [k for row in rows for k in sorted(row, key=lambda k: float(place[k][0]))]
    return tuple(replace(joints[k], number=n) for n, k in enumerate(order, start=1))


def _draft(patch: Patch, kind: str, one: Link, ruler: Ruler, metal: Floats) -> Joint:
    """The joint of a link with its axis and D, its own pixels still unknown."""
    end, lip = one.end.peak.point, one.lip.point
    axis = _axis(metal, end, lip, ruler)
    strength = (one.end.peak.strength + one.lip.strength) / 2
    near = is_any(patch.labels, JOINT_REGIONS)
    spot = pick(near.astype(np.uint8), end + np.linspace(0, 1, 24)[:, None] * (lip - end), 0)
    return Joint(
        number=0,
        kind=kind,
        patch=patch,
        end=(float(end[0]), float(end[1])),
        lip=(float(lip[0]), float(lip[1])),
        axis=(float(axis[0]), float(axis[1])),
        d_px=ruler.d_px,
        d_standard_uncertainty_px=ruler.standard_uncertainty_px,
        own=near,
        sure=float(np.clip(strength * one.chain * (0.5 + 0.5 * spot.mean()), 0, 1)),
    )


def _double(one: Link, extra: Sequence[Link]) -> bool:
    """Whether another wire ends on this one's lip."""
    return any(other.lip is one.lip for other in extra)


def _ruler(patch: Patch, one: Link, keep: Mask | None, *, double: bool) -> Ruler | None:
    """D and direction, started from the wire's rough direction and from the line to the lip.

    Of the two the one that runs on toward the lip and has more insulation behind it counts:
    another wire that crosses near the end can lead either of them astray. Two wires that overlap
    in the picture on their way to one cup may show no width of their own: then theirs together
    will do, since such a joint is found only to be named.
    """
    end = one.end.peak.point
    line = unit(one.lip.point - end)
    found = []
    image = belief(patch, (Region.INSULATION,), keep)
    widths = [one.end.d_px, *([rough_width(image >= HALF, end)] if double else [])]
    # a wire that soon runs into another one looks too wide at first
    for d_px in (*widths, NARROWER * one.end.d_px):
        for start in (one.end.direction, line):
            ruler = measure_ruler(image, end, start, d_px) if start.any() else None
            if ruler is not None:
                found.append(ruler)
        if any(_aside(ruler, end) < ASIDE for ruler in found):
            break
    if not found:
        return None

    def merit(ruler: Ruler) -> tuple[bool, bool, float]:
        relative = ruler.standard_uncertainty_px / ruler.d_px
        onward = float(ruler.direction @ line) > ONWARD
        return (onward, _aside(ruler, end) < ASIDE, ruler.seen_D - 10.0 * relative)

    return max(found, key=merit)


def _aside(ruler: Ruler, end: Points) -> float:
    """How far the end lies off the wire's middle, in D: far where another wire was taken in."""
    normal = np.array([-ruler.direction[1], ruler.direction[0]])
    return abs(float((end - ruler.middle) @ normal)) / ruler.d_px


def _axis(metal: Floats, end: Points, lip: Points, ruler: Ruler) -> Points:
    """Unit vector along s: end to lip, steadied by the wire behind and the terminal ahead.

    metal (h, w): outline.belief of terminal and solder.
    """
    line = lip - end
    length = float(np.hypot(*line)) / ruler.d_px
    total = min(length, 2.0) * unit(line) if length > DIRECTED_D else np.zeros(2)
    total = total + 0.35 * ruler.direction
    start = unit(total)
    stations = np.arange(0.15, 1.2, max(1.0 / ruler.d_px, 0.03)) * ruler.d_px
    spans = spans_across(
        metal,
        lip,
        start,
        stations,
        1.1 * ruler.d_px,
        reach_px=0.3 * ruler.d_px,
        hole_px=0.3 * ruler.d_px,
    )
    fit = robust_line(stations, spans.middle)
    if fit is not None and fit.u_slope < TERMINAL_U and abs(fit.slope) < TERMINAL:
        normal = np.array([-start[1], start[0]])
        total = total + 0.5 * unit(start + fit.slope * normal)
    return unit(total)


def _problems(
    joint: Joint, one: Link, ruler: Ruler, photo_size: tuple[int, int] | None, *, double: bool
) -> tuple[str, ...]:
    """Names of what keeps the joint from being judged."""
    found = []
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    stations = np.arange(-CROPPED_D, lip_s + CROPPED_D, 0.05)
    rim = np.array([(s, t) for s in stations for t in (-0.5, 0.0, 0.5)])
    place = joint.patch.to_photo(joint.from_frame(rim))
    low = np.array(joint.patch.origin)
    height, width = joint.patch.labels.shape
    high = joint.patch.to_photo(np.array([[width - 1, height - 1]], float))[0]
    if photo_size is not None:
        low, high = np.maximum(low, 0.0), np.minimum(high, np.array(photo_size, float) - 1)
    margin = 1.5 * joint.patch.step
    outside = bool(((place < low + margin) | (place > high - margin)).any())
    if outside:
        found.append("cropped")
    line = np.array(joint.lip) - np.array(joint.end)
    between = np.array(joint.end) + np.linspace(0.1, 1.0, 30)[:, None] * line
    sleeve = is_any(pick(joint.patch.labels, between), (Region.SLEEVE,)).mean()
    if sleeve > SLEEVED:
        found.append("sleeved")
    astray = lip_s > CROPPED_D / 2 and float(ruler.direction @ unit(line)) < ONWARD
    if not outside and (one.chain < WHOLE or ruler.seen_D < CROPPED_D or astray):
        found.append("covered")
    if double:
        found.append("two-wires")
    elif _aside(ruler, np.array(joint.end)) > ASIDE:
        found.append("unsure")
    return tuple(found)
