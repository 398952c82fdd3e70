"""The solder's free surface on either side of the wire: the line that the fillet check reads.

It is the stretch of the joint's outline (see profile) from where solder leaves the strands to where
the terminal begins, in the side frame, t positive outward.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from inspector.model import Region
from inspector.outline import is_any
from inspector.profile import FEWEST, STEP_PX, Rim, Side
from inspector.straight import robust_line

if TYPE_CHECKING:
    from inspector.model import Joint, Points

SLOPE, SLOPE_U = 0.3, 0.1  # a conductor leans no more; less certain than this it is square
SHOWN_D, FLAT, BENDS = 0.12, 0.15, 41  # strands that tell a line, its slope; places tried
RISES, WAVES = 0.5, 0.3  # of that length: least rise of a fillet, most scatter of strands
LEAVES_D, LEAVES_PX = 0.012, 0.5  # distance from the conductor's line where a fillet has begun
RIM_D, TURN_PX, TURN_DEG = 0.15, 3.0, 12.0  # a lip's rounded rim: how long, over what, how sharp


@dataclass(frozen=True, slots=True)
class FreeSurface:
    """The solder's outline from conductor to terminal on one side, px from the conductor's start.

    points (n, 2): s and outward t in patch pixels. The conductor's own outline is the line
    t = core_offset + core_slope * s, with the slope's standard uncertainty. outside_px:
    how far it stands out of the terminal's own outline.
    """

    side: Side
    points: Points
    core_offset: float
    core_slope: float
    u_core_slope: float
    outside_px: float = 0.0


def _to_terminal(joint: Joint, rim: Rim) -> tuple[int, int] | None:
    """First and last + 1 of the longest run of solder that the terminal's own edge follows."""
    solder = is_any(rim.labels.astype(np.uint8), (Region.SOLDER,)) & rim.free
    terminal = is_any(rim.labels.astype(np.uint8), (Region.TERMINAL,))
    ends = np.flatnonzero(np.diff(np.concatenate([[0], solder.astype(int), [0]])))
    onward = _onward(joint)
    runs = [
        (int(first), int(last))
        for first, last in zip(ends[::2], ends[1::2], strict=True)
        if last < len(solder) and terminal[last] and rim.free[last : last + onward].all()
        if rim.free[max(first - 1, 0)] and not terminal[:first].any()
    ]
    return max(runs, key=lambda run: run[1] - run[0]) if runs else None


def _onward(joint: Joint) -> int:
    """Points of the terminal's edge that must follow the solder."""
    return max(FEWEST, round(RIM_D * joint.d_px / STEP_PX))


def _outside_px(joint: Joint, points: Points, first: int, last: int) -> float:
    """How far the run of `points` (n, 2) stands out of the terminal's edge that follows it."""
    return float(points[first:last, 1].max() - points[last : last + _onward(joint), 1].max())


def piled_up(joint: Joint, rim: Rim) -> FreeSurface | None:
    """The outline of solder that stands out of the terminal's own, whatever it stands on."""
    run = _to_terminal(joint, rim)
    if run is None:
        return None
    points = rim.frame * joint.d_px
    surface = points[slice(*run)]
    out_px = _outside_px(joint, points, *run)
    return FreeSurface(rim.side, surface, float(surface[0, 1]), 0.0, SLOPE_U, outside_px=out_px)


def free_surface(joint: Joint, rim: Rim) -> FreeSurface | None:
    """The solder's free surface on one side; None where no fillet shows outside the cup."""
    run = _to_terminal(joint, rim)
    if run is None:
        return None
    first, last = run
    points = rim.frame * joint.d_px
    bare = is_any(rim.labels.astype(np.uint8), (Region.CONDUCTOR,)) & rim.free
    bare[first:] = False
    s, t = points[bare, 0], points[bare, 1]
    margin = 1.5
    use = s < points[first, 0] - margin
    hidden, bend = False, None
    if use.sum() >= FEWEST and np.ptp(s[use]) >= SHOWN_D * joint.d_px:
        line = robust_line(s[use], t[use])
    else:  # strands tinned to the insulation: the flat beginning of the solder is the bundle
        hidden = not bare.any()
        bend = _bend(_without_rim(points[first:last], joint.d_px), SHOWN_D * joint.d_px)
        head = max(8, (last - first) // 4) if bend is None else bend
        line = robust_line(points[first : first + head, 0], points[first : first + head, 1])
    if line is None:
        return None
    steady = line.u_slope < SLOPE_U and abs(line.slope) < SLOPE
    slope = line.slope if steady else 0.0
    offset = line.offset if steady else float(np.median(points[first : first + 3, 1]))
    surface = _without_rim(points[first:last], joint.d_px)
    above = surface[:, 1] - offset - slope * surface[:, 0]
    flat = np.flatnonzero(above < LEAVES_D * joint.d_px + LEAVES_PX)
    start = int(flat[-1]) if len(flat) and flat[-1] < len(surface) - 6 else 0
    start = max(start, min(bend or 0, len(surface) - FEWEST))
    if hidden and start == 0:
        return None  # nothing flat to start from: the foot is hidden in the insulation
    return FreeSurface(
        rim.side,
        surface[start:],
        offset,
        slope,
        float(min(line.u_slope, SLOPE_U)),
        _outside_px(joint, points, first, last),
    )


def _bend(run: Points, least_px: float) -> int | None:
    """Where a run of solder (n, 2) leaves the flat strands that it coats; None where none show.

    Along the outline the height is fitted with a line and, from the bend on, a parabola joined to
    it; the bend that leaves the smallest squares wins. At least `least_px` of strands must show.
    """
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    last = float(gone[-1]) - FEWEST * STEP_PX
    if last <= least_px:
        return None
    best, least = None, np.inf
    for place in np.linspace(least_px, last, BENDS):
        past = np.maximum(gone - place, 0.0)
        basis = np.stack([np.ones_like(gone), gone, past, past**2], axis=1)
        fit = np.linalg.lstsq(basis, run[:, 1], rcond=None)[0]
        off = run[:, 1] - basis @ fit
        rises = float((run[:, 1] - basis[:, :2] @ fit[:2]).max()) > RISES * least_px
        even = float(np.std(off[past == 0])) < WAVES * least_px  # the top of a bulge is not
        squares = float(np.sum(off**2))
        if squares < least and abs(fit[1]) < FLAT and rises and even:
            best, least = int(np.searchsorted(gone, place)), squares
    return best


def _without_rim(surface: Points, d_px: float) -> Points:
    """The outline (n, 2) up to where it turns round the lip's rim, if it does.

    Up to the lip a fillet that draws in gets steeper. Where it is steepest shortly before its end
    and then falls back toward the axis, what follows is the rim under a coat of solder. A bulge is
    steepest at its foot and keeps its whole outline.
    """
    reach = round(TURN_PX / STEP_PX)
    if len(surface) < 4 * reach:
        return surface
    run = surface[2 * reach :] - surface[: -2 * reach]
    slope_deg = np.degrees(np.unwrap(np.arctan2(run[:, 1], run[:, 0])))
    steepest = int(np.argmax(slope_deg))
    left_px = (len(slope_deg) - steepest) * STEP_PX
    turns = slope_deg[steepest] - float(slope_deg[-1]) > TURN_DEG
    rises = slope_deg[steepest] - float(np.median(slope_deg[: reach + 1])) > TURN_DEG
    if turns and rises and left_px < max(RIM_D * d_px, 2 * TURN_PX):
        return surface[: steepest + reach + 1]
    return surface
