"""The cup: a tube that is open above, or closes behind a cut, with its root and its collar.

Figures are ours, no source; lengths in mm.
"""

from __future__ import annotations

import math

import numpy as np

from .fields import Array, step
from .meshes import Mesh, grid_faces, turned
from .pole import Pole

ARC_POINTS = 40  # of an arc of the cup, inside and outside
LIP_X = (0, 0.02, 0.06, 0.12)
LIP_ROUND = (0.38, 0.16, 0.05, 0)  # of the wall's thickness, at LIP_X
SEAM = 0.002  # rad, left open where the cup is closed
RIM = ((1, 0.7), (0, 1), (-1, 0.7))  # of the cut edge: how far out, and how far up


def cup_mesh(pole: Pole) -> Mesh:
    """The cup's wall with its rounded lip and edges."""
    xs = np.concatenate([LIP_X, np.linspace(0.2, pole.length, 60)])
    open_to = math.acos(np.clip(-pole.edge / pole.bore, -1, 1))
    change = pole.change * pole.bore
    rows = []
    for i, x in enumerate(xs):
        shut = step(pole.cut, pole.cut + change, x)
        reach = open_to
        if pole.cut < pole.length:
            reach = open_to + (math.pi - SEAM - open_to) * shut
        rounding = LIP_ROUND[i] if i < len(LIP_ROUND) else 0
        rows.append(_section(pole, x, reach, shut, rounding))
    outline = np.array(rows)
    count = outline.shape[1]
    vertices = outline.reshape(-1, 3)
    vertices[:, 1] += pole.y
    return Mesh(vertices, np.vstack([grid_faces(len(xs), count), _mouth()]))


def _section(pole: Pole, x: float, reach: float, shut: float, rounding: float) -> Array:
    """The wall's outline (n, 3) at x: outside, one edge, inside, the other edge."""
    outer = pole.bore + pole.wall - rounding * pole.wall
    inner = pole.bore + rounding * pole.wall
    edge = 0.3 * pole.wall / pole.bore * (1 - shut)
    angles = np.linspace(-reach, reach, ARC_POINTS)
    at = np.full(ARC_POINTS, x)
    back = angles[::-1]
    outside = np.stack([at, outer * np.sin(angles), -outer * np.cos(angles)], 1)
    inside = np.stack([at, inner * np.sin(back), -inner * np.cos(back)], 1)
    middle = (outer + inner) / 2

    def rim(side: int) -> list[list[float]]:
        points = []
        for out, up in RIM:
            radius, angle = middle + out * pole.wall * 0.28, reach + edge * up
            points.append([x, radius * math.sin(side * angle), -radius * math.cos(angle)])
        return points

    return np.vstack([outside, rim(1), inside, rim(-1)[::-1]])


def _mouth() -> Array:
    """Faces (39, 4) that close the wall at the lip, between its arcs outside and inside."""
    first = ARC_POINTS + len(RIM)
    faces = []
    for j in range(ARC_POINTS - 1):
        inside = first + ARC_POINTS - 1 - j
        faces.append([j, j + 1, inside - 1, inside])
    return np.array(faces)


def root_mesh(pole: Pole, housing_x: float) -> Mesh:
    """The cup's floor and the pin from there into the housing, which stands at housing_x."""
    bore, length, outer = pole.bore, pole.length, pole.bore + pole.wall
    profile = [
        (length - 0.02, 0.001),
        (length - 0.02, bore + 0.02),
        (length, bore + 0.03),
        (length + 0.01, outer - 0.08),
        (length + 0.09, outer),
        (housing_x + 2, outer),
    ]
    return turned((0, pole.y, 0), (1, 0, 0), profile)


def collar_mesh(pole: Pole, housing_x: float) -> Mesh:
    """A ring round the pin before the housing."""
    bore, outer = pole.bore, pole.bore + pole.wall
    x = pole.length + 0.15 + 0.3 * (housing_x - pole.length)
    profile = [
        (x, outer - 0.1),
        (x, outer + 0.25 * bore),
        (x + 0.08, outer + 0.3 * bore),
        (x + 0.5 + 0.3 * bore, outer + 0.3 * bore),
        (x + 0.58 + 0.3 * bore, outer + 0.2 * bore),
        (x + 0.6 + 0.3 * bore, outer - 0.1),
    ]
    return turned((0, pole.y, 0), (1, 0, 0), profile)
