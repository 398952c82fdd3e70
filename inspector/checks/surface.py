"""Surface: what the solder's skin says about how it froze.

What: lumps, wrinkles, grain, abrupt lines of demarcation (cold, disturbed or overheated solder);
pin holes, blow holes, cracks.

Why: solder that did not flow or was moved while it froze holds by chance and cracks under
vibration; a hole leads to a void and lets flux and water in.

How measured: `rough` is the share of the visible solder that is lumpy, wrinkled or sharply
demarcated, unless its lines run with the strands (see lay.py); `hole` the greatest distance across
the largest hole or crack. `gloss` is measured only when the alloy is known to be tin-lead: how far
the highlights rise above the solder's own grey. Light and camera change it so much that it alone
can raise a doubt but never a rework; lead-free solder is duller and orange-skinned by nature.

Limit: at most 15 % of the solder rough, no hole of 0.05 D or more (both house: the least that is
told from scratches and reflections); gloss at least 0.08 (house).

Source: NASA-STD-8739.3 13.6.1.f (seen: smooth, non-porous) and definitions (quoted); ECSS glossary
items 1911 and 1922 (seen).

Remedy: add flux, bring the whole joint to heat so that the solder flows once more, hold it still
until it has frozen.
"""

from __future__ import annotations

import numpy as np

from inspector.areas import around, outline, own, theirs
from inspector.lay import runs_with_strands
from inspector.marks import Blob, blobs, telling_area, telling_extent
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
from inspector.ruler import ruler
from inspector.uncertainty import quantity

NAME = "surface"
LIMIT_ROUGH, LIMIT_HOLE_D, LIMIT_GLOSS = 15.0, 0.05, 0.08
LEAST_SOLDER = 0.01  # share of D squared below which there is no surface to judge
TEXTURE_D_PX = 30.0  # D in coarse pixels at which texture is only just seen
EDGE_SHARE = 0.2  # of the marked area, for its edges
SEEN = 1.645  # z of the one-sided 95 %
HOLE_PX = 1.0  # standard uncertainty of a hole's size, and of "none"
GLOSS_U = 0.1  # light and camera unknown; limit / u < 0.84 keeps it from ever being a rework
NEAR_D = 0.05
STRANDS = (
    "what looks rough runs along the wire, as strands under a thin coat of solder do, and as"
    " wrinkles may; a lens tells them apart"
)


def measure(view: View) -> tuple[Measured, ...]:
    """Rough share in %, largest hole in D and, for tin-lead, gloss from 0 to 1."""
    joint = view.joint
    solder = own(joint, Region.SOLDER)
    if solder.sum() < LEAST_SOLDER * joint.d_px**2:
        return tuple(NotMeasured(name, "no solder shows") for name in ("rough", "hole"))
    near = around(solder, NEAR_D * joint.d_px) & ~theirs(view)
    found: list[Measured] = [
        _rough(view, solder, blobs(joint, Mark.ROUGH, near)),
        _hole(view, blobs(joint, Mark.HOLE, near)),
    ]
    if view.job.alloy == "tin-lead":
        found.append(_gloss(view, solder))
    return tuple(found)


def _rough(view: View, solder: Mask, found: list[Blob]) -> Measured:
    """Share of the solder that is marked, as far as it speaks most against the joint.

    Not measured where it may be nothing but strands under a thin coat.
    """
    detail = LIMIT_ROUGH / SEEN * TEXTURE_D_PX * ruler(view, in_d=True).coarse_px
    allowed = LIMIT_ROUGH / 100.0 * float(solder.sum())
    mask, sure, shown = telling_area(found, solder, allowed)
    total = 100.0 * float(mask.sum()) / float(solder.sum())
    if total > LIMIT_ROUGH and runs_with_strands(view.joint, mask, solder):
        return NotMeasured("rough", STRANDS, by_eye=True)
    parts = {"detail": max(0.0, detail - total), "edges": EDGE_SHARE * total}
    evidence = tuple(outline(view.joint, blob.mask) for blob in shown)
    rough = quantity(f"{NAME}.rough", total, "%", parts)
    return Measurement("rough", rough, evidence, sure)


def _hole(view: View, found: list[Blob]) -> Measurement:
    """Extent of the largest hole or crack, D."""
    joint, unit = view.joint, ruler(view, in_d=True)
    blur = HOLE_PX * unit.coarse_px
    worst = telling_extent(joint, found, blur, LIMIT_HOLE_D)
    size, sure = (0.0, 1.0) if worst is None else worst[:2]
    evidence = () if worst is None else (outline(joint, worst[2]),)
    hole = quantity(f"{NAME}.hole", size, "D", {"edges, or none": blur})
    return Measurement("hole", hole, evidence, sure)


def _gloss(view: View, solder: Mask) -> Measurement:
    """How far the brightest hundredth of the solder rises above its median, 0..1."""
    grey = view.joint.patch.rgb[solder].mean(axis=1) / 255.0
    middle, bright = np.percentile(grey, [50, 99])
    gloss = quantity(f"{NAME}.gloss", float(bright - middle), "1", {"light": GLOSS_U})
    return Measurement("gloss", gloss, (outline(view.joint, solder),))


_FLOW = "Add flux, heat the whole joint until the solder flows, and hold it still while it freezes."
LIMITS = (
    Limit(
        "rough",
        "max",
        LIMIT_ROUGH,
        "%",
        "NASA-STD-8739.3 13.6.1.f; ECSS glossary items 1911, 1922; 15 % house",
        "seen; 15 % house",
        "{value} of the solder is lumpy, wrinkled or sharply demarcated; at most {limit} may be.",
        _FLOW,
        of="of the solder",
        thing="rough solder",
    ),
    Limit(
        "hole",
        "max",
        LIMIT_HOLE_D,
        "D",
        "NASA-STD-8739.3 13.6.1.f and definitions; 0.05 D house",
        "seen; 0.05 D house",
        "There is a hole or crack of {value} in the solder; none of {limit} or more is allowed.",
        "Clean out flux and dirt, add flux, and let the solder flow again until no gas comes.",
        thing="a hole or crack",
    ),
    Limit(
        "gloss",
        "min",
        LIMIT_GLOSS,
        "1",
        "lead-free soldering guidance, EU project: dull tin-lead points to a fault; 0.08 house",
        "quoted; 0.08 house",
        "The tin-lead solder looks dull.",
        _FLOW,
    ),
)

CHECK = Check(
    NAME,
    "Surface",
    measure,
    LIMITS,
    __doc__ or "",
    ("hole", "rough"),
    "pin holes, cracks and rough spots",
    {"rough": Fault.ROUGH, "hole": Fault.HOLE},
)
