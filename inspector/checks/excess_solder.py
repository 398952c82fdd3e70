"""Excess solder: solder where none belongs.

What it is: a blob that stands out beyond the terminal, solder that ran onto the insulation, a
coat so thick that the strands under it no longer show.

Why it matters: solder outside the terminal keeps it from seating in its housing and shortens the
way to the next pole; a thick coat hides whether the wire was wetted at all.

How it is measured: the terminal's own outline is a straight line fitted to either side where
bare terminal shows; the solder's outline is compared with it, and before the lip with the lip's
own height.
Solder on the insulation is its area behind the insulation's end, and the hidden contour the area
marked as surplus, both as a share of D squared.

Limit: solder at most 0.1 D outside the terminal's own outline (house limit, after IPC-A-610,
memory: a thin film outside the cup is acceptable); conductor's contour discernible (NASA
hand-soldering training material, quoted); none on the insulation (the shares of D squared that
count as a trace are house limits).

Remedy: heat and draw the surplus off with braid, then look again: what was under it may not be
wetted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from inspector.areas import line, outline, own, theirs
from inspector.marks import marked, sureness
from inspector.model import (
    Check,
    Evidence,
    Fault,
    Limit,
    Mark,
    Measured,
    Measurement,
    NotMeasured,
    Region,
    View,
)
from inspector.outline import HALF, is_any, sample
from inspector.profile import Rim, rims
from inspector.straight import robust_line
from inspector.uncertainty import quantity, rectified

if TYPE_CHECKING:
    from inspector.model import Joint, Mask
    from inspector.outline import Floats

BEYOND_D = 1.4  # solder's outline looked at, beyond the lip
WALL_D = 1.0  # stretch beyond the lip in which the cup's wall is straight
LEAST_TERMINAL_D = 0.12  # bare terminal outline that a line can be fitted to
SLOT_D = 0.02
FEWEST, SLOPE, SLOPE_U = 6, 0.25, 0.15  # points for a line; what it may lean, how surely
LIP_D = 0.1  # the lip may lie this much nearer at the side than on the axis
WIRE_D = 0.5  # how far from the axis solder lies on this wire; farther out it is seen past it
OUTLINE_PX = 0.5
SURPLUS = 6.0  # % of D squared
RUN_PX = 3.0  # a bulge narrower than this is a spike, not excess


def measure(view: View) -> tuple[Measured, ...]:
    """Solder outside the terminal in D; on the insulation and surplus in % of D squared."""
    joint = view.joint
    if "sleeved" in joint.problems:
        because = "a sleeve covers the terminal"
        return tuple(NotMeasured(n, because) for n in ("outside", "on-insulation", "surplus"))
    outside = _outside(joint)
    surplus = _surplus(view)
    # where the terminal's outline does not show, the marked surplus alone tells what stands out
    seen = (outside,) if isinstance(outside, Measurement) else ()
    return (*seen, _on_insulation(view), surplus)


def _outside(joint: Joint) -> Measured:
    """The farthest that solder stands outside the terminal's outline on either side."""
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    sides = rims(joint)
    if not sides:
        return NotMeasured("outside", "the terminal's outline does not show")
    own_lines = {rim.side: _terminal_line(rim, lip_s) for rim in sides}
    known = [fit for fit in own_lines.values() if fit is not None]
    worst: tuple[float, float, np.ndarray] | None = None
    for rim in sides:
        solder = is_any(rim.labels.astype(np.uint8), (Region.SOLDER,))
        s, t = rim.frame[:, 0], rim.frame[:, 1]
        look = solder & (s > 0) & (s < lip_s + BEYOND_D) & ~_spiked(joint, rim)
        if look.sum() < 2 * RUN_PX:
            continue
        fit = own_lines[rim.side] or (known[0] if known else None)
        if fit is None:
            continue
        # before the lip there is no terminal: its height there is that of the lip
        level = fit[0] + fit[1] * np.maximum(s[look] - lip_s, 0.0)
        away = t[look] - level
        top = float(np.sort(away)[-min(len(away), int(2 * RUN_PX))])
        if worst is None or top > worst[0]:
            k = int(np.argmax(away))
            place = np.array([[s[look][k], level[k]], [s[look][k], t[look][k]]])
            worst = (top, fit[2], place * (1.0, float(rim.side)))
    if worst is None and not known:
        return NotMeasured("outside", "the terminal's own outline does not show beside the solder")
    value, u_line, place = worst if worst is not None else (0.0, 0.0, np.zeros((0, 2)))
    edge = OUTLINE_PX / joint.d_px
    # solder well inside the outline is surely not outside, however vague the outline is
    _, u_line = rectified(value, float(np.hypot(u_line, edge)))
    value = max(0.0, value)
    parts = {
        "outlines": u_line,
        "D": value * joint.d_standard_uncertainty_px / joint.d_px,
    }
    evidence: tuple[Evidence, ...] = ()
    if value > 0 and len(place):
        evidence = (line(joint, joint.from_frame(place), dimension=True),)
    # a bulge of the solder's label that the network itself doubts is a doubt, no more
    tip = joint.from_frame(place)[1:]
    sure = sureness(joint, tip, is_any(joint.patch.labels, (Region.SOLDER,)))
    found = quantity("excess-solder.outside", value, "D", parts)
    return Measurement("outside", found, evidence, sure)


def _spiked(joint: Joint, rim: Rim) -> np.ndarray:
    """Which points of the outline (n,) belong to a spike, which has its own check."""
    chance = joint.patch.marks[Mark.SPIKE]
    if not (chance >= HALF).any():
        return np.zeros(len(rim.frame), bool)
    grown = cv2.dilate(chance, np.ones((5, 5), np.uint8))
    places = joint.from_frame(rim.frame * (1.0, float(rim.side)))
    return np.asarray(np.nan_to_num(sample(grown, places)) >= HALF, bool)


def _terminal_line(rim: Rim, lip_s: float) -> tuple[float, float, float] | None:
    """Height at the lip, slope, and standard uncertainty (D) of the terminal's outline.

    The cup's wall is straight; shoulders and housings beyond it are left to the robust fit.
    """
    bare = is_any(rim.labels.astype(np.uint8), (Region.TERMINAL,))
    s, t = rim.frame[bare, 0] - lip_s, rim.frame[bare, 1]
    near = (s > -LIP_D) & (s < WALL_D)
    s, t = _outermost(s[near], t[near])
    if len(s) < FEWEST or float(np.ptp(s)) < LEAST_TERMINAL_D:
        return None
    fit = robust_line(s, t)
    if fit is None:
        return None
    if abs(fit.slope) > SLOPE or fit.u_slope > SLOPE_U:  # too short or too uneven to lean a line on
        level = float(np.median(t))  # a wall that flares is no level, and the spread says so
        return level, 0.0, float(np.hypot(np.std(t - level), 0.02))
    return fit.offset, fit.slope, float(np.hypot(fit.u_offset, fit.scatter / 2))


def _outermost(s: Floats, t: Floats) -> tuple[Floats, Floats]:
    """The farthest point out of each slot along s: where a wall ends, the outline turns inward."""
    if len(s) == 0:
        return s, t
    slot = np.floor(s / SLOT_D).astype(int)
    order = np.lexsort((-t, slot))
    first = np.concatenate([[True], np.diff(slot[order]) > 0])
    return s[order][first], t[order][first]


def _share(joint: Joint, mask: Mask, name: str, presence: float = 1.0) -> Measured:
    """An area in % of D squared, with its outline."""
    square = joint.d_px**2
    area = 100.0 * float(mask.sum()) / square
    rim = 4.0 * float(np.sqrt(mask.sum()))
    parts = {"edge": 100.0 * 0.5 * rim / square, "floor": 0.15}
    evidence = (outline(joint, mask),) if mask.any() else ()
    value = quantity(f"excess-solder.{name}", area, "%", parts)
    return Measurement(name, value, evidence, presence)


def _on_insulation(view: View) -> Measured:
    """Solder behind the insulation's end."""
    joint = view.joint
    mask = own(joint, Region.SOLDER)
    ys, xs = np.nonzero(mask)
    frame = joint.to_frame(np.stack([xs, ys], axis=1).astype(float))
    # the end seen askew is an ellipse that bows by up to a quarter of D at 30 deg
    bow = 0.27 * np.sqrt(np.clip(1.0 - (frame[:, 1] / 0.5) ** 2, 0.0, None))
    on = (frame[:, 0] < -0.04 - bow) & (np.abs(frame[:, 1]) < WIRE_D)
    behind = np.zeros_like(mask)
    behind[ys[on], xs[on]] = True
    return _share(joint, behind, "on-insulation")


def _surplus(view: View) -> Measured:
    """Area marked as surplus: outside the terminal's outline, or hiding the conductor."""
    joint = view.joint
    near = own(joint, Region.SOLDER, Region.TERMINAL, Region.CONDUCTOR, Region.INSULATION)
    allowed = SURPLUS / 100.0 * joint.d_px**2
    mask, presence = marked(joint, Mark.SURPLUS, near & ~theirs(view), allowed)
    return _share(joint, mask, "surplus", presence)


LIMITS = (
    Limit(
        "outside",
        "max",
        0.1,
        "D",
        "house limit, after IPC-A-610",
        "house",
        "Solder stands {value} outside the terminal, more than {limit}.",
        "Heat and draw the surplus off with braid.",
        thing="solder outside the cup",
    ),
    Limit(
        "on-insulation",
        "max",
        1.0,
        "%",
        "NASA hand-soldering training; the share is house",
        "quoted",
        "Solder lies on the insulation ({value} of a square D wide).",
        "Heat and draw it off; cut the wire back if the insulation suffered.",
        of="of a square D wide",
    ),
    Limit(
        "surplus",
        "max",
        SURPLUS,
        "%",
        "NASA hand-soldering training; the share is house",
        "quoted",
        "Solder hides the strands or stands outside the terminal ({value} of a square D wide).",
        "Heat and draw the surplus off with braid until the strands show through.",
        of="of a square D wide",
        thing="surplus solder",
    ),
)

CHECK = Check(
    "excess-solder", "Excess solder", measure, LIMITS, __doc__ or "",
    ("surplus",), "surplus solder",
    dict.fromkeys(("outside", "surplus", "on-insulation"), Fault.EXCESS),
)  # fmt: skip
