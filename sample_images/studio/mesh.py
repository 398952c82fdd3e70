"""Small meshes from grids. All vectorised; lengths in millimetres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.uint32]


def grid_faces(rows: int, columns: int, *, wrap: bool = False) -> Faces:
    """Triangles of a (rows, columns) grid of vertices; `wrap` joins last column to first."""
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - (not wrap)), indexing="ij")
    a = i * columns + j
    b = i * columns + (j + 1) % columns
    c, d = a + columns, b + columns
    quads = np.stack([a, c, d, a, d, b], axis=-1).reshape(-1, 3)
    return quads.astype(np.uint32)


def merge(*meshes: tuple[Array, Faces]) -> tuple[Array, Faces]:
    """Several (vertices, faces) as one."""
    vertices, faces, offset = [], [], 0
    for v, f in meshes:
        vertices.append(v)
        faces.append(f + np.uint32(offset))
        offset += len(v)
    return np.concatenate(vertices), np.concatenate(faces).astype(np.uint32)


def frames(path: Array) -> tuple[Array, Array, Array]:
    """Tangent, normal, binormal (n, 3) each along a path, without twist (double reflection)."""
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True) + 1e-12
    helper = np.array([0.0, 0.0, 1.0]) if abs(tangent[0, 2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    normal = np.empty_like(path)
    first = helper - tangent[0] * (helper @ tangent[0])
    normal[0] = first / np.linalg.norm(first)
    for k in range(1, len(path)):
        step = path[k] - path[k - 1]
        c1 = step @ step + 1e-12
        left_n = normal[k - 1] - 2 / c1 * (step @ normal[k - 1]) * step
        left_t = tangent[k - 1] - 2 / c1 * (step @ tangent[k - 1]) * step
        second = tangent[k] - left_t
        c2 = second @ second + 1e-12
        normal[k] = left_n - 2 / c2 * (second @ left_n) * second
    return tangent, normal, np.cross(tangent, normal)


def tube(
    path: Array, radius: Array | float, sides: int = 24, *, caps: bool = True
) -> tuple[Array, Faces]:
    """A round tube along `path` (n, 3); `radius` one, (n,) or (n, sides)."""
    _, normal, binormal = frames(path)
    phi = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = (
        np.cos(phi)[None, :, None] * normal[:, None]
        + np.sin(phi)[None, :, None] * binormal[:, None]
    )
    r = np.broadcast_to(
        np.asarray(radius, float).reshape(-1, 1) if np.ndim(radius) < 2 else radius,
        (len(path), sides),
    )
    vertices = path[:, None] + r[..., None] * ring
    mesh = (vertices.reshape(-1, 3), grid_faces(len(path), sides, wrap=True))
    if not caps:
        return mesh
    fans = []
    for k, flip in ((0, False), (len(path) - 1, True)):
        rim = vertices[k]
        v = np.concatenate([rim, path[k : k + 1]])
        i = np.arange(sides)
        f = np.stack([i, (i + 1) % sides, np.full(sides, sides)], axis=-1)
        fans.append((v, (f[:, ::-1] if flip else f).astype(np.uint32)))
    return merge(mesh, *fans)


def revolve(x: Array, r: Array, sides: int = 48) -> tuple[Array, Faces]:
    """A profile (n,) of x and radius turned about the x axis."""
    phi = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    v = np.stack(
        [
            np.broadcast_to(x[:, None], (len(x), sides)),
            r[:, None] * np.cos(phi),
            r[:, None] * np.sin(phi),
        ],
        axis=-1,
    )
    return v.reshape(-1, 3), grid_faces(len(x), sides, wrap=True)


def extrude(outline: Array, x0: float, x1: float, bevel: float) -> tuple[Array, Faces]:
    """A star-shaped outline (n, 2) in (y, z) pulled from x0 to x1, edges bevelled, closed."""
    centre = outline.mean(axis=0)
    size = np.abs(outline - centre).max()
    rings = []
    steps = [
        (x0, 0.0),
        (x0, 1 - 2 * bevel / size),
        (x0 + 0.3 * bevel, 1 - 0.7 * bevel / size),
        (x0 + bevel, 1.0),
    ]
    steps += [
        (x1 - bevel, 1.0),
        (x1 - 0.3 * bevel, 1 - 0.7 * bevel / size),
        (x1, 1 - 2 * bevel / size),
        (x1, 0.0),
    ]
    for x, k in steps:
        ring = centre + (outline - centre) * k
        rings.append(np.column_stack([np.full(len(ring), x), ring]))
    return np.concatenate(rings), grid_faces(len(steps), len(outline), wrap=True)


def noise3(points: Array, seed: int, scale: float, octaves: int = 3) -> Array:
    """Smooth noise in about -1..1 at points (..., 3): sums of random plane waves."""
    rng = np.random.default_rng(seed)
    total = np.zeros(points.shape[:-1])
    for octave in range(octaves):
        waves = rng.normal(size=(7, 3)) / scale * 2**octave
        phase = rng.uniform(0, 2 * np.pi, 7)
        total += np.cos(points @ waves.T + phase).sum(axis=-1) / 7**0.5 / 2**octave
    return total / 1.4
