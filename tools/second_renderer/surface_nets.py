"""The surface of a field as a mesh, by naive surface nets.

One vertex stands in every cell of the grid that the surface crosses, one face across every edge of
the grid that it crosses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from .fields import Grid
from .meshes import Array, Faces, Mesh

CORNERS = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
SETTLING_STEPS = 2
MOST_MOVE = 0.5  # of a cell's side, in one step


def surface_net(field: Array, grid: Grid) -> Mesh:
    """Mesh of field = 0 with the field's own normals; field (nx, ny, nz), inside negative."""
    inside = field < 0
    cells = _crossed_cells(inside)
    slopes = np.gradient(field)
    points = _settle(field, slopes, cells + _mean_crossing(field, cells))
    slope = _slope_at(slopes, points)
    normals = slope / (np.linalg.norm(slope, axis=1, keepdims=True) + 1e-12)
    number = np.full([n - 1 for n in field.shape], -1, np.int64)
    number[tuple(cells.T)] = np.arange(len(cells))
    return Mesh(grid.origin + points * grid.pitch, _faces(inside, number), normals)


def _crossed_cells(inside: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Cells (n, 3) with corners on both sides of the surface."""
    nx, ny, nz = inside.shape
    count = sum(
        inside[i : nx - 1 + i, j : ny - 1 + j, k : nz - 1 + k].astype(np.int8)
        for i, j, k in CORNERS
    )
    return np.argwhere((count > 0) & (count < 8))


def _mean_crossing(field: Array, cells: NDArray[np.int64]) -> Array:
    """Mean (n, 3) of the points where the surface crosses a cell's twelve edges, 0 to 1."""
    at = cells[:, None] + CORNERS[None]
    value = field[at[..., 0], at[..., 1], at[..., 2]]
    total = np.zeros((len(cells), 3))
    hits = np.zeros((len(cells), 1))
    for a in range(8):
        for b in range(a + 1, 8):
            if np.abs(CORNERS[a] - CORNERS[b]).sum() != 1:
                continue
            here, there = value[:, a], value[:, b]
            crossed = ((here < 0) != (there < 0))[:, None]
            part = (here / np.where(here == there, 1, here - there))[:, None]
            total += np.where(crossed, CORNERS[a] + part * (CORNERS[b] - CORNERS[a]), 0)
            hits += crossed
    return total / hits


def _sample(values: Array, points: Array) -> Array:
    """Values (nx, ny, nz) of a grid at points (n, 3) in grid steps, linear between its points."""
    return map_coordinates(values, points.T, order=1, mode="nearest")


def _slope_at(slopes: list[Array], points: Array) -> Array:
    return np.stack([_sample(slope, points) for slope in slopes], 1)


def _settle(field: Array, slopes: list[Array], points: Array) -> Array:
    """Points (n, 3) in grid steps, moved along the field's slope onto the surface."""
    for _ in range(SETTLING_STEPS):
        slope = _slope_at(slopes, points)
        move = (_sample(field, points) / ((slope**2).sum(1) + 1e-9))[:, None] * slope
        points = points - np.clip(move, -MOST_MOVE, MOST_MOVE)
    return points


def _faces(inside: NDArray[np.bool_], number: NDArray[np.int64]) -> Faces:
    """Faces (m, 4) round every crossed edge of the grid; number: each cell's vertex, or -1."""
    faces = []
    for axis in range(3):
        b, c = (axis + 1) % 3, (axis + 2) % 3
        low = np.take(inside, range(inside.shape[axis] - 1), axis)
        high = np.take(inside, range(1, inside.shape[axis]), axis)
        edges = np.argwhere(low != high)
        edges = edges[
            (edges[:, b] > 0)
            & (edges[:, c] > 0)
            & (edges[:, b] < inside.shape[b] - 1)
            & (edges[:, c] < inside.shape[c] - 1)
        ]
        corners = []
        for step_b, step_c in ((-1, -1), (0, -1), (0, 0), (-1, 0)):
            cell = edges.copy()
            cell[:, b] += step_b
            cell[:, c] += step_c
            corners.append(number[tuple(cell.T)])
        quads = np.stack(corners, 1)
        flip = ~low[tuple(edges.T)]
        quads[flip] = quads[flip][:, ::-1]
        faces.append(quads)
    every = np.concatenate(faces)
    return every[(every >= 0).all(1)]
