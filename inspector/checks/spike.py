"""Spike: solder drawn out into a point.

What: an icicle, tail or peak that stands off the smooth surface of the solder.

Why: it comes from an iron lifted from solder that was too cold or had no flux left, so the joint
below is suspect too; it pierces sleeves and shortens the distance to the next pole.

How measured: `height` is the greatest distance of a marked spike from the rest of the joint's
metal, in the picture plane. A spike that points at the camera looks short; take another side.

Limit: none of 0.5 mm or more; without the wire's size 0.11 D, with 41 % of it added to the
uncertainty since soft wire is 1.5 to 6.3 mm overall.

Source: US Army TM 750-245-4 7-10.c and NASA-STD-8739.3 10.3 (both seen) reject projections; the
0.5 mm is a house rule.

Remedy: fresh flux, touch with a clean hot iron until the solder flows, lift the iron along the
wire.
"""

from __future__ import annotations

import numpy as np

from inspector.areas import (
    BARE,
    Blob,
    blobs,
    border_points,
    distance_px,
    line,
    nearest,
    outline,
    own,
    ruler,
)
from inspector.model import (
    Check,
    Evidence,
    Limit,
    Mark,
    Mask,
    Measured,
    Measurement,
    NotMeasured,
    Points,
    View,
)
from inspector.uncertainty import quantity

NAME = "spike"
LIMIT_MM, LIMIT_D = 0.5, 0.11
NEAR_D = 0.15  # a spike begins on the joint's metal or a broken edge away from it
RESOLVED_PX = 1.5  # standard uncertainty of "none": a point this small is not told from an edge
EDGE_PX = 0.8  # base and tip, each half a pixel or so


def measure(view: View) -> tuple[Measured, ...]:
    """Height of the tallest spike on this joint's metal."""
    joint, unit = view.joint, ruler(view)
    name = unit.name("height")
    bare = own(joint, *BARE)
    if not bare.any():
        return (NotMeasured(name, "no metal of the joint shows"),)
    near = distance_px(bare) <= NEAR_D * joint.d_px
    spread = unit.spread(LIMIT_MM)
    floor = RESOLVED_PX * unit.coarse_px
    found = [_height(blob, bare) for blob in blobs(joint, Mark.SPIKE, near)]
    if not found:
        none = quantity(f"{NAME}.{name}", 0.0, unit.unit, {"detail": floor, "wire size": spread})
        return (Measurement(name, none),)
    tallest, pair, blob = max(found, key=lambda item: item[0] * item[2].probability)
    height = tallest * unit.per_px
    parts = {
        "edges": EDGE_PX * unit.per_px,
        "scale": unit.relative * height,
        "wire size": spread,
    }
    evidence: tuple[Evidence, ...] = (outline(joint, blob.mask),)
    if len(pair):
        evidence = (line(joint, pair, dimension=True), *evidence)
    size = quantity(f"{NAME}.{name}", height, unit.unit, parts)
    return (Measurement(name, size, evidence, blob.probability),)


def _height(blob: Blob, bare: Mask) -> tuple[float, Points, Blob]:
    """Greatest distance of the blob from the other metal in px, its two ends, and the blob."""
    rest = bare & ~blob.mask
    if not rest.any():
        return 0.0, np.zeros((0, 2)), blob
    away = np.where(blob.mask, distance_px(rest), 0.0)
    y, x = np.unravel_index(int(np.argmax(away)), away.shape)
    tip = np.array([[float(x), float(y)]])
    return float(away[y, x]), nearest(tip, border_points(rest))[1][::-1], blob


_SOURCE = "US Army TM 750-245-4 7-10.c; NASA-STD-8739.3 10.3; 0.5 mm house"
_REASON = "The solder ends in a point {value} high; none of {limit} or more is allowed."
_REMEDY = "Add flux, let the solder flow again with a clean hot iron and lift it along the wire."
LIMITS = (
    Limit("height", "max", LIMIT_MM, "mm", _SOURCE, "seen; 0.5 mm house", _REASON, _REMEDY),
    Limit(
        "height-in-D",
        "max",
        LIMIT_D,
        "D",
        f"{_SOURCE}, read as 0.11 D since the wire size is not known",
        "seen; 0.5 mm house",
        _REASON,
        _REMEDY,
    ),
)

CHECK = Check(NAME, "Spike", measure, LIMITS, __doc__ or "")
