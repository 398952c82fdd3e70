"""Spots: signs of a joint that no joint found accounts for.

A spot is a joint with the problem "spot": boxed, never judged, and the photo cannot pass. A joint
that is not found in a photo that is answered for another one would be passed unseen.

Signs are a marked end of insulation, a marked lip, or both, and an end linked to a lip whose wire
cannot be measured. A lip alone must lie in solder or strands, else it is an empty terminal; an end
alone must lead on to a terminal or a housing, else it is a stripped wire.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from inspector.ends import DERIVED, LEAST_D_PX, WireEnd
from inspector.frame import rough_width, unit
from inspector.model import Joint, Region
from inspector.outline import is_any
from inspector.ownership import JOINT_REGIONS, to_segment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.links import Link, Linked
    from inspector.model import Mask, Patch, Points
    from inspector.peaks import Peak

SPOT = "spot"  # the problem of a joint of which only signs are seen
PAIR_D = 2.5  # a loose end and a loose lip nearer than this are signs of one joint
NEAR_D, LEADS_D = 0.6, 3.0  # metal must lie this near to a loose end, what it leads to this near
AT_END = 0.05  # share of the circle about a loose end that metal fills
BESIDE_D = 0.2  # how far behind a loose end its metal may begin
ON_LIP_D, ON_LIP = 0.3, 0.3  # share of a circle about a loose lip that solder or strands fill
NEAR = 0.02  # share of a circle of D about a loose lip that something else fills
BODY_D = 0.4  # signs nearer than this to a joint's axis are its own ...
BODY_BEHIND_D, BODY_BEYOND_D = 1.0, 2.0  # ... from this far behind its end to beyond its lip
TERMINAL_D = 0.85  # usual width of a terminal
GUESS = 0.3  # relative standard uncertainty of a D that is only guessed
WIRED = (Region.CONDUCTOR, Region.SOLDER)
METAL = (*WIRED, Region.TERMINAL)
HELD = (Region.INSULATION, Region.TERMINAL, Region.HOUSING)
GOAL = (Region.TERMINAL, Region.HOUSING)


class Clue(NamedTuple):
    """Signs of a joint: an end, a lip, or both; not neither."""

    end: WireEnd | None
    lip: Peak | None


def spots(
    patch: Patch, kind: str, broken: Sequence[Link], linked: Linked, joints: Sequence[Joint]
) -> list[Joint]:
    """A spot for each sign with metal at it that lies on none of the `joints`.

    kind: name given to each. broken: links whose wire cannot be measured. D is that of the joints,
    where there are any: the poles of a connector have the same wire more often than not.
    """
    usual_px = float(np.median([joint.d_px for joint in joints])) if joints else None
    clues = [Clue(one.end, one.lip) for one in broken if _marked(one)]
    clues += _pair_up(linked.loose_ends, linked.loose_lips, usual_px or 0.0)
    found: list[Joint] = []
    for clue in clues:
        spot = _spot(patch, kind, clue, usual_px)
        if spot is not None and not any(on_body(joint, spot) for joint in (*joints, *found)):
            found.append(spot)
    return found


def on_body(joint: Joint, spot: Joint) -> bool:
    """Whether the lip or the end of `spot` lies on `joint`; both of one patch or not."""
    places = joint.patch.from_photo(spot.patch.to_photo(np.array([spot.end, spot.lip])))
    s, t = joint.to_frame(places).T
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    along = (s > -BODY_BEHIND_D) & (s < lip_s + BODY_BEYOND_D)
    return bool((along & (np.abs(t) < BODY_D)).any())


def _marked(one: Link) -> bool:
    """Whether the network marked anything of it."""
    return max(one.end.peak.strength, one.lip.strength) > DERIVED


def _pair_up(ends: Sequence[WireEnd], lips: Sequence[Peak], least_px: float) -> list[Clue]:
    """Marked ends and lips that no joint accounts for, those of one joint together."""
    ends = [end for end in ends if end.peak.strength > DERIVED]
    gaps = sorted(
        (float(np.hypot(*(end.peak.point - lip.point))) / max(end.d_px, least_px), i, k)
        for i, end in enumerate(ends)
        for k, lip in enumerate(lips)
    )
    pairs: dict[int, int] = {}
    for gap, i, k in gaps:
        if gap < PAIR_D and i not in pairs and k not in pairs.values():
            pairs[i] = k
    clues = [Clue(end, lips[pairs[i]] if i in pairs else None) for i, end in enumerate(ends)]
    return clues + [Clue(None, lip) for k, lip in enumerate(lips) if k not in pairs.values()]


def _spot(patch: Patch, kind: str, clue: Clue, usual_px: float | None) -> Joint | None:
    """The joint that a clue may be, its size a guess; None without metal at the place."""
    end, lip = clue
    if end is not None:
        d_px = usual_px or end.d_px
        back = end.peak.point
        tip = lip.point if lip is not None else back + d_px / 2 * end.direction
        axis = unit(tip - back)
        axis = axis if axis.any() else end.direction
    elif lip is not None:
        metal = is_any(patch.labels, METAL)
        d_px = usual_px or max(rough_width(metal, lip.point) / TERMINAL_D, LEAST_D_PX)
        back = tip = lip.point
        axis = np.array([1.0, 0.0])
    else:
        return None
    if not (lip is not None and _soldered(patch, tip, d_px)) and (
        end is None or not _leads_on(patch, end, d_px)
    ):
        return None
    return Joint(
        number=0,
        kind=kind,
        patch=patch,
        end=(float(back[0]), float(back[1])),
        lip=(float(tip[0]), float(tip[1])),
        axis=(float(axis[0]), float(axis[1])),
        d_px=d_px,
        d_standard_uncertainty_px=GUESS * d_px,
        own=_around(patch, back, tip, d_px),
        sure=min(lip.strength if lip else 1.0, end.peak.strength if end else 1.0),
        problems=(SPOT,),
    )


def _around(patch: Patch, back: Points, tip: Points, d_px: float) -> Mask:
    """Pixels of a joint's regions within D of the line between two places."""
    own = is_any(patch.labels, JOINT_REGIONS)
    rows, columns = np.nonzero(own)
    grid = np.stack([columns, rows], axis=1).astype(float)
    own[rows, columns] = to_segment(grid, back, tip) < d_px
    own.flags.writeable = False
    return own


def _leads_on(patch: Patch, end: WireEnd, d_px: float) -> bool:
    """Whether bare metal at `end` leads to a terminal or a housing.

    Metal that ends on the ground is a stripped wire.
    """
    metal = is_any(patch.labels, METAL)
    _, parts = cv2.connectedComponents(
        cv2.dilate(metal.astype(np.uint8), np.ones((3, 3), np.uint8)), connectivity=8
    )
    rows, columns = np.nonzero(metal)
    offset = np.stack([columns, rows], axis=1) - end.peak.point
    away = np.hypot(*offset.T)
    close = (away < NEAR_D * d_px) & (offset @ end.direction > -BESIDE_D * d_px)
    if close.sum() < AT_END * np.pi * (NEAR_D * d_px) ** 2:
        return False
    parts_here = parts[rows, columns]
    mine = np.zeros(metal.shape, np.uint8)
    mine[rows, columns] = np.isin(parts_here, parts_here[close]) & (away < LEADS_D * d_px)
    rim = cv2.dilate(mine, np.ones((5, 5), np.uint8)) > 0
    return bool((rim & is_any(patch.labels, GOAL)).any())


def _soldered(patch: Patch, lip: Points, d_px: float) -> bool:
    """Whether a lip lies in solder or strands, with something near that they are soldered to."""
    wired = _share(is_any(patch.labels, WIRED), lip, ON_LIP_D * d_px)
    return wired > ON_LIP and _share(is_any(patch.labels, HELD), lip, d_px) > NEAR


def _share(mask: Mask, place: Points, radius_px: float) -> float:
    """Share of a circle that `mask` fills."""
    rows, columns = np.nonzero(mask)
    inside = np.hypot(columns - place[0], rows - place[1]) <= radius_px
    return float(inside.sum() / max(np.pi * radius_px**2, 1.0))
