"""Meshes as arrays, and the ways to make them: sweeps along lines and solids of revolution."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from .fields import Array

SKEW = 0.1  # shorter than this, a cross product gives no usable normal


@dataclass(frozen=True, slots=True)
class Mesh:
    """A surface.

    vertices (n, 3), mm. faces (m, 3) or (m, 4), indices of vertices. caps (k, 3): further
    triangles, that close the ends of a sweep. values: a number for each vertex, (n,), by name.
    """

    vertices: Array
    faces: Array
    caps: Array | None = None
    values: Mapping[str, Array] = field(default_factory=dict)


def grid_faces(rows: int, columns: int) -> Array:
    """Quadrilaterals (m, 4) of a grid of vertices, rows one after the other, each row a ring."""
    i = np.arange(rows - 1)[:, None]
    j = np.arange(columns)[None]
    after = (j + 1) % columns
    corners = (i * columns + j, i * columns + after, (i + 1) * columns + after)
    return np.stack([*corners, (i + 1) * columns + j], -1).reshape(-1, 4)


def frames(line: ArrayLike) -> tuple[Array, Array, Array]:
    """Unit vectors along a line (n, 3) and two across it, each (n, 3), that do not twist."""
    tangents = np.gradient(np.asarray(line, float), axis=0)
    tangents /= np.linalg.norm(tangents, axis=1)[:, None] + 1e-12
    normal = np.cross(tangents[0], [0.0, 0.0, 1.0])
    if np.linalg.norm(normal) < SKEW:
        normal = np.cross(tangents[0], [0.0, 1.0, 0.0])
    normal /= np.linalg.norm(normal)
    normals = [normal]
    for tangent in tangents[1:]:
        normal = normal - tangent * normal.dot(tangent)
        normal /= np.linalg.norm(normal)
        normals.append(normal)
    out = np.array(normals)
    return tangents, out, np.cross(tangents, out)


def ring_angles(count: int) -> Array:
    """Angles (count,) round a ring, from 0."""
    return np.arange(count) / count * 2 * np.pi


def around(line: Array, radii: Array, normals: Array, binormals: Array) -> Array:
    """Points (n, k, 3) round a line (n, 3) at the radii (n, k)."""
    angles = ring_angles(radii.shape[1])
    across = np.cos(angles)[None, :, None] * normals[:, None]
    across = across + np.sin(angles)[None, :, None] * binormals[:, None]
    return np.asarray(line[:, None] + radii[..., None] * across)


def sweep(line: ArrayLike, radii: ArrayLike, sides: int = 24) -> Mesh:
    """A closed tube along a line (n, 3) with the radii (n,); its caps meet at the line's ends."""
    spine = np.asarray(line, float)
    _, normals, binormals = frames(spine)
    wide = np.repeat(np.asarray(radii, float)[:, None], sides, 1)
    rings = around(spine, wide, normals, binormals).reshape(-1, 3)
    first = len(rings)
    j = np.arange(sides)
    after = (j + 1) % sides
    last_ring = (len(spine) - 1) * sides
    start = np.stack([after, j, np.full(sides, first)], 1)
    end = np.stack([last_ring + j, last_ring + after, np.full(sides, first + 1)], 1)
    return Mesh(
        np.vstack([rings, spine[0], spine[-1]]),
        grid_faces(len(spine), sides),
        np.vstack([start, end]),
    )


def bezier(points: ArrayLike, count: int = 40) -> Array:
    """Points (count, 3) of the cubic Bezier curve of four points (4, 3)."""
    p = np.array(points, float)
    t = np.linspace(0, 1, count)[:, None]
    ends = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1]
    return np.asarray(ends + 3 * (1 - t) * t * t * p[2] + t**3 * p[3])


def turned(
    centre: ArrayLike, axis: ArrayLike, profile: Sequence[tuple[float, float]], sides: int = 40
) -> Mesh:
    """A solid of revolution about the axis (3,) through the centre (3,).

    profile: distance along the axis and radius there, one after the other.
    """
    way = np.array(axis, float)
    way /= np.linalg.norm(way)
    line = np.array(centre, float) + np.array([[along] for along, _ in profile]) * way
    # a step of the radius has no direction of its own
    line = line + np.arange(len(line))[:, None] * 1e-5 * way
    return sweep(line, np.array([radius for _, radius in profile]), sides)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes as one, without their caps and values."""
    counts = np.cumsum([0] + [len(mesh.vertices) for mesh in meshes])
    faces = [mesh.faces + first for mesh, first in zip(meshes, counts[:-1], strict=True)]
    return Mesh(np.vstack([mesh.vertices for mesh in meshes]), np.vstack(faces))
