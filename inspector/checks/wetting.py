"""Wetting: how much of the line where solder meets metal it has really joined.

What it is: along the edge of the solder, on the strands and on the cup, solder that wetted runs
out thin; solder that did not stands on the metal like a drop, with a dark step beneath.

Why it matters: solder that only lies on the metal carries little current and lets go under
vibration, however full the cup looks.

How it is measured: the visible contact line is the border of the solder with conductor and with
terminal. Its stretches marked as not wetted are subtracted; the result is a share of its length.
The longest unwetted stretch is given in conductor diameters as well; what else may be dry widens
its uncertainty, since the two may be one. Strands that go into the
cup with no solder to be seen between them and the lip count as not wetted at all, and so do marked
stretches that no solder touches.

Limit: at least 75 % of the visible contact line (J-STD-001C 9.2, seen in a scrambled copy); no
unwetted stretch longer than one conductor diameter (house limit).

Remedy: clean, flux, and heat cup and wire together until the solder flows on both; a dark or
oxidised wire is cut back first.
"""

from __future__ import annotations

import numpy as np

from inspector.areas import line, own, places
from inspector.contact_line import FEWEST, bare_lines, contact_line, dry_runs
from inspector.model import (
    Check,
    Fault,
    Limit,
    Measured,
    Measurement,
    NotMeasured,
    Region,
    View,
)
from inspector.outline import (
    HALF,
    belief,
    is_any,
    spans_across,
)
from inspector.uncertainty import quantity

LEAST_D = 0.15  # contact line below which its wetting cannot be told
LITTLE_D2 = 0.006  # solder area below which there is none between strands and lip
NOMINAL_CORE_D = 0.5  # conductor / overall diameter of soft wire: 1 / 1.7 to 1 / 2.9
NOMINAL_CORE_U = 0.08
FEWEST_WIDTHS = 4  # places where the conductor's width must show
BEFORE_D, BEYOND_D = 1.2, 2.0  # how far from the lip solder is looked for
ASIDE_D = 1.2  # how far from the axis solder is this joint's
SHORT_D = 0.3  # bare length too short to measure the conductor on
FLOOR = 1.0  # standard uncertainty, %, of a line that looks wholly wetted or wholly dry
JOINS = 0.5  # of what else may be dry, how much is one with the longest stretch; ours, no source
TURN_PX = 1.5  # standard uncertainty of where a dry stretch begins


def measure(view: View) -> tuple[Measured, ...]:
    """Wetted share of the contact line in %, longest dry stretch in conductor diameters."""
    joint = view.joint
    if "sleeved" in joint.problems or "covered" in joint.problems:
        because = "the line between solder, wire and cup is covered"
        return (NotMeasured("wetted", because), NotMeasured("dry-stretch", because))
    if _no_solder(view):
        return _unwetted(view)
    stretches = contact_line(view)
    length = sum(float(len(points)) for points, _ in stretches)
    if length < LEAST_D * joint.d_px:
        because = "no line between solder and wire or cup shows from this side"
        return (NotMeasured("wetted", because), NotMeasured("dry-stretch", because))
    stretches += bare_lines(view, [points for points, _ in stretches])
    length = sum(float(len(points)) for points, _ in stretches)
    chance = np.concatenate([dry for _, dry in stretches])
    bad = chance >= HALF
    share = float(bad.mean())
    turns = sum(int((np.diff((dry >= HALF).astype(int)) != 0).sum()) for _, dry in stretches)
    parts = {
        "turns": 100.0 * TURN_PX * float(np.sqrt(turns)) / length,
        "mark": 100.0 * abs(float(chance.mean()) - share) / 2.0,
        "length": 100.0 * share * (1.0 - share) * 0.1,
        "floor": FLOOR,
    }
    runs = dry_runs(stretches)
    evidence = tuple(line(joint, points) for points in runs)
    if not evidence:
        evidence = tuple(line(joint, points) for points, _ in stretches if len(points) >= FEWEST)
    wetted = quantity("wetting.wetted", 100.0 * (1.0 - share), "%", parts)
    core_px, u_core_px = _core_px(view)
    longest = max((float(len(points)) for points in runs), default=0.0)
    believed = float(chance[bad].mean()) if bad.any() else float(chance.max())
    stretch = quantity(
        "wetting.dry-stretch",
        longest / core_px,
        "conductor diameters",
        {
            "turns": TURN_PX * float(np.sqrt(2.0)) / core_px,
            "core": longest / core_px * u_core_px / core_px,
            "mark": (1.0 - believed) * longest / core_px if bad.any() else 0.0,
            # what else may be dry might be one stretch with the longest, or all of it one
            "joined": JOINS * max(0.0, float(chance.sum()) - longest) / core_px,
        },
    )
    return (
        Measurement("wetted", wetted, evidence),
        Measurement("dry-stretch", stretch, evidence[:1] if runs else ()),
    )


def _no_solder(view: View) -> bool:
    """Whether bare strands run into the terminal with no solder to be seen around the lip."""
    joint = view.joint
    frame = joint.to_frame(places(own(joint, Region.SOLDER)))
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s, t = frame[:, 0] - lip_s, frame[:, 1]
    near = (s > -BEFORE_D) & (s < BEYOND_D) & (np.abs(t) < ASIDE_D)
    return float(near.sum()) < LITTLE_D2 * joint.d_px**2


def _unwetted(view: View) -> tuple[Measured, ...]:
    """No solder shows: wetted nowhere, if strands do show; else nothing can be said."""
    joint = view.joint
    bare = float((joint.own & is_any(joint.patch.labels, (Region.CONDUCTOR,))).sum())
    if bare < 0.03 * joint.d_px**2:
        because = "neither strands nor solder show at the cup"
        return (NotMeasured("wetted", because), NotMeasured("dry-stretch", because))
    core_px, _ = _core_px(view)
    place = np.array(joint.lip)
    a = np.array([-joint.axis[1], joint.axis[0]]) * core_px / 2
    evidence = (line(joint, np.stack([place - a, place + a])),)
    none = quantity("wetting.wetted", 0.0, "%", {"solder": 5.0})
    across = quantity("wetting.dry-stretch", 1.5, "conductor diameters", {"solder": 0.15})
    return (
        Measurement("wetted", none, evidence),
        Measurement("dry-stretch", across, evidence),
    )


def _core_px(view: View) -> tuple[float, float]:
    """Conductor diameter and its standard uncertainty in patch pixels."""
    joint = view.joint
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    nominal = (NOMINAL_CORE_D * joint.d_px, NOMINAL_CORE_U * joint.d_px)
    if lip_s < SHORT_D:
        return nominal
    image = belief(joint.patch, (Region.CONDUCTOR,), joint.own)
    stations = np.linspace(0.1, 0.9 * lip_s, 20) * joint.d_px
    spans = spans_across(
        image,
        np.array(joint.end),
        np.array(joint.axis),
        stations,
        0.7 * joint.d_px,
        reach_px=0.2 * joint.d_px,
    )
    width = spans.width[np.isfinite(spans.width)]
    if len(width) < FEWEST_WIDTHS:
        return nominal
    value = float(np.median(width))
    spread = 1.4826 * float(np.median(np.abs(width - value)))
    return value, float(np.hypot(0.5, spread / 2))


LIMITS = (
    Limit(
        "wetted",
        "min",
        75.0,
        "%",
        "J-STD-001C 9.2",
        "seen",
        "Solder has wetted {value} of the visible contact line, less than {limit}.",
        "Clean, flux, and heat cup and wire together until the solder flows on both.",
        of="of the contact line",
    ),
    Limit(
        "dry-stretch",
        "max",
        1.0,
        "conductor diameters",
        "house limit beside J-STD-001C 9.2",
        "house",
        "A stretch of {value} is not wetted, more than {limit}.",
        "Flux that place and heat both parts until the solder flows on it.",
    ),
)

CHECK = Check(
    "wetting", "Wetting", measure, LIMITS, __doc__ or "",
    ("wetted", "dry-stretch"), "dry stretches",
    {"wetted": Fault.WETTED, "dry-stretch": Fault.DRY},
)  # fmt: skip
