"""What lies between the poles of one connector: their cups' outlines and the metal about them."""

from __future__ import annotations

import math

import cv2
import numpy as np

from inspector.areas import BARE, border_points, others_points, own, places
from inspector.model import Joint, Points, Region, View
from inspector.outline import is_any

FEWEST, OVER_D = 20, 0.9  # pixels of a cup, and how far from its axis they may lie
CORE_D = 0.45  # half-width of the strip in which metal is this pole's beyond doubt
BESIDE = 0.8  # cosine between the axes of poles of one connector
BEFORE_D, CUP_D, SLOT_D = 0.3, 1.0, 0.05  # cup looked at, before and beyond the lip, in such slots


def side_by_side(view: View) -> tuple[Joint, ...]:
    """The neighbours that lie side by side with this joint, as poles of one connector do."""
    axis = np.array(view.joint.axis)
    return tuple(n for n in view.neighbours if float(axis @ np.array(n.axis)) > BESIDE)


def between_cups(view: View) -> float:
    """Smallest distance (px) between this cup's even outline and its neighbours'.

    Below 0: how deep they overlap. Infinite where a cup shows too little of its wall.
    """
    best = math.inf
    mine = _cup(view.joint)
    for other in view.neighbours:
        cup = _cup(other)
        if len(mine) == 0 or len(cup) == 0:
            continue
        moved = view.joint.patch.from_photo(other.patch.to_photo(cup))
        line = moved.astype(np.float32)
        outside = [
            -cv2.pointPolygonTest(line, (float(x), float(y)), measureDist=True) for x, y in mine
        ]
        best = min(best, *outside)
    return best


def _cup(joint: Joint) -> Points:
    """The cup as an even strip about its axis: its outline (N, 2), closed; empty if unknown."""
    points = places(own(joint, Region.TERMINAL))
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s, t = joint.to_frame(points).T
    near = (s > lip - BEFORE_D) & (s < lip + CUP_D) & (np.abs(t) < OVER_D)
    if near.sum() < FEWEST:
        return np.zeros((0, 2))
    s, t = s[near] - lip, np.abs(t[near])
    slots = np.floor(s / SLOT_D).astype(int)
    edges = [float(t[slots == k].max()) for k in np.unique(slots)]
    half = float(np.median(edges))  # shoulders and pins are no part of the cup
    along = np.linspace(lip, lip + float(s.max()), 20)
    edge = np.stack([along, np.full_like(along, half)], axis=1)
    return joint.from_frame(np.concatenate([edge, edge[::-1] * (1.0, -1.0)]))


def metals(view: View, least: float = 0.0) -> tuple[Points, Points, bool]:
    """Outlines of the metal that hangs together with this pole and with others; if it is one.

    Of the metal, only what the network is sure of by at least `least`.

    Where solder of one pole ends and that of another begins is a matter of which is nearer, so the
    joints' own masks say nothing about a bridge; what hangs together does.
    """
    joint = view.joint
    metal = is_any(joint.patch.labels, BARE) & (joint.patch.sure >= least)
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
    points = places(own(joint, *BARE))
    across = np.abs(joint.to_frame(points)[:, 1])
    return view.joint.patch.from_photo(joint.patch.to_photo(points[across <= CORE_D]))
