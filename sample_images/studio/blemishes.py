"""Where things may sit on a joint's solder, and pits and cracks that lie on its surface.

A flat disc on a curved, lumpy surface is mostly buried in it; so what lies on solder is laid onto
the very mesh, corner by corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from .mesh import Array, grid_faces, noise3
from .solder_surfaces import Sheet
from .spec import JointSpec

Mesh = tuple[Array, NDArray[np.uint32]]
CLEAR = 1.03  # of the bundle's radius: nearer to its axis the bundle hides a place
EDGE = 4  # rows and columns of a sheet left out at its edges
TOWARD = 0.15  # the least share of a place's normal that faces what the cup opens to
LIFT_MM = 0.02
NEIGHBOURS = 4
ONE_WAY = 0.3  # of a sheet's mean normal: so much of it, and it faces one way


@dataclass(frozen=True)
class Ground:
    """Solder as points (n, 3) with outward unit normals (n, 3); `places` index those to sit on."""

    points: Array
    normals: Array
    places: NDArray[np.intp]

    def pick(self, rng: np.random.Generator) -> tuple[Array, Array]:
        """A place and its normal: likelier the more it faces what the cup opens to."""
        toward = np.clip(self.normals[self.places, 2], TOWARD, 1.0) ** 3
        k = int(rng.choice(self.places, p=toward / toward.sum()))
        return self.points[k], self.normals[k]

    def under(self, points: Array, lift: float) -> Array:
        """Points (m, 3) brought down onto the surface, and `lift` mm above it.

        Beyond the solder's edge a point comes to lie on the edge: a crack ends with the solder.
        """
        far, near = cKDTree(self.points).query(points, k=NEIGHBOURS)
        off = points[:, None] - self.points[near]
        height = (off * self.normals[near]).sum(-1, keepdims=True)
        along = off - height * self.normals[near]
        long = np.linalg.norm(along, axis=-1, keepdims=True)
        # from each corner no further than to the next one
        reach = 1.5 * np.median(
            np.linalg.norm(self.points[near[:, 1:2]] - self.points[near[:, :1]], axis=-1)
        )
        along *= np.minimum(1.0, reach / np.maximum(long, 1e-9))
        laid = self.points[near] + along + lift * self.normals[near]
        weight = (1 / (far + 1e-6))[..., None]
        return (laid * weight).sum(axis=1) / weight.sum(axis=1)


def ground(spec: JointSpec, sheets: list[tuple[Sheet, int, int]]) -> Ground | None:
    """The solder of these sheets, each a grid of rows and columns; None if none of it is free."""
    points, normals, free = [], [], []
    for sheet, rows, columns in sheets:
        n = _outward(spec, sheet)
        inner = np.zeros((rows, columns), bool)
        inner[EDGE:-EDGE, EDGE:-EDGE] = True
        points.append(sheet.vertices)
        normals.append(n)
        free.append(inner.ravel() & ~_hidden(spec, sheet.vertices) & (n[:, 2] > -TOWARD))
    places = np.flatnonzero(np.concatenate(free)) if free else np.array([], int)
    if not len(places):
        return None
    return Ground(np.concatenate(points), np.concatenate(normals), places)


def _outward(spec: JointSpec, sheet: Sheet) -> Array:
    """Normals of the vertices that point away from the wire's axis or up from under it."""
    v, f = sheet.vertices, sheet.faces.astype(int)
    a, b, c = v[f[:, 0]], v[f[:, 1]], v[f[:, 2]]
    n = np.zeros_like(v)
    for k in range(3):
        np.add.at(n, f[:, k], np.cross(b - a, c - a))
    n /= np.linalg.norm(n, axis=1, keepdims=True) + 1e-12
    # a sheet is wound one way throughout: one that faces a side faces the opening, one that goes
    # round the wire faces away from it
    if np.linalg.norm(n.mean(axis=0)[1:]) > ONE_WAY:
        return n if n[:, 2].sum() > 0 else -n
    radial = v - np.array([0.0, *spec.offset])
    return n if (n[:, 1:] * radial[:, 1:]).sum() > 0 else -n


def _hidden(spec: JointSpec, v: Array) -> NDArray[np.bool_]:
    """Which points lie in the bundle, or under it as the cup's opening sees it."""
    cy, cz = spec.offset
    y, z = v[:, 1] - cy, v[:, 2] - cz
    clear = CLEAR * spec.core_mm
    along = v[:, 0] <= spec.seat * spec.cup.depth
    return along & ((np.hypot(y, z) < clear) | ((np.abs(y) < clear) & (z < 0)))


def pit(
    rng: np.random.Generator, on: Ground, at: Array, normal: Array, size: float, *, crack: bool
) -> tuple[Mesh, Mesh]:
    """The dark opening of a hole (radius `size`) or of a crack (length 8 `size`), and its rim."""
    helper = np.array([1.0, 0, 0]) if abs(normal[0]) < 0.9 else np.array([0, 1.0, 0])
    a = np.cross(normal, helper)
    a /= np.linalg.norm(a)
    b = np.cross(normal, a)
    phi = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    seed = int(rng.integers(1 << 30))
    edge = 1 + 0.3 * noise3(np.column_stack([np.cos(phi), np.sin(phi), 0 * phi]), seed, 0.6, 3)
    long, wide = (4.0 * size, 0.35 * size) if crack else (size, size * rng.uniform(0.6, 1))
    turn, phase = rng.uniform(0, np.pi), rng.uniform(0, 6)
    e1, e2 = np.cos(turn) * a + np.sin(turn) * b, -np.sin(turn) * a + np.cos(turn) * b

    def rings(shares: tuple[float, ...], lifts: tuple[float, ...]) -> Mesh:
        made = []
        for share, lift in zip(shares, lifts, strict=True):
            more = max(0.0, share - 1) * size  # a rim is as wide along a crack as across it
            x = (min(share, 1.0) * long + more) * edge * np.cos(phi)
            y = (min(share, 1.0) * wide + more) * edge * np.sin(phi)
            if crack:
                y = y + 0.5 * size * np.sin(x / (1.2 * size) + phase)
            flat = at + x[:, None] * e1 + y[:, None] * e2
            made.append(on.under(flat, lift))
        return np.concatenate(made), grid_faces(len(shares), len(phi), wrap=True)

    hole = rings((0.02, 0.3, 0.55, 0.8, 1.0), (LIFT_MM,) * 5)
    height = LIFT_MM + (0.25 * size * rng.uniform(0, 1) if rng.random() < 0.6 else 0.0)
    rim = rings((0.97, 1.1, 1.25, 1.45), (LIFT_MM, height, 0.7 * height, -2 * LIFT_MM))
    return hole, rim
