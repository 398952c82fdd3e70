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
    from inspector.model import Joint, Points
    from inspector.outline import Floats

Side = Literal[-1, 1]
METAL = (Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL)
ASIDE_D, BEHIND_D, BEYOND_D = 0.04, 0.05, 1.5  # the stretch of outline that is read
FEWEST = 8  # points that make a stretch
INWARD_PX = 1.6  # how far inside the outline its label is read
SHORT_RUN_PX = 3  # shorter runs of a label along the outline are noise
SLOPE, SLOPE_U = 0.3, 0.1  # a conductor leans no more; less certain than this it is square
LEAVES_D, LEAVES_PX = 0.012, 0.5  # distance from the conductor's line where a fillet has begun


@dataclass(frozen=True, slots=True)
class Rim:
    """The joint's outline on one side: frame (n, 2) s and outward t in D, labels (n,)."""

    side: Side
    frame: Points
    labels: np.ndarray


@dataclass(frozen=True, slots=True)
class FreeSurface:
    """The solder's outline from conductor to terminal on one side, px from the conductor's start.

    points (n, 2): s and outward t in patch pixels. The conductor's own outline is the line
    t = core_offset + core_slope * s, with the slope's standard uncertainty. at_insulation: no
    bare conductor shows before it.
    """

    side: Side
    points: Points
    core_offset: float
    core_slope: float
    u_core_slope: float
    at_insulation: bool


def rims(joint: Joint) -> tuple[Rim, ...]:
    """Stretches of the joint's outline, at most one long one a side, ordered along s."""
    image = belief(joint.patch, (*METAL, Region.INSULATION), joint.own)
    found: list[Rim] = []
    lines = [evenly(line, 0.5) for line in outlines(image, joint.d_px)]
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
    labels = pick(joint.patch.labels, line + INWARD_PX * inward)
    return Rim(side, np.stack([frame[:, 0], frame[:, 1] * side], axis=1), _calm(labels))


def _calm(labels: np.ndarray) -> np.ndarray:
    """Labels along an outline without runs of a few pixels."""
    calm = labels.copy()
    edges = np.concatenate([[0], np.flatnonzero(np.diff(calm)) + 1, [len(calm)]])
    for first, last in pairwise(edges):
        if first > 0 and last - first < 2 * SHORT_RUN_PX:  # points stand half a pixel apart
            calm[first:last] = calm[first - 1]
    return calm


def free_surface(joint: Joint, rim: Rim) -> FreeSurface | None:
    """The solder's free surface on one side; None where no fillet shows outside the cup."""
    solder = is_any(rim.labels.astype(np.uint8), (Region.SOLDER,))
    terminal = is_any(rim.labels.astype(np.uint8), (Region.TERMINAL,))
    ends = np.flatnonzero(np.diff(np.concatenate([[0], solder.astype(int), [0]])))
    runs = [
        (int(first), int(last))
        for first, last in zip(ends[::2], ends[1::2], strict=True)
        if last < len(solder) and terminal[last]
    ]
    runs = [run for run in runs if not terminal[: run[0]].any()]
    if not runs:
        return None
    first, last = max(runs, key=lambda run: run[1] - run[0])
    points = rim.frame * joint.d_px
    bare = is_any(rim.labels.astype(np.uint8), (Region.CONDUCTOR,))
    bare[first:] = False
    s, t = points[bare, 0], points[bare, 1]
    margin = 1.5
    use = s < points[first, 0] - margin
    at_insulation = False
    if use.sum() >= FEWEST and np.ptp(s[use]) >= 0.12 * joint.d_px:
        line = robust_line(s[use], t[use])
    else:  # strands tinned to the insulation: the flat beginning of the solder is the bundle
        at_insulation = not bare.any()
        head = slice(first, first + max(8, (last - first) // 4))
        line = robust_line(points[head, 0], points[head, 1])
    if line is None:
        return None
    steady = line.u_slope < SLOPE_U and abs(line.slope) < SLOPE
    slope = line.slope if steady else 0.0
    offset = line.offset if steady else float(np.median(points[first : first + 3, 1]))
    surface = points[first:last]
    above = surface[:, 1] - offset - slope * surface[:, 0]
    flat = np.flatnonzero(above < LEAVES_D * joint.d_px + LEAVES_PX)
    start = int(flat[-1]) if len(flat) and flat[-1] < len(surface) - 6 else 0
    if at_insulation and start == 0:
        return None  # nothing flat to start from: the foot is hidden in the insulation
    return FreeSurface(
        rim.side, surface[start:], offset, slope, float(min(line.u_slope, SLOPE_U)), at_insulation
    )
