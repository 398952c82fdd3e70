"""Spike: solder drawn out into a point.

What: an icicle, tail or peak that stands off the smooth surface of the solder.

Why: it comes from an iron lifted from solder that was too cold or had no flux left, so the joint
below is suspect too; it pierces sleeves and shortens the distance to the next pole.

How measured: `height` is the longest side of what the network marks as a spike, in the picture
plane, less a quarter of its width for the round foot; so it does not matter whether the spike
stands against the ground or before the solder. A spike that points at the camera looks short; take
another side.

Limit: none of 0.5 mm or more; without the wire's size 0.11 D, with 41 % of it added to the
uncertainty since soft wire is 1.5 to 6.3 mm overall.

Source: US Army TM 750-245-4 7-10.c and NASA-STD-8739.3 10.3 (both seen) reject projections; the
0.5 mm is a house rule.

Remedy: fresh flux, touch with a clean hot iron until the solder flows, lift the iron along the
wire.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from inspector.areas import BARE, around, border_points, line, mine, nearest, outline, own
from inspector.marks import Blob, Thing, blobs, most_telling
from inspector.model import (
    Check,
    Fault,
    Limit,
    Mark,
    Mask,
    Measured,
    Measurement,
    NotMeasured,
    Points,
    View,
)
from inspector.ruler import ruler
from inspector.uncertainty import quantity

NAME = "spike"
LIMIT_MM, LIMIT_D = 0.5, 0.11
NEAR_D = 0.15  # a spike begins on the joint's metal or a broken edge away from it
RESOLVED_PX = 1.5  # standard uncertainty of "none": a point this small is not told from an edge
# The foot is round. Seen from the side none of its width is height, seen aslant up to half of it.
FOOT, FOOT_SPREAD = 0.25, 0.5 / math.sqrt(12)
EDGE_PX = 0.8  # base and tip, each half a pixel or so


def measure(view: View) -> tuple[Measured, ...]:
    """Height of the tallest spike on this joint's metal."""
    joint, unit = view.joint, ruler(view)
    name = unit.name("height")
    bare = own(joint, *BARE)
    if not bare.any():
        return (NotMeasured(name, "no metal of the joint shows"),)
    near = around(bare, NEAR_D * joint.d_px)
    spread = unit.spread(LIMIT_MM)
    floor = RESOLVED_PX * unit.coarse_px
    found = [
        _height(blob, bare) for blob in blobs(joint, Mark.SPIKE, near) if mine(view, blob.mask)
    ]
    if not found:
        none = quantity(f"{NAME}.{name}", 0.0, unit.unit, {"detail": floor, "wire size": spread})
        return (Measurement(name, none),)
    heights = [
        Thing(tall * unit.per_px, EDGE_PX * unit.per_px, blob.probability)
        for tall, _, _, blob in found
    ]
    named, presence = most_telling(heights, unit.of_mm(LIMIT_MM))
    tallest, foot, ends, blob = found[named]
    height = tallest * unit.per_px
    parts = {
        "edges": EDGE_PX * unit.per_px,
        "foot": FOOT_SPREAD * foot * unit.per_px,
        "scale": unit.relative * height,
        "wire size": spread,
    }
    evidence = (line(joint, ends, dimension=True), outline(joint, blob.mask))
    size = quantity(f"{NAME}.{name}", height, unit.unit, parts)
    return (Measurement(name, size, evidence, presence),)


def _height(blob: Blob, bare: Mask) -> tuple[float, float, Points, Blob]:
    """Height and foot of the blob in px, its two ends (2, 2) from base to tip, and the blob."""
    ys, xs = np.nonzero(blob.mask)
    points = np.stack([xs, ys], axis=-1).astype(np.float32)
    centre, sides, turn = cv2.minAreaRect(points)
    angle = np.radians(turn + (0.0 if sides[0] >= sides[1] else 90.0))
    half = np.array([np.cos(angle), np.sin(angle)]) * max(sides) / 2
    ends = np.stack([centre - half, centre + half])
    rest = border_points(bare & ~blob.mask)
    if nearest(ends[1:], rest)[0] < nearest(ends[:1], rest)[0]:
        ends = ends[::-1]
    tall, foot = max(sides) + 1.0, min(sides) + 1.0
    return float(tall - FOOT * foot), float(foot), ends, blob


_SOURCE = "US Army TM 750-245-4 7-10.c; NASA-STD-8739.3 10.3; 0.5 mm house"
_REASON = "The solder ends in a point {value} high; none of {limit} or more is allowed."
_REMEDY = "Add flux, let the solder flow again with a clean hot iron and lift it along the wire."
LIMITS = (
    Limit(
        "height",
        "max",
        LIMIT_MM,
        "mm",
        _SOURCE,
        "seen; 0.5 mm house",
        _REASON,
        _REMEDY,
        thing="a spike",
    ),
    Limit(
        "height-in-D",
        "max",
        LIMIT_D,
        "D",
        f"{_SOURCE}, read as 0.11 D since the wire size is not known",
        "seen; 0.5 mm house",
        _REASON,
        _REMEDY,
        thing="a spike",
    ),
)

CHECK = Check(
    NAME, "Spike", measure, LIMITS, __doc__ or "", ("height", "height-in-D"), "spikes",
    {"height": Fault.SPIKE, "height-in-D": Fault.SPIKE},
)  # fmt: skip
