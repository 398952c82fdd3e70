"""Stray strand: a strand of the wire that stands outside the bundle.

What: single strands, or a tuft of them, that were not caught in the solder.

Why: a strand of 0.08 mm carries a fault current long enough to arc, can touch the next pole or the
frame, breaks off later and wanders. Each one outside is also one fewer that carries current.

How measured: every strand is traced along its middle from where it leaves the bare metal to its
tip, over breaks by glare. `length` is the longest one along its path as the picture shows it,
`reach` how far the farthest tip is from the joint's outline, `strands` how many there are,
`to-next-pole` the distance from a tip to the next pole's bare metal, `pole-margin` the distance
from a strand's root to that metal less its length: below zero the strand could be bent over to it.
A hair near the joint that touches nothing counts by how likely it is to be attached. Where a
strand would be too thin in the picture to be seen, "none seen" is given a large uncertainty.

Limit: none outside the bundle of 0.5 mm or more, none able to reach another pole. Without the
wire's size 0.5 mm is read as 0.11 D, its size at 4.5 mm overall; that soft wire is 1.5 to 6.3 mm
overall then adds 41 % of the limit to the uncertainty, so that strands near it become doubt.

Source: NASA-STD-8739.4 (seen: no protruding strands, Change 6, 19.6.1; frayed strands rejected,
1998, 19.6.2); the 0.5 mm is a house rule; reaching another pole: common practice, no source.

Remedy: with the power off, wick the solder away, twist all strands in, solder again. Cut no strand
off: fewer strands carry the same current.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import KDTree

from inspector.areas import BARE, border_points, line, nearest, others_points, own
from inspector.marks import Thing, most_telling
from inspector.model import (
    Check,
    Evidence,
    Fault,
    Limit,
    Measured,
    Measurement,
    NotMeasured,
    Region,
    View,
)
from inspector.ruler import Ruler, ruler
from inspector.strands import Strand, strands
from inspector.uncertainty import quantity

NAME = "stray-strand"
LIMIT_MM = 0.5
LIMIT_D = 0.11  # the same at the nominal overall diameter
STRAND_MM = 0.08  # single strand of soft wire, common practice
# Strands of 2 px are found, from 1.2 px on partly. What may be overlooked grows as they
# get thinner; the table of conformance fitted to calibration scenes holds how far, this is only
# its start.
SEEN_PX = 0.65
OVERLOOKED_MM = 0.3  # standard uncertainty of "none seen" at SEEN_PX: 0.5 mm is just decided
TRACE_PX, TRACE_SHARE = 0.8, 0.01  # against analytic curves, tests/test_trace.py
LIKELY = 0.5  # rather there than not
CLOUD_SHARE = 0.25  # a tuft has no single length


def measure(view: View) -> tuple[Measured, ...]:
    """Length of the longest strand, reach, count, and distances to the next pole."""
    unit = ruler(view)
    if not own(view.joint, *BARE).any():
        return (NotMeasured(unit.name("length"), "no bare metal of the joint shows"),)
    found = strands(view)
    results: list[Measured] = [_longest(found, view, unit)]
    if any(s.probability >= LIKELY for s in found):
        results.append(_reach(found, view, unit))
        count = sum(s.probability for s in found)
        doubt = math.sqrt(sum(s.probability * (1 - s.probability) for s in found))
        number = quantity(f"{NAME}.strands", count, "1", {"attached or not": doubt})
        results.append(Measurement("strands", number))
        results += _poles(found, view, unit)
    return tuple(results)


def overlooked(unit: Ruler) -> float:
    """Standard uncertainty of the longest strand's length when none is seen, in the unit."""
    strand_px = unit.of_mm(STRAND_MM) / unit.coarse_px
    return unit.of_mm(OVERLOOKED_MM) * (SEEN_PX / strand_px) ** 2


def _longest(found: tuple[Strand, ...], view: View, unit: Ruler) -> Measurement:
    name = unit.name("length")
    blind = overlooked(unit)
    if not found:
        parts = {"too thin to see": blind, "wire size": unit.spread(LIMIT_MM)}
        return Measurement(name, quantity(f"{NAME}.{name}", 0.0, unit.unit, parts))
    things = [
        Thing(s.length_px * unit.per_px, _trace(s.length_px * unit.per_px, unit), s.probability)
        for s in found
    ]
    named, presence = most_telling(things, unit.of_mm(LIMIT_MM))
    best, full = found[named], things[named].size
    parts = {
        "trace": things[named].u,
        "scale": unit.relative * full,
        "tuft": CLOUD_SHARE * full if best.cloud else 0.0,
        "wire size": unit.spread(LIMIT_MM),
        # an overlooked strand matters only if it is longer than the one seen
        "too thin to see": max(0.0, blind - full),
    }
    evidence = tuple(line(view.joint, s.path) for s in found)
    length = quantity(f"{NAME}.{name}", full, unit.unit, parts)
    return Measurement(name, length, evidence, presence)


def _trace(full: float, unit: Ruler) -> float:
    """Standard uncertainty of a traced length, in the unit."""
    return math.hypot(TRACE_PX * unit.per_px, TRACE_SHARE * full)


def _reach(found: tuple[Strand, ...], view: View, unit: Ruler) -> Measurement:
    """Distance from the joint's outline, insulation included, to the farthest point of a strand."""
    border = border_points(own(view.joint, *BARE, Region.INSULATION))
    tree = KDTree(border)
    best, pair = 0.0, np.zeros((2, 2))
    for strand in found:
        if strand.probability < LIKELY:
            continue
        gaps, indices = tree.query(strand.path)
        far = int(np.argmax(gaps))
        if gaps[far] > best:
            best = float(gaps[far])
            pair = np.stack([strand.path[far], border[int(indices[far])]])
    parts = {"edges": TRACE_PX * unit.per_px, "scale": unit.relative * best * unit.per_px}
    name = unit.name("reach")
    value = quantity(f"{NAME}.{name}", best * unit.per_px, unit.unit, parts)
    return Measurement(name, value, (line(view.joint, pair[::-1], dimension=True),))


def _poles(found: tuple[Strand, ...], view: View, unit: Ruler) -> list[Measured]:
    """Distance of the nearest tip to another pole, and the margin of the one that reaches most."""
    theirs = others_points(view, *BARE)
    if len(theirs) == 0:
        return []
    seen = [s for s in found if s.probability >= LIKELY]
    if not seen:
        return []
    gaps = [nearest(s.path, theirs) for s in seen]
    roots = [nearest(s.path[:1], theirs) for s in seen]
    margins = [root[0] - s.length_px for root, s in zip(roots, seen, strict=True)]
    tip = int(np.argmin([g[0] for g in gaps]))
    reaching = [
        Thing(-margin, 2 * TRACE_PX, s.probability) for margin, s in zip(margins, seen, strict=True)
    ]
    worst, presence = most_telling(reaching, 0.0)
    edge = {"edges": 2 * TRACE_PX * unit.per_px}
    distance = quantity(
        f"{NAME}.{unit.name('to-next-pole')}", gaps[tip][0] * unit.per_px, unit.unit, edge
    )
    margin = margins[worst] / view.joint.d_px
    share = {
        "edges": 2 * TRACE_PX / view.joint.d_px,
        "trace": TRACE_SHARE * seen[worst].length_px / view.joint.d_px,
    }
    here: tuple[Evidence, ...] = (line(view.joint, gaps[tip][1], dimension=True),)
    there = (line(view.joint, roots[worst][1], dimension=True),)
    return [
        Measurement(unit.name("to-next-pole"), distance, here),
        Measurement(
            "pole-margin",
            quantity(f"{NAME}.pole-margin", margin, "D", share),
            there,
            presence,
        ),
    ]


_SOURCE = "NASA-STD-8739.4 (Change 6) 19.6.1 and (1998) 19.6.2; 0.5 mm house"
_REASON = "A strand stands {value} out of the bundle; none of {limit} or more is allowed."
_REMEDY = (
    "Power off. Wick the solder away, twist every strand into the bundle and solder again; "
    "do not just cut the strand off."
)
LIMITS = (
    Limit(
        "length", "max", LIMIT_MM, "mm", _SOURCE, "seen", _REASON, _REMEDY, thing="a stray strand"
    ),
    Limit(
        "length-in-D",
        "max",
        LIMIT_D,
        "D",
        f"{_SOURCE}, read as 0.11 D since the wire size is not known",
        "seen",
        _REASON,
        _REMEDY,
        thing="a stray strand",
    ),
    Limit(
        "pole-margin",
        "min",
        0.0,
        "D",
        "no strand may be able to reach another pole",
        "common practice",
        "A strand is long enough to reach the next pole.",
        _REMEDY,
        thing="a strand toward the next pole",
    ),
)

CHECK = Check(
    NAME, "Stray strand", measure, LIMITS, __doc__ or "",
    ("length", "length-in-D"), "stray strands",
    dict.fromkeys(("length", "length-in-D", "pole-margin"), Fault.STRAND),
)  # fmt: skip
