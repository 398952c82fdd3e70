"""Birdcage: bare strands bulged apart between insulation and terminal.

What: the strands lost their lay and stand apart like the bars of a cage.

Why: strands that bow out were pushed or twisted backward; they bend and break there, and the
bundle no longer fills the cup.

How measured: `width` is the bare bundle's widest place across the wire, gaps between strands
included, from just behind the insulation's end to just before the lip. Only bare strands count:
where solder holds them together they stand apart no more, and a bead of it is excess-solder.
Not measured: the separation of single strands (J-STD-001 5.1 allows one strand diameter), which
a phone photo does not resolve.

Limit: nowhere wider than the insulation's outside diameter, 1 D.

Source: J-STD-001 5.1 (seen, a fragment).

Remedy: cut the end off, strip again and twist the strands the way they are laid before soldering.
"""

from __future__ import annotations

import math

import numpy as np

from inspector.areas import line, own, parts, places
from inspector.model import (
    Check,
    Fault,
    Limit,
    Mask,
    Measured,
    Measurement,
    NotMeasured,
    Points,
    Region,
    View,
)
from inspector.uncertainty import quantity

NAME = "birdcage"
LIMIT_D = 1.0
MARGIN_D = 0.04  # kept clear of the insulation's end and of the lip
SPECK = 0.01  # parts smaller than this share of D squared are not the bundle
FEWEST_ROWS, FEWEST_PX = 3, 3
SMOOTH_D = 0.05  # rows over which the width is a running median
EDGE_PX = 0.5  # each side


def measure(view: View) -> tuple[Measured, ...]:
    """Widest place of the bare bundle in D."""
    joint = view.joint
    rows = _rows(view)
    if len(rows) < FEWEST_ROWS:
        because = "no bare strands show between insulation and terminal"
        return (NotMeasured("width", because),)
    s, low, high = rows.T
    window = max(1, round(SMOOTH_D * joint.d_px)) | 1
    padded = np.pad(high - low, window // 2, mode="edge")
    width = np.median(np.lib.stride_tricks.sliding_window_view(padded, window), axis=1)
    at = int(np.argmax(width))
    value = float(width[at])
    share = {
        "edges": math.sqrt(2) * EDGE_PX / joint.d_px,
        "D": value * joint.d_standard_uncertainty_px / joint.d_px,
    }
    ends = joint.from_frame(np.array([[s[at], low[at]], [s[at], high[at]]]))
    widest = quantity(f"{NAME}.width", value, "D", share)
    return (Measurement("width", widest, (line(joint, ends, dimension=True),)),)


def _rows(view: View) -> Points:
    """S and the two edges t of the bare bundle in D, one row (3,) for each pixel along s."""
    joint = view.joint
    speck = max(4, round(SPECK * joint.d_px**2))
    bare = _kept(own(joint, Region.CONDUCTOR), speck)
    points = places(bare)
    if len(points) == 0:
        return np.zeros((0, 3))
    s, t = joint.to_frame(points).T
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    half = 0.5 / joint.d_px  # a pixel's edge lies half a pixel beyond its centre
    found = []
    for at in np.arange(MARGIN_D, lip - MARGIN_D, 1.0 / joint.d_px):
        bundle = t[np.abs(s - at) <= half]
        if len(bundle) >= FEWEST_PX:
            found.append((float(at), float(bundle.min()) - half, float(bundle.max()) + half))
    return np.array(found).reshape(-1, 3)


def _kept(mask: Mask, least_px: int) -> Mask:
    """The mask without specks."""
    kept = np.zeros_like(mask)
    for part in parts(mask, least_px):
        kept |= part
    return kept


LIMITS = (
    Limit(
        "width",
        "max",
        LIMIT_D,
        "D",
        "J-STD-001 5.1",
        "seen, fragment",
        "The bare strands bulge to {value}; they may be no wider than the insulation ({limit}).",
        "Cut the end off, strip again and twist the strands along their lay before soldering.",
    ),
)

CHECK = Check(NAME, "Birdcage", measure, LIMITS, __doc__ or "", faults={"width": Fault.BIRDCAGE})
