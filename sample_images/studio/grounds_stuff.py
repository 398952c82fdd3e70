"""What a ground is made of, and helpers that every ground uses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .grounds_noise import (
    Image,
)

Rng = np.random.Generator


@dataclass(frozen=True)
class Stuff:
    """A ground's material. height(x, y) in mm, at most 0, or None if flat."""

    albedo: Image  # (h, w, 3) linear
    tile_mm: float
    roughness: float
    metallic: float = 0.0
    height: Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]] | None = None
    worn: float = 0.5  # how much wear suits it


def waves(
    rng: Rng, depth: float, longest: float, count: int = 7
) -> Callable[..., NDArray[np.float64]]:
    """Smooth unevenness from 0 down to -depth mm."""
    k = rng.normal(0, 1, (count, 2)) * 2 * np.pi / longest
    phase = rng.uniform(0, 2 * np.pi, count)

    def height(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        total = np.zeros_like(x)
        for (kx, ky), p in zip(k, phase, strict=True):
            total += np.sin(kx * x + ky * y + p)
        return -depth * 0.5 * (1 + np.tanh(total / np.sqrt(count)))

    return height


def colour(
    rng: Rng, low: float = 0.02, high: float = 0.7, vivid: float = 0.8
) -> NDArray[np.float64]:
    """Any colour of a thing people own."""
    value = np.exp(rng.uniform(np.log(low), np.log(high)))
    hue = rng.dirichlet([0.8, 0.8, 0.8]) * 3
    return np.clip(value * (1 + vivid * rng.random() * (hue - 1)), 0.006, 0.85)


def black(rng: Rng) -> NDArray[np.float64]:
    """Nearly black, seldom quite neutral."""
    return rng.uniform(0.006, 0.05) * rng.uniform(0.85, 1.15, 3)
