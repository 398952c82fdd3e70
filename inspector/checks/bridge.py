"""Bridge: metal that joins two poles, or comes too near to it.

What: solder, or a strand, between the bare metal of two poles.

Why: a short circuit across the battery; a gap too small arcs or closes with the first crumb.

How measured: `bridge` is the length of what the network marks as a bridge. `spacing` is the
smallest distance between the bare metal of this joint, attached strands included, and that of
another, as a share of what it should be: 1.6 mm, or the distance between the two terminals
themselves where the connector sets them closer. Without a scale the terminals alone decide.
Poles that overlap in the picture cannot be measured and need another view.

Limit: no bridge (0.1 D, which is the least that is told from an edge; house), and at least 85 %
of the spacing (house: 15 % is left to a thin film of solder and to the measuring).

Source: IPC/WHMA-A-620B table 1-1 (quoted): 1.6 mm up to 64 V at low power; bridging is rejected
by NASA-STD-8739.3, definition (quoted).

Remedy: wick the solder off between the poles, clean, look again against the light.
"""

from __future__ import annotations

import math

import numpy as np

from inspector.areas import (
    BARE,
    NOMINAL_D_MM,
    WIRE_SPREAD,
    blobs,
    border_points,
    distance_px,
    labelled,
    line,
    nearest,
    others_points,
    outline,
    own,
    parts,
    ruler,
)
from inspector.model import (
    Check,
    Limit,
    Mark,
    Mask,
    Measured,
    Measurement,
    NotMeasured,
    Points,
    Region,
    View,
)
from inspector.uncertainty import combine, if_present, quantity

NAME = "bridge"
SPACING_MM = 1.6
LIMIT_D = 0.1
LIMIT_SHARE = 85.0
ROOT_D = 0.06  # a strand this near to the metal is part of it
OVERLAP_D = 0.06  # terminals nearer than this overlap in the picture
NEAR_D = 0.3
EDGE_PX = 0.7  # each of the two edges
RESOLVED_PX = 1.5


def measure(view: View) -> tuple[Measured, ...]:
    """Extent of a marked bridge and, with another pole in the photo, the spacing left."""
    joint = view.joint
    bare = own(joint, *BARE)
    if not bare.any():
        return (NotMeasured("bridge", "no bare metal of the joint shows"),)
    results: list[Measured] = [_marked(view, bare)]
    if view.neighbours:
        results.append(_spacing(view, bare))
    elif (view.job.poles or 1) > 1:
        results.append(NotMeasured("spacing", "the other poles are not found in the photo"))
    return tuple(results)


def _marked(view: View, bare: Mask) -> Measurement:
    """Longest extent of what is marked as a bridge at this joint, D."""
    joint = view.joint
    near = distance_px(bare) <= NEAR_D * joint.d_px
    floor = RESOLVED_PX * ruler(view, in_d=True).coarse_px
    best, u, shown = 0.0, floor, ()
    for blob in blobs(joint, Mark.BRIDGE, near):
        points = border_points(blob.mask)
        extent = float(np.hypot(*np.ptp(points, axis=0)) + 1.0) / joint.d_px
        value, spread = if_present(extent, EDGE_PX / joint.d_px, blob.probability)
        if value > best:
            best, u, shown = value, spread, (outline(joint, blob.mask),)
    found = quantity(f"{NAME}.bridge", best, "D", {"edges, or none": u})
    return Measurement("bridge", found, shown)


def _spacing(view: View, bare: Mask) -> Measured:
    """Distance left between two poles' bare metal, % of what is needed."""
    joint = view.joint
    mine, theirs = border_points(_with_strands(view, bare)), others_points(view, *BARE)
    if len(theirs) == 0:
        return NotMeasured("spacing", "no bare metal of the other pole shows")
    gap, pair = nearest(mine, theirs)
    own_gap, _ = nearest(border_points(own(joint, Region.TERMINAL)), _terminals(view))
    needed = _needed_px(view)
    if own_gap <= OVERLAP_D * joint.d_px:
        return NotMeasured("spacing", "one pole hides the other in this view")
    if own_gap < needed[0]:
        needed = (own_gap, math.sqrt(2) * EDGE_PX)
    share = 100.0 * gap / needed[0]
    value = {
        "edges": 100.0 * math.sqrt(2) * EDGE_PX / needed[0],
        "what is needed": share * needed[1] / needed[0],
    }
    evidence = (line(joint, pair, dimension=True),)
    return Measurement("spacing", quantity(f"{NAME}.spacing", share, "%", value), evidence)


def _needed_px(view: View) -> tuple[float, float]:
    """1.6 mm in patch pixels with its standard uncertainty."""
    scale = ruler(view)
    if scale.unit == "mm":
        size = SPACING_MM / scale.per_px
        return size, scale.relative * size
    size = SPACING_MM / NOMINAL_D_MM * view.joint.d_px
    return size, combine((WIRE_SPREAD, scale.relative)) * size


def _terminals(view: View) -> Points:
    return others_points(view, Region.TERMINAL)


def _with_strands(view: View, bare: Mask) -> Mask:
    """The bare metal with the strands that touch it."""
    joint = view.joint
    near = distance_px(bare) <= ROOT_D * joint.d_px
    whole = bare.copy()
    for part in parts(labelled(joint.patch.labels, Region.STRAND)):
        if (part & near).any():
            whole |= part
    return whole


LIMITS = (
    Limit(
        "bridge",
        "max",
        LIMIT_D,
        "D",
        "NASA-STD-8739.3, definition of bridging; 0.1 D house",
        "quoted",
        "Metal joins two poles over {value}; none is allowed.",
        "Power off. Wick the solder off between the poles, clean, and look again.",
    ),
    Limit(
        "spacing",
        "min",
        LIMIT_SHARE,
        "%",
        "IPC/WHMA-A-620B table 1-1: 1.6 mm, or what the connector leaves; 85 % of it house",
        "quoted",
        "Bare metal comes nearer to the next pole than it may: {value} of the spacing is left, "
        "at least {limit} is needed.",
        "Power off. Remove what stands toward the next pole, or sleeve each pole.",
    ),
)

CHECK = Check(NAME, "Bridge", measure, LIMITS, __doc__ or "")
