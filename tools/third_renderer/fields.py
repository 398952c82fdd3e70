"""Functions of space from which bodies are made, and random fields for their unevenness.

A body is where its field, in mm, is negative.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, zoom

Rng = np.random.Generator
Array = NDArray[Any]
Vector3 = tuple[float, float, float]

LEAST_CELLS = 4  # of the coarse grid that noise is drawn on


def smooth_min(a: Array, b: Array, size: float) -> Array:
    """The lesser of two fields, with a fillet of about that size where they meet."""
    part = np.clip(0.5 + 0.5 * (b - a) / size, 0, 1)
    return b * (1 - part) + a * part - size * part * (1 - part)


def smooth_max(a: Array, b: Array, size: float) -> Array:
    """The greater of two fields, rounded off by about that size where they meet."""
    return -smooth_min(-a, -b, size)


def step(start: float, end: float, x: Any) -> Any:  # noqa: ANN401 - a number or an array
    """Smooth step from 0 at start to 1 at end; start may be the greater of the two."""
    part = np.clip((x - start) / (end - start), 0, 1)
    return part * part * (3 - 2 * part)


@dataclass(frozen=True, slots=True)
class Grid:
    """Points of a regular grid, x, y, z of (nx, ny, nz) each; origin (3,) and pitch in mm."""

    origin: Vector3
    pitch: float
    x: Array
    y: Array
    z: Array

    @classmethod
    def over(cls, low: Vector3, high: Vector3, pitch: float) -> Grid:
        """The grid from the corner low to the corner high, in single precision."""
        axes = [np.arange(a, b, pitch) for a, b in zip(low, high, strict=True)]
        x, y, z = (a.astype(np.float32) for a in np.meshgrid(*axes, indexing="ij"))
        return cls(low, pitch, x, y, z)

    def noise(self, rng: Rng, size: float) -> Array:
        """Smooth noise on the grid with standard deviation 1 and blobs of about `size` mm."""
        shape = self.x.shape
        coarse = tuple(max(LEAST_CELLS, int(n / 2)) for n in shape)
        drawn = gaussian_filter(rng.normal(size=coarse), size / self.pitch / 2)
        drawn /= drawn.std() + 1e-9
        scale = [a / b for a, b in zip(shape, coarse, strict=True)]
        fine = zoom(drawn, scale, order=1)
        return np.asarray(fine[: shape[0], : shape[1], : shape[2]])

    def along(self, start: Array, end: Array, y: Array) -> tuple[Array, Array, Array, Array]:
        """How far along a line each point lies, 0 to 1, and the way to it in x, y and z.

        start, end (3,); y: the y of the points, which may be counted from a pole.
        """
        way = end - start
        length2 = way @ way
        steps = (self.x - start[0]) * way[0] + (y - start[1]) * way[1]
        part = np.clip((steps + (self.z - start[2]) * way[2]) / length2, 0, 1)
        return (
            part,
            self.x - start[0] - part * way[0],
            y - start[1] - part * way[1],
            self.z - start[2] - part * way[2],
        )
