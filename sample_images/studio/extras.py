"""Small things on solder: spikes, blobs, flux. Lengths in mm."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .mesh import Array, grid_faces, noise3, tube

Mesh = tuple[Array, NDArray[np.uint32]]


def _basis(normal: Array) -> tuple[Array, Array, Array]:
    n = normal / (np.linalg.norm(normal) + 1e-12)
    helper = np.array([1.0, 0, 0]) if abs(n[0]) < 0.9 else np.array([0, 1.0, 0])
    a = np.cross(n, helper)
    a /= np.linalg.norm(a)
    return a, np.cross(n, a), n


def spike_mesh(
    rng: np.random.Generator, at: Array, direction: Array, height: float, base: float
) -> tuple[Mesh, Array]:
    """An icicle from `at`; returns the mesh and its tip."""
    _, _, n = _basis(direction)
    u = np.linspace(0, 1, 22)
    bend = rng.normal(0, 0.25, 3)
    path = (
        at
        - 0.1 * base * n
        + u[:, None] * (height + 0.1 * base) * n
        + (u**2)[:, None] * bend * 0.4 * height
    )
    path = at + (path - at) * height / (np.linalg.norm(path[-1] - at) + 1e-9)
    power = rng.uniform(1.3, 2.6)
    radius = base * (1 - u) ** power + 0.035 + 0.02 * np.exp(-(((u - 1) / 0.1) ** 2))
    return tube(path, radius, 16), path[-1]


def blob(rng: np.random.Generator, at: Array, normal: Array, size: float, wetting: float) -> Mesh:
    """A drop of about `size` (radius), a cap of a sphere when `wetting` is under 1, else a ball."""
    a, b, n = _basis(normal)
    u, v = np.linspace(0, np.pi, 20), np.linspace(0, 2 * np.pi, 36, endpoint=False)
    sphere = np.stack(
        np.broadcast_arrays(
            np.sin(u)[:, None] * np.cos(v), np.sin(u)[:, None] * np.sin(v), np.cos(u)[:, None]
        ),
        -1,
    )
    shape = sphere * (1 + 0.08 * noise3(sphere, int(rng.integers(1 << 30)), 1.0, 2)[..., None])
    stretch = rng.uniform(0.8, 1.6)
    points = at + size * (
        shape[..., :1] * a * stretch
        + shape[..., 1:2] * b
        + (shape[..., 2:] * min(1.0, 0.4 + wetting) + (wetting - 0.9) * 0.6) * n
    )
    return points.reshape(-1, 3), grid_faces(20, 36, wrap=True)


def flux_cap(rng: np.random.Generator, at: Array, normal: Array, size: float) -> Mesh:
    """A thin film of flux residue with an irregular edge."""
    a, b, n = _basis(normal)
    phi = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    seed = int(rng.integers(1 << 30))
    rim = size * (
        1 + 0.45 * noise3(np.column_stack([np.cos(phi), np.sin(phi), 0 * phi]), seed, 0.7, 3)
    )
    rings = []
    for k in np.linspace(0.02, 1, 8):
        height = 0.05 + 0.12 * size * (1 - k**2) - 0.35 * size * k**2 * 0.4
        rings.append(
            at
            + n * height
            + k * rim[:, None] * (np.cos(phi)[:, None] * a + np.sin(phi)[:, None] * b)
        )
    return np.concatenate(rings), grid_faces(8, 48, wrap=True)


def neck(start: Array, end: Array, r0: float, r1: float, waist: float) -> Mesh:
    """A bridge of solder from one place to another, drawn in to `waist` (radius) halfway."""
    u = np.linspace(0, 1, 40)
    path = start + u[:, None] * (end - start)
    ends = r0 * (1 - u) + r1 * u
    radius = waist + (ends - waist) * np.abs(2 * u - 1) ** 2.2
    return tube(path, radius, 28)
