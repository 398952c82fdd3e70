"""Functions of space from which bodies are made: blends, steps, waves; and grids to hold them.

A body is where its field is negative. Beside them, random pictures for grain, stains and rooms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from .meshes import Array

Rng = np.random.Generator


def smooth_min(a: Array, b: Array, size: float) -> Array:
    """The lesser of two fields, with a fillet of that size where they meet."""
    near = np.maximum(size - np.abs(a - b), 0) / size
    return np.minimum(a, b) - near * near * size / 4


def smooth_max(a: Array, b: Array, size: float) -> Array:
    """The greater of two fields, rounded off by that size where they meet."""
    return -smooth_min(-a, -b, size)


def step(x: ArrayLike, start: ArrayLike, end: ArrayLike) -> Array:
    """Smooth step from 0 at start to 1 at end; start may be the greater of the two."""
    part = np.clip((x - start) / (end - start), 0, 1)
    return part * part * (3 - 2 * part)


def waves(rng: Rng, wavelength: float, terms: int, size: int = 3) -> Callable[..., Array]:
    """A smooth random function of `size` coordinates, about -1 to 1: a sum of plane waves."""
    numbers = rng.normal(size=(terms, size))
    numbers *= (
        2
        * np.pi
        / wavelength
        * rng.uniform(0.7, 1.4, (terms, 1))
        / np.linalg.norm(numbers, axis=1, keepdims=True)
    )
    phases = rng.uniform(0, 2 * np.pi, terms)

    def value(*coordinates: ArrayLike) -> Array:
        total = 0
        for row, phase in zip(numbers, phases, strict=True):
            total = total + np.sin(
                sum(c * q for c, q in zip(row, coordinates, strict=True)) + phase
            )
        return total / np.sqrt(terms) * 0.8

    return value


@dataclass(frozen=True, slots=True)
class Grid:
    """Points of a regular grid: axes of (nx,), (ny,), (nz,); x, y, z of (nx, ny, nz)."""

    axes: tuple[Array, Array, Array]
    pitch: float
    x: Array
    y: Array
    z: Array

    @classmethod
    def over(cls, low: ArrayLike, high: ArrayLike, pitch: float) -> Self:
        """The grid from the corner low (3,) to the corner high (3,)."""
        axes = tuple(np.arange(a, b, pitch) for a, b in zip(low, high, strict=True))
        return cls(axes, pitch, *np.meshgrid(*axes, indexing="ij"))

    @property
    def origin(self) -> Array:
        """The first point, (3,)."""
        return np.array([axis[0] for axis in self.axes])


def close_borders(field: Array) -> None:
    """Make the outermost points of a field (nx, ny, nz) outside, so that its body is closed."""
    for axis in range(3):
        for side in (0, -1):
            cut: list[slice | int] = [slice(None)] * 3
            cut[axis] = side
            field[tuple(cut)] = np.maximum(field[tuple(cut)], 0.01)


def cloud(rng: Rng, size_px: int, power: float = 1.0, stretch: float = 1.0) -> Array:
    """Random picture (size_px, size_px), 0 to 1 with mean 0.5, that fits on to itself.

    Its spectrum falls with the power-th power of the frequency; `stretch` times as fast across.
    """
    waves = np.fft.rfft2(rng.normal(size=(size_px, size_px)).astype(np.float32))
    down = np.fft.fftfreq(size_px)[:, None] * size_px
    across = np.fft.rfftfreq(size_px)[None] * size_px * stretch
    waves *= 1 / np.maximum(np.hypot(across, down), 1) ** power
    waves[0, 0] = 0
    out = np.fft.irfft2(waves, s=(size_px, size_px))
    return np.clip(0.5 + 0.2 * out / out.std(), 0, 1)
