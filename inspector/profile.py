"""The joint's outline on either side of its axis: what stands at it, and the solder's free surface.

In the side frame of a side, t is positive outward, so that both sides read alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from inspector.frame import robust_line
from inspector.model import Region
from inspector.outline import belief, evenly, is_any, outlines, pick, sample

if TYPE_CHECKING:
    from inspector.model import Joint, Mask, Points
    from inspector.outline import Floats

Side = Literal[-1, 1]
METAL = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL)
ASIDE_D, BEHIND_D, BEYOND_D = 0.04, 0.05, 1.5  # the stretch of outline that is read
FEWEST = 8  # points that make a stretch
STEP_PX = 0.5  # from point to point of an outline
INWARD_PX = 1.6  # how far inside the outline its label is read
SHORT_RUN_PX = 3  # shorter runs of a label along the outline are noise
SLOPE, SLOPE_U = 0.3, 0.1  # a conductor leans no more; less certain than this it is square
SHOWN_D, FLAT, BENDS = 0.12, 0.15, 41  # strands that tell a line, its slope; places tried
RISES, WAVES = 0.5, 0.3  # of that length: least rise of a fillet, most scatter of strands
LEAVES_D, LEAVES_PX = 0.012, 0.5  # distance from the conductor's line where a fillet has begun
OFF = 255  # label of what lies outside the picture
OUTWARD_PX = 2.0  # how far outside the outline its neighbour is read
RIM_D, TURN_PX, TURN_DEG = 0.15, 3.0, 12.0  # a lip's rounded rim: how long, over what, how sharp


@dataclass(frozen=True, slots=True)
class Rim:
    """The joint's outline on one side: frame (n, 2) s and outward t in D, labels (n,).

    free (n,): it is this joint's own edge. Where another joint, a strand or the picture's end
    begins, the outline is only where the pixels were divided.
    """

    side: Side
    frame: Points
    labels: np.ndarray
    free: Mask


@dataclass(frozen=True, slots=True)
class FreeSurface:
    """The solder's outline from conductor to terminal on one side, px from the conductor's start.

    points (n, 2): s and outward t in patch pixels. The conductor's own outline is the line
    t = core_offset + core_slope * s, with the slope's standard uncertainty. at_insulation: no
    conductor, bare or tinned, shows before it. outside_px: how far it stands out of the terminal's
    own outline.
    """

    side: Side
    points: Points
    core_offset: float
    core_slope: float
    u_core_slope: float
    at_insulation: bool
    outside_px: float = 0.0


def rims(joint: Joint) -> tuple[Rim, ...]:
    """Stretches of the joint's outline, at most one long one a side, ordered along s."""
    image = belief(joint.patch, (*METAL, Region.INSULATION), joint.own)
    found: list[Rim] = []
    lines = [evenly(line, STEP_PX) for line in outlines(image, joint.d_px)]
    for side in (-1, 1):
        best: Rim | None = None
        for line in lines:
            rim = _one_side(joint, image, line, side)
            if rim is not None and (best is None or len(rim.frame) > len(best.frame)):
                best = rim
        if best is not None:
            found.append(best)
    return tuple(found)


def _one_side(joint: Joint, image: Floats, line: Points, side: Side) -> Rim | None:
    """The longest stretch of a closed outline on one side of the axis."""
    frame = joint.to_frame(line)
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s, t = frame[:, 0], frame[:, 1] * side
    on = (t > ASIDE_D) & (s > -BEHIND_D) & (s < lip_s + BEYOND_D)
    if on.sum() < FEWEST:
        return None
    if not on.all():
        turn = int(np.argmin(on))
        line, frame = np.roll(line, -turn, axis=0), np.roll(frame, -turn, axis=0)
        on = np.roll(on, -turn)
    ends = np.flatnonzero(np.diff(np.concatenate([[0], on.astype(int), [0]])))
    first, last = max(zip(ends[::2], ends[1::2], strict=True), key=lambda run: run[1] - run[0])
    line, frame = line[first:last], frame[first:last]
    if frame[0, 0] > frame[-1, 0]:
        line, frame = line[::-1], frame[::-1]
    right = np.array([[0.5, 0.0]])
    slope = np.stack(
        [
            sample(image, line + right) - sample(image, line - right),
            sample(image, line + right[:, ::-1]) - sample(image, line - right[:, ::-1]),
        ],
        axis=1,
    )
    inward = np.nan_to_num(slope)
    inward /= np.maximum(np.hypot(*inward.T), 1e-9)[:, None]
    labels = _calm(pick(joint.patch.labels, line + INWARD_PX * inward))
    outside = line - OUTWARD_PX * inward
    beyond = pick(joint.patch.labels, outside, OFF)
    other = is_any(beyond, (*METAL, Region.INSULATION))
    other &= pick(joint.own.view(np.uint8), outside, 0) == 0
    free = ~other & (beyond != Region.STRAND) & (beyond != OFF)
    return Rim(side, np.stack([frame[:, 0], frame[:, 1] * side], axis=1), labels, free)


def _calm(labels: np.ndarray) -> np.ndarray:
    """Labels along an outline without runs of a few pixels."""
    calm = labels.copy()
    edges = np.concatenate([[0], np.flatnonzero(np.diff(calm)) + 1, [len(calm)]])
    for first, last in pairwise(edges):
        if first > 0 and last - first < 2 * SHORT_RUN_PX:  # points stand half a pixel apart
            calm[first:last] = calm[first - 1]
    return calm


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
    return FreeSurface(
        rim.side, surface, float(surface[0, 1]), 0.0, SLOPE_U, at_insulation=True, outside_px=out_px
    )


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
    at_insulation, bend = False, None
    if use.sum() >= FEWEST and np.ptp(s[use]) >= SHOWN_D * joint.d_px:
        line = robust_line(s[use], t[use])
    else:  # strands tinned to the insulation: the flat beginning of the solder is the bundle
        at_insulation = not bare.any()
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
    if at_insulation and start == 0:
        return None  # nothing flat to start from: the foot is hidden in the insulation
    return FreeSurface(
        rim.side,
        surface[start:],
        offset,
        slope,
        float(min(line.u_slope, SLOPE_U)),
        at_insulation,
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
