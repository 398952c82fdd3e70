"""Solder fill: how much of the visible cup the solder fills.

What it is: the share of the cup's opening that solder fills to the rim or nearly so.

Why it matters: a cup that is not full holds the wire by a part of its wall; current and pull go
through what is left, and the first knock finds it.

How it is measured: the opening is outlined in the photo, whatever fills it. From it are taken
the bare strands that stand in it, since what lies behind them does not show. The share of the
rest that is bare wall, void, or solder far below the rim is the missing part.

Limit: at least 75 % of the visible cup (IPC-A-610, cup terminals, quoted).

Remedy: heat the cup, not the wire, and feed solder until it stands at the rim. A cup that looks
full can still hide a void at its bottom; no photo shows that.
"""

from __future__ import annotations

import cv2
import numpy as np

from inspector.areas import outline
from inspector.model import (
    Check,
    Fault,
    Limit,
    Mark,
    Mask,
    Measured,
    Measurement,
    NotMeasured,
    Region,
    View,
)
from inspector.outline import HALF, is_any
from inspector.uncertainty import quantity

LEAST_D2 = 0.04  # opening, in D squared, below which its filling cannot be told
BEFORE_D, ASIDE_D = 0.6, 1.2  # how far from the lip and the axis an opening is this joint's
EDGE_PX = 0.7  # standard uncertainty of an area mark's edge
FLOOR = 0.5  # standard uncertainty, %, of a cup that looks quite full or quite empty


def measure(view: View) -> tuple[Measured, ...]:
    """Filled share of the visible opening, %."""
    joint = view.joint
    if "sleeved" in joint.problems:
        return (NotMeasured("fill", "a sleeve covers the cup"),)
    marks = joint.patch.marks
    mouth = (marks[Mark.MOUTH] >= HALF) & _near_lip(view)
    short = marks[Mark.SHORT] >= HALF
    before = (Region.CONDUCTOR, Region.STRAND, Region.INSULATION)
    proud = is_any(joint.patch.labels, before)
    seen = mouth & ~proud
    if float(seen.sum()) < LEAST_D2 * joint.d_px**2:
        return (NotMeasured("fill", "the cup's opening does not show from this side"),)
    area = float(seen.sum())
    hole = seen & short
    missing = 100.0 * float(hole.sum()) / area
    soft = 100.0 * float(marks[Mark.SHORT][seen].sum()) / area
    rim = float((hole & ~_inner(hole)).sum())
    mouth_rim = float((seen & ~_inner(seen)).sum())
    parts = {
        "edge": 100.0 * EDGE_PX * rim / area,
        "opening": missing * EDGE_PX * mouth_rim / area,
        "mark": abs(soft - missing) / 2.0,
        "floor": FLOOR,
    }
    evidence = [outline(joint, seen)]
    if hole.any():
        evidence.append(outline(joint, hole))
    fill = quantity("solder-fill.fill", 100.0 - missing, "%", parts)
    return (Measurement("fill", fill, tuple(evidence)),)


def _near_lip(view: View) -> Mask:
    """Pixels around this joint's cup: own ones and holes among them, ahead of the lip."""
    joint = view.joint
    kernel = np.ones((5, 5), np.uint8)
    closed = cv2.morphologyEx(joint.own.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    rims, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    # filled to its rim: a void that is seen as ground is a void
    near = np.asarray(cv2.drawContours(closed, rims, -1, 1, cv2.FILLED) > 0, bool)
    ys, xs = np.nonzero(near)
    frame = joint.to_frame(np.stack([xs, ys], axis=1).astype(float))
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    good = (frame[:, 0] > lip_s - BEFORE_D) & (np.abs(frame[:, 1]) < ASIDE_D)
    mask = np.zeros_like(near)
    mask[ys[good], xs[good]] = True
    return mask


def _inner(mask: Mask) -> Mask:
    return np.asarray(cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0, bool)


LIMITS = (
    Limit(
        "fill",
        "min",
        75.0,
        "%",
        "IPC-A-610, cup terminals",
        "quoted",
        "Solder fills {value} of the visible cup, less than {limit}.",
        "Heat the cup and feed solder until it stands at the rim.",
        of="of the opening",
    ),
)

CHECK = Check(
    "solder-fill", "Solder fill", measure, LIMITS, __doc__ or "", ("fill",), "cups short of solder",
    {"fill": Fault.FILL},
)  # fmt: skip
