"""The joint's outline on either side of its axis, and what stands at it.

In the side frame of a side, t is positive outward, so that both sides read alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

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
OFF = 255  # label of what lies outside the picture
OUTWARD_PX = 2.0  # how far outside the outline its neighbour is read


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
