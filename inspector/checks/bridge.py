"""Bridge: metal that joins two poles, or comes too near to it.

What: solder, or a strand, between the bare metal of two poles.

Why: a short circuit across the battery; a gap too small arcs or closes with the first crumb.

How measured: `bridge` is the length of what the network marks as a bridge. `spacing` is the
smallest distance between the bare metal of this joint, attached strands included, and that of
another, as a share of what it should be: 1.6 mm, or the distance between the two terminals
themselves where the connector sets them closer. Without a scale the thinnest wire is assumed,
which makes 1.6 mm the longest that it can be.
Poles that overlap in the picture cannot be measured and need another view.

Limit: no bridge (0.1 D, which is the least that is told from an edge; house), and at least 85 %
of the spacing (house: 15 % is left to a thin film of solder and to the measuring).

Source: IPC/WHMA-A-620B table 1-1 (quoted): 1.6 mm up to 64 V at low power; bridging is rejected
by NASA-STD-8739.3, definition (quoted).

Remedy: wick the solder off between the poles, clean, look again against the light.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from inspector.areas import (
    BARE,
    blobs,
    border_points,
    distance_px,
    extent_d,
    labelled,
    line,
    nearest,
    others_points,
    outline,
    own,
    ruler,
)
from inspector.model import (
    Check,
    Evidence,
    Joint,
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
from inspector.uncertainty import quantity

NAME = "bridge"
SPACING_MM = 1.6
THINNEST_D_MM = 1.5  # of the wire table; makes 1.6 mm the most that it can be in D
LIMIT_D = 0.1
LIMIT_SHARE = 85.0
CORE_D = 0.45  # half-width of the strip in which metal is this pole's beyond doubt
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
        results.append(_spacing(view))
    elif (view.job.poles or 1) > 1:
        results.append(NotMeasured("spacing", "the other poles are not found in the photo"))
    return tuple(results)


def _marked(view: View, bare: Mask) -> Measurement:
    """Longest extent of what is marked as a bridge at this joint, D."""
    joint = view.joint
    near = distance_px(bare) <= NEAR_D * joint.d_px
    floor = RESOLVED_PX * ruler(view, in_d=True).coarse_px
    best, u, sure = 0.0, floor, 1.0
    shown: tuple[Evidence, ...] = ()
    for blob in blobs(joint, Mark.BRIDGE, near):
        extent = extent_d(joint, blob.mask)
        if extent * blob.probability > best * sure or not shown:
            best, u, sure = extent, math.sqrt(2) * EDGE_PX / joint.d_px, blob.probability
            shown = (outline(joint, blob.mask),)
    found = quantity(f"{NAME}.bridge", best, "D", {"edges, or none": u})
    return Measurement("bridge", found, shown, sure)


def _spacing(view: View) -> Measured:
    """Distance left between two poles' bare metal, % of what is needed."""
    joint = view.joint
    own_gap, closest = nearest(
        border_points(own(joint, Region.TERMINAL)), others_points(view, Region.TERMINAL)
    )
    if own_gap <= OVERLAP_D * joint.d_px:
        return NotMeasured("spacing", "one pole hides the other in this view")
    mine, theirs, joined = _metals(view)
    gap, pair = (0.0, closest) if joined else nearest(mine, theirs)
    if not joined and len(pair) == 0:
        return NotMeasured("spacing", "no bare metal of the other pole shows")
    needed, u_needed = _needed_px(view)
    if own_gap < needed:
        needed, u_needed = own_gap, math.sqrt(2) * EDGE_PX
    share = 100.0 * gap / needed
    parts = {
        "edges": 100.0 * math.sqrt(2) * EDGE_PX / needed,
        "what is needed": share * u_needed / needed,
    }
    evidence = (line(joint, pair, dimension=True),) if len(pair) else ()
    return Measurement("spacing", quantity(f"{NAME}.spacing", share, "%", parts), evidence)


def _metals(view: View) -> tuple[Points, Points, bool]:
    """Outlines of the metal that hangs together with this pole and with others; if it is one.

    Where solder of one pole ends and that of another begins is a matter of which is nearer, so the
    joints' own masks say nothing about a bridge; what hangs together does.
    """
    joint = view.joint
    metal = labelled(joint.patch.labels, *BARE, Region.STRAND)
    _, index = cv2.connectedComponents(metal.astype(np.uint8), connectivity=8)
    high, wide = metal.shape

    def pieces(points: Points) -> set[int]:
        x, y = np.round(points).astype(int).T
        inside = (x >= 0) & (y >= 0) & (x < wide) & (y < high)
        return set(index[y[inside], x[inside]].tolist()) - {0}

    cores = [_core(n, view) for n in (joint, *view.neighbours)]
    mine, theirs = pieces(cores[0]), pieces(np.concatenate(cores[1:]))
    beyond = others_points(view, *BARE)  # a neighbour may lie outside this patch
    off = (beyond < -1).any(axis=1) | (beyond[:, 0] > wide) | (beyond[:, 1] > high)
    member = np.zeros((2, int(index.max()) + 1), bool)
    member[0, list(mine)] = member[1, list(theirs)] = True
    others = np.concatenate([border_points(member[1][index]), beyond[off]])
    return border_points(member[0][index]), others, bool(mine & theirs)


def _core(joint: Joint, view: View) -> Points:
    """The joint's bare metal about its own axis, in the looked-at joint's patch pixels (N, 2)."""
    points = np.argwhere(own(joint, *BARE))[:, ::-1].astype(float)
    across = np.abs(joint.to_frame(points)[:, 1])
    return view.joint.patch.from_photo(joint.patch.to_photo(points[across <= CORE_D]))


def _needed_px(view: View) -> tuple[float, float]:
    """1.6 mm in patch pixels with its standard uncertainty; of the thinnest wire if not known."""
    scale = ruler(view)
    if scale.unit == "mm":
        size = SPACING_MM / scale.per_px
        return size, scale.relative * size
    return SPACING_MM / THINNEST_D_MM * view.joint.d_px, 0.0


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
