"""Meshes in plain numpy: tubes, turned solids, prisms, boxes, and how to place them.

Millimetres. Faces turn their front (counter-clockwise side) outward. Where a surface has a sharp
edge its vertices are doubled, so that averaged vertex normals keep the edge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .mesh import frames
from .part import Material, Part

Floats = NDArray[np.float64]
TAU = 2.0 * np.pi


@dataclass(frozen=True, slots=True)
class Mesh:
    """Vertices (N, 3) mm, faces (M, 3), uv (N, 2)."""

    vertices: Floats
    faces: NDArray[np.int64]
    uv: Floats


def unit(vector: ArrayLike) -> Floats:
    """Vector (..., 3) scaled to length 1."""
    v = np.asarray(vector, float)
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12)


def across(direction: ArrayLike) -> tuple[Floats, Floats]:
    """Two unit vectors that make a right-handed frame (u, v, direction)."""
    w = unit(direction)
    other = np.array([0.0, 0.0, 1.0]) if abs(w[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    u = unit(np.cross(other, w))
    return u, np.cross(w, u)


def turn(axis: ArrayLike, angle_rad: float) -> Floats:
    """Rotation matrix (3, 3) about `axis` (Rodrigues)."""
    x, y, z = unit(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle_rad) * k + (1 - np.cos(angle_rad)) * (k @ k)


def toward(direction: ArrayLike, roll_rad: float = 0.0) -> Floats:
    """Rotation matrix (3, 3) that lays the z axis along `direction`."""
    u, v = across(direction)
    return np.column_stack([u, v, unit(direction)]) @ turn([0, 0, 1], roll_rad)


def move(mesh: Mesh, rotation: Floats | None = None, shift: ArrayLike = (0, 0, 0)) -> Mesh:
    """Rotate about the origin, then shift."""
    v = mesh.vertices if rotation is None else mesh.vertices @ rotation.T
    return replace(mesh, vertices=v + np.asarray(shift, float))


def merge(*meshes: Mesh) -> Mesh:
    """One mesh of several."""
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    return Mesh(
        np.concatenate([m.vertices for m in meshes]),
        np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=True)]),
        np.concatenate([m.uv for m in meshes]),
    )


def sheet(points: Floats, uv: Floats | None = None) -> Mesh:
    """Grid of points (R, C, 3) as a surface; its front is where row x column points."""
    rows, cols = points.shape[:2]
    a = (np.arange(rows - 1)[:, None] * cols + np.arange(cols - 1)).ravel()
    faces = np.concatenate(
        [np.stack([a, a + cols, a + cols + 1], 1), np.stack([a, a + cols + 1, a + 1], 1)]
    )
    if uv is None:
        grid = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, cols), indexing="ij")
        uv = np.stack([grid[1], grid[0]], -1)
    return Mesh(points.reshape(-1, 3).astype(float), faces, uv.reshape(-1, 2))


def spline(knots: ArrayLike, count: int = 80) -> Floats:
    """Smooth curve (count, 3) through `knots` (K, 3), evenly spaced along its length."""
    p = np.asarray(knots, float)
    p = np.concatenate([2 * p[:1] - p[1:2], p, 2 * p[-1:] - p[-2:-1]])
    t = np.linspace(0, 1, 24, endpoint=False)[:, None]
    pieces = []
    for i in range(1, len(p) - 2):
        a, b, c, d = p[i - 1], p[i], p[i + 1], p[i + 2]
        pieces.append(
            0.5
            * (
                2 * b
                + (c - a) * t
                + (2 * a - 5 * b + 4 * c - d) * t**2
                + (3 * b - a - 3 * c + d) * t**3
            )
        )  # Catmull-Rom
    curve = np.concatenate([*pieces, p[-2:-1]])
    far = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    want = np.linspace(0, far[-1], count)
    return np.stack([np.interp(want, far, curve[:, k]) for k in range(3)], -1)


def tube(
    path: ArrayLike,
    radius: ArrayLike,
    around: int = 14,
    ends: str = "round",
    swell: Floats | None = None,
) -> Mesh:
    """Tube about `path` (N, 3) with radius scalar or (N,); ends "round", "flat" or "open".

    swell (N, around + 1): factors on the radius. v of uv runs along, u around.
    """
    p = np.asarray(path, float)
    r = np.broadcast_to(np.asarray(radius, float), (len(p),)).copy()
    t, u, b = frames(p)
    angle = np.linspace(0, TAU, around + 1)
    ring = u[:, None] * np.cos(angle)[:, None] + b[:, None] * np.sin(angle)[:, None]
    rr = r[:, None] * (1.0 if swell is None else swell)
    points = p[:, None] + ring * np.broadcast_to(rr, ring.shape[:2])[..., None]
    far = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    uv = np.stack(np.broadcast_arrays(angle / TAU, (far / max(far[-1], 1e-9))[:, None]), -1)
    parts = [sheet(points[:, ::-1], uv[:, ::-1])]
    if ends != "open":
        bend = np.sin(np.linspace(0, np.pi / 2, 5)) if ends == "round" else np.array([0.0, 0.0])
        shrink = np.cos(np.linspace(0, np.pi / 2, 5)) if ends == "round" else np.array([1.0, 0.0])
        for at, sign in ((0, -1.0), (-1, 1.0)):
            edge = points[at] - p[at]
            cap = (
                p[at]
                + edge[None] * shrink[:, None, None]
                + (sign * r[at] * bend)[:, None, None] * t[at]
            )
            flat_uv = np.broadcast_to(uv[at][None], (*cap.shape[:2], 2))
            parts.append(sheet(cap[:, ::-1], flat_uv) if sign > 0 else sheet(cap, flat_uv))
    return merge(*parts)


def turned(profile: ArrayLike, around: int = 32, crease_deg: float = 30.0) -> Mesh:
    """Solid of revolution about z from a profile (N, 2) of (radius, z), z rising outside."""
    p = np.asarray(profile, float)
    angle = np.linspace(0, TAU, around + 1)
    d = unit(np.diff(np.column_stack([p, np.zeros(len(p))]), axis=0))
    cos = (d[:-1] * d[1:]).sum(1)
    cuts = [0, *(np.nonzero(cos < np.cos(np.radians(crease_deg)))[0] + 1), len(p) - 1]
    span = max(float(np.ptp(p[:, 1])), 1e-9)
    out = []
    for a, b in pairwise(cuts):
        q = p[a : b + 1]
        points = np.stack(
            [
                q[:, :1] * np.cos(angle),
                q[:, :1] * np.sin(angle),
                np.repeat(q[:, 1:], around + 1, 1),
            ],
            -1,
        )
        uv = np.stack(np.broadcast_arrays(angle / TAU, (q[:, 1:] - p[:, 1].min()) / span), -1)
        out.append(sheet(points[:, ::-1], uv[:, ::-1]))
    return merge(*out)


def prism(outline: ArrayLike, height: float, bevel: float = 0.0) -> Mesh:
    """Upright prism from z = 0 over an outline (N, 2): counter-clockwise, star-shaped.

    bevel: width of the chamfer at the upper rim. The top's uv spans the outline's box.
    """
    q = np.asarray(outline, float)
    mid = q.mean(0)
    low, size = q.min(0), np.maximum(np.ptp(q, axis=0), 1e-9)
    reach = np.maximum(np.linalg.norm(q - mid, axis=1, keepdims=True), 1e-9)
    inner = q - (q - mid) / reach * np.minimum(bevel, 0.5 * reach)
    levels = [(q, 0.0), (q, height - bevel)] + ([(inner, height)] if bevel > 0 else [])
    out = []
    for (a, za), (b, zb) in pairwise(levels):
        an, bn = np.roll(a, -1, 0), np.roll(b, -1, 0)
        quad = np.stack(
            [
                np.c_[a, np.full(len(a), za)],
                np.c_[an, np.full(len(a), za)],
                np.c_[bn, np.full(len(a), zb)],
                np.c_[b, np.full(len(a), zb)],
            ],
            1,
        )
        base = np.arange(len(a))[:, None] * 4
        faces = np.concatenate([base + [0, 1, 2], base + [0, 2, 3]])
        flat = quad.reshape(-1, 3)
        out.append(Mesh(flat, faces, (flat[:, :2] - low) / size))
    n = len(q)
    fan = np.stack([np.full(n, n), np.arange(n), np.roll(np.arange(n), -1)], 1)
    for rim, z, order in ((levels[-1][0], height, [0, 1, 2]), (q, 0.0, [0, 2, 1])):
        flat = np.vstack([np.c_[rim, np.full(n, z)], [*mid, z]])
        out.append(Mesh(flat, fan[:, order], (flat[:, :2] - low) / size))
    return merge(*out)


def plate(outer: Floats, inner: Floats, height: float) -> Mesh:
    """Flat ring from z = 0 between two outlines (N, 2), both counter-clockwise, paired by index."""
    low, size = outer.min(0), np.maximum(np.ptp(outer, axis=0), 1e-9)
    rings = [(outer, 0.0), (outer, height), (inner, height), (inner, 0.0), (outer, 0.0)]
    out = []
    for (a, za), (b, zb) in pairwise(rings):
        points = np.stack([np.c_[a, np.full(len(a), za)], np.c_[b, np.full(len(b), zb)]])
        points = np.concatenate([points, points[:, :1]], 1)
        out.append(sheet(points[:, ::-1], (points[:, ::-1, :2] - low) / size))
    return merge(*out)


def box(size: ArrayLike, bevel: float = 0.0) -> Mesh:
    """Box of `size` (3,) mm standing on z = 0, centred on the axis."""
    x, y, z = np.asarray(size, float)
    corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y]]) / 2
    return prism(corners, z, bevel)


def circle(radius: float, count: int = 32, phase: float = 0.0) -> Floats:
    """Outline (count, 2), counter-clockwise."""
    a = np.arange(count) / count * TAU + phase
    return radius * np.stack([np.cos(a), np.sin(a)], -1)


def ball(radius: float, around: int = 16, low: float = -1.0) -> Mesh:
    """Sphere about the origin; `low` > -1 cuts it to a dome above low * radius."""
    a = np.linspace(-np.pi / 2 if low <= -1 else np.arcsin(low), np.pi / 2, around // 2 + 1)
    return turned(np.stack([radius * np.cos(a), radius * np.sin(a)], -1), around, 90.0)


def part(name: str, mesh: Mesh, material: Material, label: int = 0, *, smooth: bool = True) -> Part:
    """Mesh as a Part in the studio's types."""
    v, f = mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32)
    return Part(name, v, f, label, material, mesh.uv.astype(np.float32), smooth=smooth)


def place(
    parts: list[Part], rotation: Floats | None = None, shift: ArrayLike = (0, 0, 0)
) -> list[Part]:
    """All parts rotated about the origin, then shifted."""
    r = np.eye(3) if rotation is None else rotation
    t = np.asarray(shift, float)
    return [replace(p, vertices=(p.vertices @ r.T + t).astype(np.float32)) for p in parts]
