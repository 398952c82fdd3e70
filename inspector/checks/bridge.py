"""Bridge: metal that joins two poles, or comes too near to it.

What: solder, or a strand, between the bare metal of two poles.

Why: a short circuit across the battery; a gap too small arcs or closes with the first crumb.

How measured: `bridge` is the length of what the network marks as a bridge. `spacing` is the
smallest distance between the bare metal of this joint and that of another (strands have their own
check, stray-strand), as a share of what it should be: 1.6 mm, or what the connector itself leaves
between its cups where that is less. The cups are taken as straight and even about their axes, so
that one whose visible half is full of solder counts as well; from the space between them goes the
film of 0.1 D that may stand outside one (see excess-solder). Without a scale the thinnest wire is
assumed, which makes 1.6 mm the longest that it can be. Only joints that lie side by side are poles
of one connector. Where one pole hides the other, another view is needed.

Limit: no bridge (0.1 D, which is the least that is told from an edge; house), and at least 85 %
of the spacing (house: 15 % is left to a thin film of solder and to the measuring).

Source: IPC/WHMA-A-620B table 1-1 (quoted): 1.6 mm up to 64 V at low power; bridging is rejected
by NASA-STD-8739.3, definition (quoted).

Remedy: wick the solder off between the poles, clean, look again against the light.
"""

from __future__ import annotations

import math
from dataclasses import replace

from inspector.areas import (
    BARE,
    around,
    border_points,
    line,
    nearest,
    others_points,
    outline,
    own,
)
from inspector.marks import blobs, sureness, telling_extent
from inspector.model import (
    Check,
    Evidence,
    Fault,
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
from inspector.outline import is_any
from inspector.poles import between_cups, metals, side_by_side
from inspector.ruler import ruler
from inspector.uncertainty import quantity

NAME = "bridge"
SPACING_MM = 1.6
THINNEST_D_MM = 1.5  # of the wire table; makes 1.6 mm the most that it can be in D
LIMIT_D = 0.1
LIMIT_SHARE = 85.0
OVERLAP_D = 0.06  # terminals nearer than this overlap in the picture
HIDDEN_D = 0.2  # ... and one hides the other if they overlap by more than this
NEAR_D = 0.3
EDGE_PX = 0.7  # each of the two edges
RESOLVED_PX = 1.5
FILM_D, FILM_LEAST = 0.1, 0.5  # allowed film of solder; it takes no more than half of the space
SURENESSES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)  # at which metal in one piece may fall apart


def measure(view: View) -> tuple[Measured, ...]:
    """Extent of a marked bridge and, with another pole in the photo, the spacing left."""
    joint = view.joint
    bare = own(joint, *BARE)
    if not bare.any():
        return (NotMeasured("bridge", "no bare metal of the joint shows"),)
    results: list[Measured] = [_marked(view, bare)]
    beside = replace(view, neighbours=side_by_side(view))
    if beside.neighbours:
        results += _spacing(beside)
    elif (view.job.poles or 1) > 1:
        results.append(NotMeasured("spacing", "the other poles are not found in the photo"))
    return tuple(results)


def _marked(view: View, bare: Mask) -> Measurement:
    """Greatest extent of what is marked as a bridge at this joint, D."""
    joint = view.joint
    near = around(bare, NEAR_D * joint.d_px)
    floor = RESOLVED_PX * ruler(view, in_d=True).coarse_px
    edges = math.sqrt(2) * EDGE_PX / joint.d_px
    best, u, sure = 0.0, floor, 1.0
    shown: tuple[Evidence, ...] = ()
    worst = telling_extent(joint, blobs(joint, Mark.BRIDGE, near), edges, LIMIT_D)
    if worst is not None:
        (best, sure, area), u = worst, edges
        shown = (outline(joint, area),)
    found = quantity(f"{NAME}.bridge", best, "D", {"edges, or none": u})
    return Measurement("bridge", found, shown, sure)


def _spacing(view: View) -> tuple[Measured, ...]:
    """Distance left between two poles' bare metal, % of what is needed.

    Nothing where cups only just touch in the picture: a bridge between them would show.
    """
    joint = view.joint
    own_gap, closest = nearest(
        border_points(own(joint, Region.TERMINAL)), others_points(view, Region.TERMINAL)
    )
    between = between_cups(view)
    if own_gap <= OVERLAP_D * joint.d_px:
        hidden = NotMeasured("spacing", "one pole hides the other in this view")
        return (hidden,) if between < -HIDDEN_D * joint.d_px else ()
    mine, theirs, joined = metals(view)
    gap, pair = (0.0, closest) if joined else nearest(mine, theirs)
    if not joined and len(pair) == 0:
        return (NotMeasured("spacing", "no bare metal of the other pole shows"),)
    # half-open cups seen from the side fill less than their even outlines, which may then meet
    own_gap = min(own_gap, max(between, OVERLAP_D * joint.d_px))
    needed, u_needed = _needed_px(view)
    space = max(own_gap - FILM_D * joint.d_px, FILM_LEAST * own_gap)
    if space < needed:
        needed, u_needed = space, math.sqrt(2) * EDGE_PX
    share = 100.0 * gap / needed
    parts = {
        "edges": 100.0 * math.sqrt(2) * EDGE_PX / needed,
        "what is needed": share * u_needed / needed,
    }
    evidence = (line(joint, pair, dimension=True),) if len(pair) else ()
    spacing = quantity(f"{NAME}.spacing", share, "%", parts)
    return (Measurement("spacing", spacing, evidence, _sure(view, pair, joined=joined)),)


def _sure(view: View, pair: Points, *, joined: bool) -> float:
    """How sure it is that the metal comes as near as measured.

    Metal in one piece: the sureness at which it falls apart. Else: that of the two ends.
    """
    if not joined:
        return sureness(view.joint, pair, is_any(view.joint.patch.labels, BARE))
    held = [least for least in SURENESSES if metals(view, least)[2]]
    return max(held, default=SURENESSES[0])


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
        "Metal joins two poles over {value}; none of {limit} or more is allowed.",
        "Power off. Wick the solder off between the poles, clean, and look again.",
        thing="solder between the poles",
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
        of="of the spacing needed",
        thing="metal toward the next pole",
    ),
)

CHECK = Check(
    NAME, "Bridge", measure, LIMITS, __doc__ or "", ("bridge",), "bridges",
    {"bridge": Fault.BRIDGE, "spacing": Fault.BRIDGE},
)  # fmt: skip
