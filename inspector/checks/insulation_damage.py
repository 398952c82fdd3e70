"""Insulation damage: burnt, melted, cut or split insulation, and a melted housing.

What: char at the insulation's end, insulation that melted back raggedly, cuts; a connector
housing that softened around the contact.

Why: too much heat for too long, or an iron laid against the wire. Damaged insulation tears on at
the place where the wire bends most; a softened housing no longer holds its contact straight.

How measured: `char` is the greatest extent of marked damage on the insulation, `housing-melt` that
on the housing beside this joint. `ragged` is how far the insulation's end departs from a clean cut:
the end seen at a slant is half an ellipse, or two where the wire comes out of its face; these are
fitted and taken away, and what is left, from the deepest notch to the farthest tongue, is the
measurement.

Limit: discolouration only; char or melting of 0.125 D or more is damage (house: the least that is
told from dirt), an end ragged by more than 0.25 D.

Source: NASA-STD-8739.3 7.2.2 and 13.6.2.a.1, US Army STP 11-25R13-SM-TG A-9c (seen); 0.25 D from
NASA-STD-8739.4 10.1.6 (quoted by the project's criteria).

Remedy: cut back to sound insulation, strip and solder again with less time on the joint; fit a new
housing.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import lsq_linear

from inspector.areas import BARE, around, line, mine, outline, own, places, theirs
from inspector.marks import Blob, blobs, telling_extent
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
from inspector.outline import is_any, pick
from inspector.ruler import ruler
from inspector.uncertainty import quantity

NAME = "insulation-damage"
LIMIT_CHAR_D, LIMIT_RAGGED_D = 0.125, 0.25
NEAR_D = 0.1  # damage may have taken the insulation's own colour away at its edge
HOUSING_D = 1.5  # housing this near to the joint's metal is its concern
RESOLVED_PX = 1.5
HALF_D = 0.42  # the end is read over this half-width; farther out it is the wire's side
LEAST_END_D = 0.3  # of the end that must show
DEPTH_D = 0.8  # and over this much of the axis to both sides of the end
DEEPEST_D = 2.0  # a notch deeper than that is followed so far, where nothing else covers the wire
NOTCH = (Region.BACKGROUND, Region.CONDUCTOR, Region.SOLDER, Region.STRAND)
NOTCH_STEPS = 9
FEWEST = 9
SMOOTH = 5  # columns of a running median: a corner of the wire is no notch
BEYOND_PX = 2.0
TURN = 4.0  # columns
BESIDE_D = (-0.12, -0.06, 0.06, 0.12)
FEWEST_ASIDE = 4  # columns on either side of the wire that make a side
FITS, LEAST_REST_D = 12, 0.005
# How far a clean end's shape may be bent to fit, D: nearly all of 230 clean ends of calibration
# photos need no more; ours, no source. What a tear is deeper than that stays a tear.
ANYWHERE = (-np.inf, np.inf)
SLANT, BOW, STEP, INNER_BOW, SIDEWAYS = (
    (-0.35, 0.35), (-0.25, 0.45), (-0.4, 0.1), (-0.35, 0.1), (-0.2, 0.2)
)  # fmt: skip
EDGE_PX = 0.5


def measure(view: View) -> tuple[Measured, ...]:
    """Extent of damage on insulation and housing, and the end's raggedness, all in D."""
    joint = view.joint
    insulation = own(joint, Region.INSULATION)
    if not insulation.any():
        return (NotMeasured("char", "no insulation of this wire shows"),)
    others = is_any(joint.patch.labels, (Region.INSULATION,)) & ~insulation
    skin = around(insulation, NEAR_D * joint.d_px) & ~others & ~theirs(view)
    housing = is_any(joint.patch.labels, (Region.HOUSING,))
    bare = own(joint, *BARE)
    beside = housing & around(bare, HOUSING_D * joint.d_px)
    found = [_damage(view, "char", skin & ~housing), _ragged(view, insulation)]
    if beside.any():
        found.append(_damage(view, "housing-melt", beside))
    return tuple(found)


def _damage(view: View, name: str, within: Mask) -> Measurement:
    """Greatest extent, D, of what is marked as damage inside `within`."""
    joint, unit = view.joint, ruler(view, in_d=True)
    found = [blob for blob in blobs(joint, Mark.CHAR, within) if mine(view, blob.mask)]
    areas = [Blob(blob.mask & within, blob.probability) for blob in found]
    edges = math.sqrt(2) * EDGE_PX / joint.d_px
    best, u, sure = 0.0, RESOLVED_PX * unit.coarse_px, 1.0
    evidence: tuple[Evidence, ...] = ()
    worst = telling_extent(joint, areas, edges, LIMIT_CHAR_D)
    if worst is not None:
        (best, sure, area), u = worst, edges
        evidence = (outline(joint, area),)
    size = quantity(f"{NAME}.{name}", best, "D", {"edges, or none": u})
    return Measurement(name, size, evidence, sure)


def end_line(view: View, insulation: Mask) -> tuple[Points, Mask]:
    """The insulation's end as (t, s) in D, one point (2,) a pixel across, and where wire follows.

    The second is True (N,) where bare wire or solder begins right at that point.
    """
    joint = view.joint
    s, t = joint.to_frame(places(insulation)).T
    half = 0.5 / joint.d_px
    found = []
    for at in np.arange(-HALF_D, HALF_D + half, 1.0 / joint.d_px):
        here = s[(np.abs(t - at) <= half) & (s <= DEPTH_D) & (s >= -DEEPEST_D)]
        column = here[here >= -DEPTH_D]
        if len(column):
            found.append((float(at), float(column.max()) + half))
        elif len(here) and _open(view, float(here.max()) + half, float(at)):
            found.append((float(at), float(here.max()) + half))
    end = np.array(found).reshape(-1, 2)
    x, y = np.round(joint.from_frame(end[:, ::-1] + (BEYOND_PX / joint.d_px, 0.0))).astype(int).T
    high, wide = insulation.shape
    wire = is_any(joint.patch.labels, (Region.CONDUCTOR, Region.SOLDER))
    follows = wire[np.clip(y, 0, high - 1), np.clip(x, 0, wide - 1)]
    return end, follows


def _open(view: View, s: float, t: float) -> bool:
    """Whether a notch as deep as this one, in D, shows ground or wire, and nothing covers it."""
    joint = view.joint
    steps = np.linspace(s + BEYOND_PX / joint.d_px, 0.0, NOTCH_STEPS)
    seen = pick(joint.patch.labels, joint.from_frame(np.stack([steps, np.full(NOTCH_STEPS, t)], 1)))
    return bool(np.isin(seen, NOTCH).all())


def _shape(t: Points, follows: Mask) -> tuple[Points, Points]:
    """What a clean end may look like: columns (N, 3 to 6) to be fitted to its s, and their bounds.

    A slanted circle is half an ellipse. Seen from the front, the wire comes out of the middle of
    the end's face and hides the far half of it, so that there the inner half ellipse is the border.
    A wire that leaves the face off its middle, or another one beside it, shifts the two sides of
    the face against each other.
    """
    columns = [np.ones_like(t), t, np.sqrt(np.maximum(0.0, 1.0 - 4.0 * t * t))]
    bounds = [ANYWHERE, SLANT, BOW]
    if FEWEST <= np.count_nonzero(follows) <= len(t) - FEWEST:
        inner = t[follows]
        middle, half = (inner.max() + inner.min()) / 2, np.ptp(inner) / 2
        bow = np.sqrt(np.maximum(0.0, 1.0 - ((t - middle) / half) ** 2))
        columns += [follows.astype(float), np.where(follows, bow, 0.0)]
        bounds += [STEP, INNER_BOW]
        beyond = t > inner.max()
        if FEWEST_ASIDE <= np.count_nonzero(beyond) <= np.count_nonzero(~follows) - FEWEST_ASIDE:
            columns.append(beyond.astype(float))
            bounds.append(SIDEWAYS)
    return np.stack(columns, axis=1), np.array(bounds).T


def _rest(basis: Points, bounds: Points, s: Points) -> Points:
    """What is left of s (N,) by the fit with the least absolute rests, which no notch bends."""
    weight = np.ones_like(s)
    rest = s
    for _ in range(FITS):
        root = np.sqrt(weight)
        fit = lsq_linear(basis * root[:, None], s * root, tuple(bounds), method="bvls").x
        rest = s - basis @ fit
        weight = 1.0 / np.maximum(np.abs(rest), LEAST_REST_D)
    return rest


def _beside_a_turn(follows: Mask) -> Mask:
    """Columns (N,) where the wire's own edge meets the end: what is seen there is neither."""
    turns = np.flatnonzero(np.diff(follows.astype(int)))
    places = np.arange(len(follows))
    away = np.abs(places[:, None] - (turns[None, :] + 0.5))
    return np.asarray((away < TURN).any(axis=1), bool)


def _goes_on(view: View, end: Points) -> Mask:
    """Columns (N,) where another wire's insulation follows or lies just beside the end.

    There this one's end is hidden, or what looks like its end is a strip of the other's.
    """
    joint, other = view.joint, theirs(view).astype(np.uint8)
    back = end[:, ::-1] - (BEYOND_PX / joint.d_px, 0.0)
    beside = np.zeros(len(end), bool)
    for aside in BESIDE_D:
        beside |= pick(other, joint.from_frame(back + (0.0, aside)), 0) > 0
    ahead = joint.from_frame(end[:, ::-1] + (BEYOND_PX / joint.d_px, 0.0))
    hidden = pick(joint.patch.labels, ahead) == Region.INSULATION
    return np.asarray(hidden | beside, bool)


def _ragged(view: View, insulation: Mask) -> Measured:
    """Deepest notch to farthest tongue of the end about the shape that fits it, D."""
    joint = view.joint
    end, follows = end_line(view, insulation)
    if len(end):
        clear = ~_beside_a_turn(follows) & ~_goes_on(view, end)
        end, follows = end[clear], follows[clear]
    if len(end) < FEWEST or len(end) < LEAST_END_D * joint.d_px:
        return NotMeasured("ragged", "the insulation's end does not show across the wire")
    t, s = end.T
    rest = _rest(*_shape(t, follows), s)
    five = np.median(np.lib.stride_tricks.sliding_window_view(rest, SMOOTH), axis=1)
    value = float(np.ptp(five))
    low, high = int(np.argmin(five)) + SMOOTH // 2, int(np.argmax(five)) + SMOOTH // 2
    parts = {"edges": 2 * EDGE_PX * ruler(view, in_d=True).coarse_px}
    places = joint.from_frame(np.stack([s, t], axis=1))
    evidence = (line(joint, places), line(joint, places[[low, high]], dimension=True))
    return Measurement("ragged", quantity(f"{NAME}.ragged", value, "D", parts), evidence)


_SOURCE = "NASA-STD-8739.3 7.2.2, 13.6.2.a.1; US Army STP 11-25R13-SM-TG A-9c; 0.125 D house"
LIMITS = (
    Limit(
        "char",
        "max",
        LIMIT_CHAR_D,
        "D",
        _SOURCE,
        "seen; 0.125 D house",
        "The insulation is burnt, melted or cut over {value}; only discolouration is allowed.",
        "Cut back to sound insulation, strip and solder again, with less time on the joint.",
        thing="char",
    ),
    Limit(
        "housing-melt",
        "max",
        LIMIT_CHAR_D,
        "D",
        _SOURCE,
        "house",
        "The housing is melted or burnt over {value} beside this joint.",
        "Fit a new housing; solder with the contact out of it, or with its mate plugged in.",
        thing="a melted spot in the housing",
    ),
    Limit(
        "ragged",
        "max",
        LIMIT_RAGGED_D,
        "D",
        "NASA-STD-8739.4 10.1.6",
        "seen",
        "The insulation's end is ragged by {value}; at most {limit} is allowed.",
        "Cut back and strip again with a sharp stripper; keep the iron off the insulation.",
    ),
)

CHECK = Check(
    NAME, "Insulation damage", measure, LIMITS, __doc__ or "", ("char",), "char",
    {"char": Fault.CHAR, "housing-melt": Fault.CHAR, "ragged": Fault.RAGGED},
)  # fmt: skip
