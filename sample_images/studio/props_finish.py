"""Surfaces of props: metals of tools, plastics, prints."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_noise import word
from .materials import metal_rgb, mixed
from .part import Material

Rng = np.random.Generator


def metal(rng: Rng, *names: str) -> Material:
    """Metal of a tool or fastener: bright, satin, blackened or rusty."""
    name = str(
        rng.choice(names or ("steel", "steel", "nickel", "brass", "tin", "copper", "silver"))
    )
    rgb = mixed(
        metal_rgb(name),
        (0.03, 0.03, 0.03) if rng.random() < 0.6 else (0.2, 0.09, 0.04),
        float(rng.beta(0.7, 3)),
    )
    return Material(f"tool-{name}", "metal", rgb, float(rng.uniform(0.06, 0.5)), 1.0)


def plastic(rng: Rng, *, dark: bool | None = None) -> Material:
    """Any plastic or paint; `dark` forces black ones."""
    if dark or (dark is None and rng.random() < 0.3):
        rgb = np.full(3, rng.uniform(0.006, 0.04)) * rng.uniform(0.9, 1.1, 3)
    else:
        rgb = np.clip(
            np.exp(rng.uniform(-4, -0.4)) * rng.dirichlet([0.5, 0.5, 0.5]) * 3, 0.005, 0.8
        )
    r, g, b = (float(k) for k in rgb)
    return Material("prop-plastic", "plastic", (r, g, b), float(rng.uniform(0.08, 0.9)))


def textured(rgb8: NDArray[np.uint8], roughness: float) -> Material:
    """Plastic that shows an sRGB picture through its uv."""
    texture = ((rgb8.astype(np.float32) / 255) ** 2.2).clip(0.003, 0.9)
    r, g, b = (float(k) for k in texture.mean((0, 1)))
    return Material("print", "plastic", (r, g, b), roughness, 0.0, texture)


def printed(rng: Rng, side: int = 256) -> Material:
    """Label print: words, bars and a frame."""
    dark = rng.random() < 0.4
    paper, ink = (
        (rng.integers(0, 90, 3), rng.integers(150, 255, 3))
        if dark
        else (rng.integers(150, 255, 3), rng.integers(0, 110, 3))
    )
    rows = []
    for _ in range(3):
        row = np.zeros((side // 3, side), np.uint8)
        cv2.putText(
            row,
            word(rng),
            (8, side // 4),
            int(rng.choice([0, 2, 3, 4])),
            float(rng.uniform(0.5, 2)),
            255,
            int(rng.integers(1, 4)),
            cv2.LINE_AA,
        )
        rows.append(row)
    if rng.random() < 0.4:
        rows[2][8:-8, 10:-10] = np.repeat(rng.integers(0, 2, (side - 20) // 4) * 255, 4)[
            None, : side - 20
        ]
    k = np.concatenate(rows)[..., None] / 255.0
    return textured(np.uint8(paper * (1 - k) + ink * k), float(rng.uniform(0.15, 0.8)))
