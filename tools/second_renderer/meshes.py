"""Meshes of four-cornered faces from grids of points: tubes, sweeps, lathes and lofts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Mesh:
    """Vertices (n, 3) in D, faces (m, 4) of vertex numbers, unit normals (n, 3) where known."""

    vertices: Array
    faces: Faces
    normals: Array | None = None


def grid_faces(rows: int, columns: int) -> Faces:
    """Faces (m, 4) of a (rows, columns) grid of vertices whose last column meets the first."""
    i, k = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    following = (k + 1) % columns
    corners = [
        i * columns + k,
        i * columns + following,
        (i + 1) * columns + following,
        (i + 1) * columns + k,
    ]
    return np.stack(corners, -1).reshape(-1, 4)


def join(parts: Sequence[Mesh]) -> Mesh:
    """Several meshes as one."""
    vertices, faces, first = [], [], 0
    for part in parts:
        vertices.append(part.vertices)
        faces.append(part.faces + first)
        first += len(part.vertices)
    return Mesh(np.concatenate(vertices), np.concatenate(faces))


def turns(sides: int) -> Array:
    """Angles (sides,) once round, from 0."""
    return np.linspace(0, 2 * np.pi, sides, endpoint=False)


def frames(lines: Array) -> tuple[Array, Array, Array]:
    """Tangents and two normals, (..., n, 3) each, along lines (..., n, 3) that are not upright."""
    tangent = np.gradient(lines, axis=-2)
    tangent /= np.linalg.norm(tangent, axis=-1, keepdims=True) + 1e-12
    upright = np.array([0.05, 0.02, 0.99])  # a little askew: no line of a scene runs along it
    first = np.cross(upright, tangent)
    first /= np.linalg.norm(first, axis=-1, keepdims=True) + 1e-12
    return tangent, first, np.cross(tangent, first)


def tubes(lines: Array, radius: ArrayLike, sides: int = 6) -> Mesh:
    """Open tubes round lines (m, n, 3); radius is one number or (m, n)."""
    count, points, _ = lines.shape
    _, first, second = frames(lines)
    radii = np.broadcast_to(radius, (count, points))[..., None, None]
    angle = turns(sides)
    ring = lines[:, :, None] + radii * (
        np.cos(angle)[:, None] * first[:, :, None] + np.sin(angle)[:, None] * second[:, :, None]
    )
    start = (np.arange(count) * points * sides)[:, None, None]
    faces = grid_faces(points, sides)[None] + start
    return Mesh(ring.reshape(-1, 3), faces.reshape(-1, 4))


def ring_points(centres: Array, first: Array, second: Array, radii: Array, angles: Array) -> Array:
    """Points (n, k, 3) round centres (n, 3) or (n, k, 3) at radii (n, k) and angles (k,)."""
    middle = centres[:, None] if centres.ndim == 2 else centres
    way = (
        np.cos(angles)[None, :, None] * first[:, None]
        + np.sin(angles)[None, :, None] * second[:, None]
    )
    return middle + radii[..., None] * way


def sweep(path: Array, radii: Array, angles: Array) -> Mesh:
    """Surface round a path (n, 3) with radii (n, k) at the angles (k,)."""
    _, first, second = frames(path)
    points = ring_points(path, first, second, radii, angles)
    return Mesh(points.reshape(-1, 3), grid_faces(len(path), len(angles)))


def lathe(profile: ArrayLike, sides: int = 48) -> Mesh:
    """Profile, rows of (x, radius), turned about the x axis."""
    rows = np.asarray(profile, float)
    angle = turns(sides)
    x = np.repeat(rows[:, :1], sides, 1)
    radius = rows[:, 1:]
    points = np.stack([x, radius * np.cos(angle), radius * np.sin(angle)], -1)
    return Mesh(points.reshape(-1, 3), grid_faces(len(rows), sides))


def loft(sections: Sequence[tuple[float, float, float]], power: float, sides: int) -> Mesh:
    """Body along x with superellipse sections, rows of (x, half width y, half height z).

    power: 2 gives ellipses; the larger, the more like a rectangle.
    """
    angle = turns(sides) + np.pi / sides
    cosine, sine = np.cos(angle), np.sin(angle)
    y = np.sign(cosine) * np.abs(cosine) ** (2 / power)
    z = np.sign(sine) * np.abs(sine) ** (2 / power)
    rows = [np.stack([np.full(sides, x), wide * y, high * z], -1) for x, wide, high in sections]
    return Mesh(np.concatenate(rows), grid_faces(len(sections), sides))
