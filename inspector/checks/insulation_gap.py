"""Insulation gap: the bare length between the insulation and the terminal.

What it is: the distance from the end of the insulation to the first contact of conductor and
terminal, along the wire. Insulation that reaches into the solder is the other end of the same
scale.

Why it matters: a long bare stretch can touch its neighbour, and it bends at one place until the
strands break. Insulation in the solder hides the joint and keeps the strands from wetting.

How it is measured: from the middle of the insulation's end to the cup's lip on the joint's axis,
in D, the wire's overall diameter. Where the scale is known it is given in millimetres too.
Insulation in the solder is the marked area as a share of D squared. One photo cannot tell how
far the wire points out of the picture; the shortening that goes unseen is part of the stated
uncertainty, and grows when the end's outline shows a strong tilt.

Limit: 0 to 2 D (NASA-STD-8739.3 9.1, seen), and at most 6.35 mm (common practice, no source);
no insulation embedded in solder (NASA-STD-8739.3 9.1.2, seen; what counts as a trace is a house
limit).

Remedy: strip to the depth of the cup plus about one D and solder again; for embedded insulation
cut back to clean strands first.
"""

from __future__ import annotations

import numpy as np

from inspector.areas import line, outline, own, theirs
from inspector.frame import apparent_tilt_deg
from inspector.marks import marked
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
from inspector.uncertainty import quantity

PEAK_PX = 0.9  # standard uncertainty of each peak's place along the axis
FREE_TILT_DEG = 18.0  # tilt up to which the shortening is taken as equally likely
EMBEDDED = 1.0  # % of D squared that counts as a trace
PROBLEMS = {
    "cropped": "the photo's edge cuts the joint",
    "covered": "something covers the bare length",
    "sleeved": "a sleeve covers the bare length",
}


def measure(view: View) -> tuple[Measured, ...]:
    """The gap in D and, with a scale, in mm; embedded insulation in % of D squared."""
    joint = view.joint
    for problem, because in PROBLEMS.items():
        if problem in joint.problems:
            return (NotMeasured("gap", because), NotMeasured("embedded", because))
    gap_px = max(0.0, float(joint.to_frame(np.array([joint.lip]))[0, 0]) * joint.d_px)
    evidence = (line(joint, np.array([joint.end, joint.lip]), dimension=True),)
    edge_px = float(np.hypot(PEAK_PX, PEAK_PX))
    shortening = _shortening(view)
    gap_d = gap_px / joint.d_px
    found: list[Measured] = [
        Measurement(
            "gap",
            quantity(
                "insulation-gap.gap",
                gap_d,
                "D",
                {
                    "edge": edge_px / joint.d_px,
                    "D": gap_d * joint.d_standard_uncertainty_px / joint.d_px,
                    "tilt": gap_d * shortening,
                },
            ),
            evidence,
        )
    ]
    scale = view.scale
    if scale.mm_per_px is not None:
        mm_per_patch_px = scale.mm_per_px * joint.patch.step
        gap_mm = gap_px * mm_per_patch_px
        relative = (scale.standard_uncertainty or 0.0) / scale.mm_per_px
        parts = {
            "edge": edge_px * mm_per_patch_px,
            "scale": gap_mm * relative,
            "tilt": gap_mm * shortening,
        }
        gap = quantity("insulation-gap.gap_mm", gap_mm, "mm", parts)
        found.append(Measurement("gap_mm", gap, evidence))
    found.append(_embedded(view))
    return tuple(found)


def _shortening(view: View) -> float:
    """Relative standard uncertainty of a length along s for want of the tilt."""
    unseen = (1.0 - float(np.cos(np.radians(FREE_TILT_DEG)))) / np.sqrt(12.0)
    tilt, u_tilt = apparent_tilt_deg(view.joint)
    likely = max(0.0, tilt - 2.0 * u_tilt)  # only what the outline shows beyond doubt
    if likely <= FREE_TILT_DEG:
        return float(unseen)
    return float(np.hypot(unseen, (1.0 / np.cos(np.radians(min(likely, 60.0))) - 1.0) / 2.0))


def _embedded(view: View) -> Measured:
    """Insulation in the solder, or solder over the insulation, in % of D squared."""
    joint = view.joint
    near = own(joint, Region.INSULATION, Region.SOLDER, Region.CONDUCTOR, Region.TERMINAL)
    square = joint.d_px**2
    mask, presence = marked(joint, Mark.EMBED, near & ~theirs(view), EMBEDDED / 100.0 * square)
    area = 100.0 * float(mask.sum()) / square
    rim = float(np.sqrt(mask.sum())) * 4.0
    parts = {"edge": 100.0 * 0.5 * rim / square, "floor": 0.15}
    evidence = (outline(joint, mask),) if mask.any() else ()
    value = quantity("insulation-gap.embedded", area, "%", parts)
    return Measurement("embedded", value, evidence, presence)


LIMITS = (
    Limit(
        "gap",
        "max",
        2.0,
        "D",
        "NASA-STD-8739.3 9.1",
        "seen",
        "The bare length is {value}, more than {limit}.",
        "Unsolder, cut the wire back and strip it to the depth of the cup plus about one D.",
    ),
    Limit(
        "gap_mm",
        "max",
        6.35,
        "mm",
        "common practice",
        "common practice",
        "The bare length is {value}, more than {limit}.",
        "Unsolder, cut the wire back and strip it to the depth of the cup plus about one D.",
    ),
    Limit(
        "embedded",
        "max",
        EMBEDDED,
        "%",
        "NASA-STD-8739.3 9.1.2; the share is house",
        "seen",
        "Insulation sits in the solder or under it ({value} of a square D wide).",
        "Unsolder, cut the wire back to clean strands, strip about one D longer and solder again.",
        of="of a square D wide",
        thing="insulation in the solder",
    ),
)

CHECK = Check(
    "insulation-gap", "Insulation gap", measure, LIMITS, __doc__ or "",
    ("embedded",), "insulation in the solder",
    {"gap": Fault.GAP, "gap_mm": Fault.GAP, "embedded": Fault.EMBED},
)  # fmt: skip
