"""The wire: insulation, the bundle of strands, and strands that left it.

Joint coordinates (mm): x along the contact, 0 at the cup's lip and positive into the cup,
y across, z toward the cup's opening. The wire comes from negative x.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from .mesh import Array, frames, grid_faces, noise3, tube

STRAND_MM = 0.08
SMOOTH = 0.2  # of the valleys between strands, what is left where solder fills them well
FILLED = 0.35  # at most so much is left of those between two strands; between groups it may be more


def wire_path(
    rng: np.random.Generator, start: Array, length: float, bend: float, floor: float
) -> Array:
    """Axis of the insulated wire from its end at `start` toward -x, bending at random (n, 3).

    `bend` is the size of the turns in radians; below `floor` the wire lies on the bench.
    """
    n = 60
    s = np.linspace(0, length, n)
    knots = np.cumsum(rng.normal(0, bend / 3, (6, 2)), axis=0)
    knots[:1] *= 0.1
    yaw = np.interp(s, np.linspace(0.15 * length, length, 6), knots[:, 0], left=0)
    pitch = np.interp(s, np.linspace(0.15 * length, length, 6), knots[:, 1] * 0.5, left=0)
    step = np.stack([-np.cos(yaw) * np.cos(pitch), np.sin(yaw), np.sin(pitch)], axis=-1) * (
        length / (n - 1)
    )
    path = start + np.concatenate([np.zeros((1, 3)), np.cumsum(step[1:], axis=0)])
    path[:, 2] = np.maximum(path[:, 2], floor)
    kernel = np.ones(7) / 7
    padded = np.concatenate([np.repeat(path[:1], 3, 0), path, np.repeat(path[-1:], 3, 0)])
    smooth = np.stack([np.convolve(padded[:, k], kernel, "valid") for k in range(3)], axis=-1)
    smooth[:3] = path[:3]
    return smooth


def insulation_mesh(
    path: Array, radius: float, hole: float, *, ragged: float, flare: float, tilt: float, seed: int
) -> tuple[Array, NDArray[np.uint32], Array]:
    """Tube with an end face. Returns vertices, faces, distance from the end (per vertex).

    ragged, flare: sizes at the end, in mm and as a share of the radius; tilt of the cut, radians.
    """
    sides = 56
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    dense = np.unique(np.concatenate([np.linspace(0, 3 * radius, 40), length[length > 3 * radius]]))
    fine = np.stack([np.interp(dense, length, path[:, k]) for k in range(3)], axis=-1)
    tangent, normal, binormal = frames(fine)
    phi = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = (
        np.cos(phi)[None, :, None] * normal[:, None]
        + np.sin(phi)[None, :, None] * binormal[:, None]
    )
    spot = np.stack([np.cos(phi), np.sin(phi), np.zeros_like(phi)], axis=-1)
    edge = ragged * noise3(spot, seed, 0.7, 4) + radius * np.tan(tilt) * np.cos(phi)
    fade = np.exp(-dense / (0.5 * radius))
    lump = noise3(
        np.concatenate([spot[None] + np.array([0, 0, 1]) * d for d in dense]).reshape(
            len(dense), sides, 3
        ),
        seed + 1,
        1.0,
        2,
    )
    r = radius * (1 + fade[:, None] * (flare + 0.5 * flare * lump))
    round_off = np.minimum(1, 0.93 + 0.07 * dense / 0.25)
    shift = -edge[None] * fade[:, None]
    outer = (
        fine[:, None]
        + (r * round_off[:, None])[..., None] * ring
        + shift[..., None] * tangent[:, None]
    )
    inner_r = np.stack([outer[0] - fine[0]]) * (hole / radius)
    inner = fine[0] + inner_r[0] + 0.1 * tangent[0]
    vertices = np.concatenate([inner[None], outer]).reshape(-1, 3)
    along = np.concatenate([np.zeros(sides), np.repeat(dense, sides)])
    return vertices, grid_faces(len(dense) + 1, sides, wrap=True), along


def bundle_mesh(
    axis: Array,
    radius: Array | float,
    strands: int,
    *,
    lay_mm: float,
    filled: Callable[[Array, Array], Array],
    seed: int,
    relief: float = SMOOTH,
    ropes: float = 1.0,
    clump: float = 1.0,
    sides_per_strand: int = 4,
) -> tuple[Array, NDArray[np.uint32], Array, Array]:
    """Bare bundle with its outer strands as ridges, along `axis` (n, 3).

    The columns of the mesh run along the strands, or a tight lay would fall between its rows.

    filled(x, phi): how far solder fills the valleys between the strands there, 0 to 1; relief: the
    share of their depth that is left where it does; ropes: how high the groups of strands stand;
    clump: how many strands cling together and look like one.
    Returns vertices, faces, and per vertex the position along the axis index (0..n-1) and phi.
    """
    rng = np.random.default_rng(seed)
    radius = np.broadcast_to(np.asarray(radius, float), (len(axis),))
    outer = int(np.clip(np.pi * (2 * radius.mean() - STRAND_MM) / STRAND_MM, 6, 170))
    outer = max(6, round(min(outer, strands) / clump))
    sides = outer * sides_per_strand
    column = np.linspace(0, 2 * np.pi, sides, endpoint=False)[None]
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(axis, axis=0), axis=1))])[:, None]
    phi = column - 2 * np.pi * s / lay_mm
    jitter = np.cumsum(rng.normal(0, 0.10, (len(axis), 1)), axis=0)
    round_it = np.cos(phi), np.sin(phi)
    wander = noise3(np.stack(np.broadcast_arrays(*round_it, s / 6), axis=-1), seed, 0.25, 2)
    strand_phase = outer * column + 0.9 * wander + 0.02 * jitter
    which = np.floor(strand_phase / (2 * np.pi)).astype(int) % outer
    lift = rng.normal(0, 0.18, outer)[which]
    ridge = np.abs(np.cos(strand_phase / 2))
    solid = filled(axis[:, :1], phi)
    depth = clump * STRAND_MM * 0.55 * (1 - (1 - min(relief, FILLED)) * solid)
    r = radius[:, None] - depth * (1 - ridge) + STRAND_MM * lift * (1 - 0.75 * solid) * 0.5
    # strands lie in groups, some higher than others: the lay shows where single strands do not
    r += (
        0.5
        * ropes
        * STRAND_MM
        * along_lay(phi, s, lay_mm, radius.mean(), seed + 3)
        * (1 - solid * min(1.0, 1 + SMOOTH - relief))
    )
    r = r * (
        1
        + 0.02 * noise3(np.stack(np.broadcast_arrays(*round_it, s / 3), axis=-1), seed + 5, 1.0, 1)
    )
    # phi is measured from z toward y, so that it agrees with the solder's grid
    vertices = axis[:, None] + r[..., None] * np.stack(
        [np.zeros_like(phi), np.sin(phi), np.cos(phi)], axis=-1
    )
    i = np.repeat(np.arange(len(axis)), sides)
    return (
        vertices.reshape(-1, 3),
        grid_faces(len(axis), sides, wrap=True),
        i.astype(float),
        phi.reshape(-1),
    )


def along_lay(phi: Array, s: Array, lay_mm: float, radius: float, seed: int) -> Array:
    """Noise (about -1..1) that is drawn out along the strands, a few of them wide."""
    turn = phi + 2 * np.pi * s / lay_mm
    wide = 4 * STRAND_MM / radius
    points = np.broadcast_arrays(np.cos(turn), np.sin(turn), wide * s / 5)
    return noise3(np.stack(points, axis=-1), seed, wide, 2)


def stray_path(
    rng: np.random.Generator, start: Array, direction: Array, length: float, curl: float
) -> Array:
    """Centre line (n, 3) of one strand that left the bundle, of a given true length in mm."""
    n = max(8, int(length / 0.08))
    n = min(n, 60)
    step = length / (n - 1)
    d = direction / np.linalg.norm(direction)
    turn = rng.normal(0, curl, 3)
    points = [start]
    for _ in range(n - 1):
        turn += rng.normal(0, 0.35 * curl, 3)
        d = d + np.cross(turn, d) * step
        d /= np.linalg.norm(d)
        points.append(points[-1] + d * step)
    return np.array(points)


def strand_mesh(path: Array, diameter: float = STRAND_MM) -> tuple[Array, NDArray[np.uint32]]:
    """One strand as a thin tube."""
    return tube(path, diameter / 2, sides=6)


def birdcage_paths(
    rng: np.random.Generator, axis: Array, radius: float, bulge: float, count: int
) -> list[Array]:
    """Centre lines of outer strands that bow out from `radius` to `bulge` (mm) between the ends."""
    t = np.linspace(0, 1, 28)
    idx = t * (len(axis) - 1)
    base = np.stack([np.interp(idx, np.arange(len(axis)), axis[:, k]) for k in range(3)], axis=-1)
    paths = []
    for phi in np.linspace(0, 2 * np.pi, count, endpoint=False) + rng.normal(0, 0.12, count):
        out = rng.uniform(0.55, 1.0) * (bulge - radius)
        r = radius * 0.97 + out * np.sin(np.pi * t ** rng.uniform(0.8, 1.25)) ** rng.uniform(
            0.8, 1.6
        )
        turn = phi + rng.uniform(0.2, 0.9) * (t - 0.5) + 0.1 * np.sin(6 * t + rng.uniform(0, 6))
        paths.append(
            base + np.stack([np.zeros_like(t), r * np.sin(turn), r * np.cos(turn)], axis=-1)
        )
    return paths
