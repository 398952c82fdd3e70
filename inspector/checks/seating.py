"""Seating: how far the wire reaches into the cup.

What it is: the place of the conductor's tip in the cup's opening, where the solder lets it show.

Why it matters: a wire that stops short is held by solder alone; copper that fills the cup is held
by its wall.

How it is measured: along the axis, from the lip to the tip, as a share of the opening's length.
The tip is marked by the network; without a mark, bare strands in the opening show how far the
wire reaches at least. Where solder covers the tip the photo says nothing about it.

Of a wire that is in to the full nothing shows but solder, so no sound joint calibrates this: a
rework needs the second opinion, where there is one, to be as sure of it.

Limit: at least 75 % of the visible cup's depth (IPC-A-610, wire to full depth, quoted; 75 % is a
house limit).

Remedy: melt the solder, push the wire to the bottom of the cup and hold it still until the
solder is solid.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from inspector.areas import line
from inspector.model import (
    Check,
    Fault,
    Limit,
    Mark,
    Measured,
    Measurement,
    NotMeasured,
    Region,
    View,
)
from inspector.outline import HALF, is_any
from inspector.peaks import Peak, find_peaks
from inspector.uncertainty import quantity

if TYPE_CHECKING:
    from inspector.model import Joint, Points

LEAST_D2 = 0.04  # opening, in D squared, below which its length cannot be told
LEAST_LENGTH_D = 0.25
TIP_PX, EDGE_PX = 1.5, 1.5  # standard uncertainty of the tip's and the opening's end's place
ASIDE_D, TIP_ASIDE_D = 0.8, 0.6  # how far from the axis opening and tip may lie
DEEP = 0.75  # share of the opening from which bare strands show that they go on far enough
SURE_TIP = 0.4


def measure(view: View) -> tuple[Measured, ...]:
    """How far the conductor reaches into the visible cup, %."""
    joint = view.joint
    if "sleeved" in joint.problems:
        return (NotMeasured("reach", "a sleeve covers the cup"),)
    opening = _opening(joint)
    if len(opening) < LEAST_D2 * joint.d_px**2:
        return (NotMeasured("reach", "the cup's opening does not show from this side"),)
    start, stop = (float(value) for value in np.percentile(opening[:, 0], (1.0, 99.0)))
    length = stop - start
    if length < LEAST_LENGTH_D:
        return (NotMeasured("reach", "the cup's opening is seen too flat"),)
    tip = _tip(joint, start, stop)
    if tip is None:
        return (NotMeasured("reach", "solder covers the end of the wire"),)
    at = np.array(tip.at)
    tip_s = float(joint.to_frame(at[None])[0, 0])
    reach = float(np.clip((tip_s - start) / length, 0.0, 1.0))
    length_px = length * joint.d_px
    parts = {
        "tip": 100.0 * TIP_PX / length_px,
        "opening": 100.0 * EDGE_PX * float(np.hypot(reach, 1.0 - reach)) / length_px,
        "mark": 100.0 * 0.1 * (1.0 - tip.strength),
    }
    foot = joint.from_frame(np.array([[start, 0.0], [tip_s, 0.0]]))
    value = quantity("seating.reach", 100.0 * reach, "%", parts)
    return (Measurement("reach", value, (line(joint, foot, dimension=True),)),)


def _opening(joint: Joint) -> Points:
    """The opening's pixels near this joint's axis, in the joint frame."""
    ys, xs = np.nonzero(joint.patch.marks[Mark.MOUTH] >= HALF)
    frame = joint.to_frame(np.stack([xs, ys], axis=1).astype(float))
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    near = (np.abs(frame[:, 1]) < ASIDE_D) & (frame[:, 0] > lip_s - 0.6)
    return np.asarray(frame[near], float)


def _tip(joint: Joint, start: float, stop: float) -> Peak | None:
    """The conductor's tip: the mark's peak, or the end of bare strands that stop well inside."""
    peaks = []
    for peak in find_peaks(joint.patch.marks[Mark.TOE], SURE_TIP):
        s, t = joint.to_frame(peak.point[None])[0]
        if start - 0.3 < s < stop + 0.3 and abs(t) < TIP_ASIDE_D:
            peaks.append(peak)
    if peaks:
        return peaks[0]
    inside = joint.own & is_any(joint.patch.labels, (Region.CONDUCTOR,))
    ys, xs = np.nonzero(inside & (joint.patch.marks[Mark.MOUTH] >= HALF))
    if len(xs) < 0.02 * joint.d_px**2:
        return None
    frame = joint.to_frame(np.stack([xs, ys], axis=1).astype(float))
    end_s = float(np.percentile(frame[:, 0], 99.0))
    if (end_s - start) / (stop - start) < DEEP:
        return None  # the strands may go on beneath the solder
    spot = joint.from_frame(np.array([[end_s, float(np.median(frame[:, 1]))]]))[0]
    return Peak((float(spot[0]), float(spot[1])), SURE_TIP)


LIMITS = (
    Limit(
        "reach",
        "min",
        75.0,
        "%",
        "IPC-A-610, cup terminals; 75 % house",
        "house",
        "The wire reaches {value} into the cup, less than {limit}.",
        "Melt the solder, push the wire to the bottom of the cup and hold it still until solid.",
        of="of the opening's length",
    ),
)

CHECK = Check(
    "seating", "Seating", measure, LIMITS, __doc__ or "", ("reach",), "wires not seated",
    {"reach": Fault.SEATING}, ("reach",),
)  # fmt: skip
