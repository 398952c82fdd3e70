"""Strands that left the bundle of one joint: found, joined over breaks, and traced.

A piece belongs to the joint whose bare metal is nearest. How surely it is attached falls with the
gap between the two: what touches is attached, a hair more than one D away lies on the bench. In
between the photo does not tell, and `attached` says so as a probability.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import KDTree

from inspector.areas import (
    BARE,
    border_points,
    nearest,
    others_points,
    own,
    parts,
)
from inspector.model import Mask, Points, Region, View
from inspector.outline import is_any
from inspector.trace import centre_line, length

TOUCHING_D = 0.12  # gap up to which a strand is attached for certain; glare breaks its root
APART_D = 1.0  # gap from which it is not this joint's
BREAK_D = 0.3  # gap in a strand that is still one strand
STRAIGHT_ON = 0.4  # cosine between the piece, the gap and the next piece
CLOUD_WIDTH_D = 0.14  # wider than this on average: a frayed cloud, not one strand
ROOT_D = 0.25  # a V whose middle is this near to the bundle and whose ends are not: two strands
LEAST_PX = 4
MIDDLE = 80.0  # percentile of the certainty of a strand's pixels
_AIM_PX = 6


@dataclass(frozen=True, slots=True)
class Strand:
    """One strand, patch pixels. path (N, 2) runs from the bundle to the tip.

    attached, sure: 0..1, how surely it belongs to this joint, and is a strand at all. A cloud
    is a frayed tuft, whose path is only its longest way.
    """

    path: Points
    attached: float
    sure: float
    cloud: bool

    @property
    def length_px(self) -> float:
        """Length along the path."""
        return length(self.path)

    @property
    def probability(self) -> float:
        """How surely this joint has this strand."""
        return self.attached * self.sure


def strands(view: View) -> tuple[Strand, ...]:
    """All strands that may be this joint's, likeliest and longest first."""
    joint = view.joint
    bare = own(joint, *BARE)
    border = border_points(bare)
    if len(border) == 0:
        return ()
    d = joint.d_px
    theirs = others_points(view, *BARE)
    pieces: list[Strand] = []
    for area in parts(is_any(joint.patch.labels, (Region.STRAND,)), LEAST_PX):
        # at the edge of a thin thing nothing can be sure; its middle tells
        sure = float(np.percentile(joint.patch.sure[area], MIDDLE))
        line = centre_line(area)
        cloud = float(area.sum()) > CLOUD_WIDTH_D * d * max(length(line), 1.0)
        pieces += [Strand(path, 0.0, sure, cloud) for path in _split(line, border, d)]
    found = []
    for chain in _joined(pieces, border, d):
        gap, pair = nearest(chain.path, border)
        their_gap, _ = nearest(chain.path, theirs)
        if their_gap < gap - 1.0:  # one that only reaches over here has its root over there
            continue
        attached = float(np.clip((APART_D * d - gap) / ((APART_D - TOUCHING_D) * d), 0.0, 1.0))
        if attached == 0.0:
            continue
        path = chain.path
        if gap <= TOUCHING_D * d and np.array_equal(pair[0], path[0]):
            # from the edge of the metal, half a pixel this side of its last pixel's centre
            edge = pair[1] + (path[0] - pair[1]) * min(0.5 / max(gap, 0.5), 1.0)
            path = np.concatenate([edge[None], path])
        path = _outside(path, bare)
        found.append(Strand(path, attached, chain.sure, chain.cloud))
    return tuple(sorted(found, key=lambda s: -s.probability * s.length_px))


def _split(line: Points, border: Points, d: float) -> list[Points]:
    """The line from its end at the bundle; two lines if it only comes near in its middle."""
    gaps = KDTree(border).query(line)[0]
    near = int(np.argmin(gaps))
    if min(gaps[0], gaps[-1]) > ROOT_D * d and gaps[near] <= TOUCHING_D * d:
        return [line[near::-1], line[near:]]
    return [line if gaps[0] <= gaps[-1] else line[::-1]]


def _joined(pieces: list[Strand], border: Points, d: float) -> list[Strand]:
    """Pieces made into whole strands, each begun at the piece nearest to the bundle."""
    rest = sorted(pieces, key=lambda s: nearest(s.path[:1], border)[0])
    whole = []
    while rest:
        strand = rest.pop(0)
        while (step := _next(strand, rest, d)) is not None:
            index, onward = step
            piece = rest.pop(index)
            sizes = [strand.length_px, piece.length_px]
            sure = float(np.average([strand.sure, piece.sure], weights=sizes))
            path = np.concatenate([strand.path, onward])
            strand = Strand(path, 0.0, sure, strand.cloud or piece.cloud)
        whole.append(strand)
    return whole


def _next(strand: Strand, rest: list[Strand], d: float) -> tuple[int, Points] | None:
    """The piece that goes straight on from the strand's tip, and its path from there."""
    best, best_gap = None, BREAK_D * d
    tip = strand.path[-1]
    for index, piece in enumerate(rest):
        for path in (piece.path, piece.path[::-1]):
            gap = float(np.hypot(*(path[0] - tip)))
            if gap <= best_gap and _goes_on(strand.path, path):
                best, best_gap = (index, path), gap
    return best


def _goes_on(one: Points, other: Points) -> bool:
    """Whether `other` continues `one` without a sharp turn on either side of the break."""
    ways = [
        one[-1] - one[-min(_AIM_PX, len(one))],
        other[0] - one[-1],
        other[min(_AIM_PX, len(other)) - 1] - other[0],
    ]
    unit = [w / max(float(np.hypot(*w)), 1e-9) for w in ways]
    return bool(min(unit[0] @ unit[1], unit[1] @ unit[2]) >= STRAIGHT_ON)


def _outside(path: Points, bare: Mask) -> Points:
    """The path without what lies on the bundle itself, at least its last two points."""
    x, y = np.round(path).astype(int).T
    inside = bare[np.clip(y, 0, bare.shape[0] - 1), np.clip(x, 0, bare.shape[1] - 1)]
    first = int(np.argmin(inside)) if not inside.all() else len(path) - 2
    return path[max(0, min(first - 1, len(path) - 2)) :]
