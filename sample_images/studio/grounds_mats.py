"""Grounds with lines and numbers: ruled papers, cutting mats, moulded mats."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_noise import SIDE, Image, blend, lettering, noise, stroke, tinted, word
from .grounds_stuff import Rng, Stuff, black, colour, waves

FINE = 2 * SIDE  # printed things need sharp lines


def cover_of(mask: NDArray[np.uint8]) -> Image:
    """Mask 0..255 as a cover 0..1."""
    return mask.astype(np.float32) / 255


def paper(rng: Rng) -> Image:
    """Sheet of near-white paper, (FINE, FINE, 3)."""
    rgb = np.full(3, rng.uniform(0.55, 0.85)) * np.array(
        [1, rng.uniform(0.94, 1), rng.uniform(0.8, 1.02)]
    )
    return np.tile(tinted(rgb, 1 + 0.012 * noise(rng, "fibre")), (2, 2, 1))


def ink_of(rng: Rng) -> NDArray[np.float64]:
    """Colour of some ink, (3,) linear."""
    choice = np.array(
        [(0.02, 0.02, 0.03), (0.1, 0.2, 0.5), (0.3, 0.3, 0.35), (0.45, 0.1, 0.1), (0.1, 0.35, 0.3)]
    )
    return choice[rng.integers(len(choice))] * rng.uniform(0.6, 1.3)


def _ruled(n: int, thick: int, *, rows: bool = True, columns: bool = True) -> NDArray[np.uint8]:
    mask = np.zeros((FINE, FINE), np.uint8)
    at = (np.arange(n) * FINE / n).astype(int)
    for k in range(thick):
        if rows:
            mask[(at + k) % FINE] = 255
        if columns:
            mask[:, (at + k) % FINE] = 255
    return mask


def _pen(rng: Rng, out: Image) -> Image:
    """Sometimes handwriting-like strokes and words on top."""
    if rng.random() < 0.5:
        mask = lettering(rng, int(rng.integers(1, 9)), (0.8, 3.5), FINE)
        for _ in range(int(rng.integers(0, 6))):
            line = np.cumsum(rng.normal(0, 40, (12, 2)), axis=0) + rng.uniform(0, FINE, 2)
            stroke(mask, line, 220, int(rng.integers(2, 6)))
        out = blend(out, ink_of(rng), cover_of(mask))
    return out


def squared(rng: Rng) -> Stuff:
    """Squared paper, any pitch, some with heavier lines every five or ten."""
    n = int(rng.choice([20, 24, 30, 40]))
    mask = _ruled(n, int(rng.integers(1, 5)))
    cover = cover_of(mask) * rng.uniform(0.3, 0.9)
    if rng.random() < 0.4:
        cover = np.maximum(
            cover, cover_of(_ruled(n // int(rng.choice([5, 10]) if n % 10 == 0 else 4), 6))
        )
    out = _pen(rng, blend(paper(rng), ink_of(rng), cover))
    return Stuff(
        out, n * rng.uniform(2, 6), 0.85, height=waves(rng, rng.uniform(0, 0.6), 90), worn=0.5
    )


def lined(rng: Rng) -> Stuff:
    """Lined paper with or without a margin."""
    n = int(rng.choice([12, 16, 20]))
    out = blend(
        paper(rng),
        ink_of(rng),
        cover_of(_ruled(n, int(rng.integers(2, 5)), columns=False)) * rng.uniform(0.4, 0.9),
    )
    return Stuff(
        _pen(rng, out),
        n * rng.uniform(6, 9),
        0.85,
        height=waves(rng, rng.uniform(0, 0.6), 90),
        worn=0.5,
    )


def dotted(rng: Rng) -> Stuff:
    """Dotted paper."""
    n = int(rng.choice([20, 30]))
    dot = cv2.dilate(
        cv2.bitwise_and(_ruled(n, 1, columns=False), _ruled(n, 1, rows=False)),
        np.ones((2, 2), np.uint8),
        iterations=int(rng.integers(2, 7)),
    )
    return Stuff(
        _pen(rng, blend(paper(rng), ink_of(rng), cover_of(dot))),
        n * rng.uniform(3.5, 6),
        0.85,
        worn=0.5,
    )


def _numbers(rng: Rng, mask: NDArray[np.uint8], n: int, size: float) -> None:
    for k in range(n):
        at = int(k * FINE / n) + 8
        cv2.putText(mask, str(k), (at, 60), int(rng.choice([0, 2])), size, 255, 2, cv2.LINE_AA)
        cv2.putText(mask, str(k), (8, at + 40), int(rng.choice([0, 2])), size, 255, 2, cv2.LINE_AA)


def cutting_mat(rng: Rng, *, dark: bool = False) -> Stuff:
    """Self-healing mat: grid, numbers, slanted guides, knife cuts."""
    green = np.array([0.01, 0.16, 0.08]) * rng.uniform(0.5, 1.8)
    rgb = black(rng) if dark else (green if rng.random() < 0.7 else colour(rng, 0.03, 0.25, 1.0))
    n = int(rng.choice([8, 10, 12, 16]))
    mask = np.maximum(_ruled(n, 3), (_ruled(n * int(rng.choice([2, 5])), 1) * 0.5).astype(np.uint8))
    if dark:
        for k in range(0, FINE, 16):  # scale ticks instead of a fine grid
            cv2.line(mask, (k, 0), (k, 24 if k % 80 else 44), 200, 1)
    _numbers(rng, mask, n, float(rng.uniform(0.9, 1.8)))
    for angle in rng.choice([30, 45, 60], int(rng.integers(0, 3)), replace=False):
        end = (int(FINE * np.cos(np.radians(angle)) * 2), int(FINE * np.sin(np.radians(angle)) * 2))
        cv2.line(mask, (0, 0), end, 200, 3, cv2.LINE_AA)
    base = np.tile(tinted(rgb, np.clip(1 + 0.08 * noise(rng, "sand"), 0.5, 1.5)), (2, 2, 1))
    ink = (
        np.array([0.5, 0.55, 0.3]) * rng.uniform(0.5, 1.4)
        if rng.random() < 0.6
        else np.full(3, 0.65)
    )
    out = blend(base, ink, cover_of(mask) * rng.uniform(0.4, 0.95))
    return Stuff(out, n * rng.uniform(9.5, 13), rng.uniform(0.4, 0.75), worn=0.8)


def moulded_mat(rng: Rng) -> Stuff:
    """Silicone bench mat: moulded ribs, numbered trays, raised rims. Blue most often."""
    blue = np.array([0.02, 0.17, 0.38]) * rng.uniform(0.5, 1.6) * rng.uniform(0.85, 1.15, 3)
    rgb = blue if rng.random() < 0.7 else colour(rng, 0.02, 0.4, 0.9)
    tile, pitch = rng.uniform(90, 160), rng.uniform(2.5, 9)
    trays, depth, rim = int(rng.integers(2, 6)), rng.uniform(0.4, 1.6), rng.uniform(1.0, 2.5)
    ribbed, lean = rng.random() < 0.7, rng.uniform(0, np.pi)
    off = rng.uniform(0, tile, 2)

    def height(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        u, v = (x + off[0]) % tile, (y + off[1]) % tile
        cell = tile / trays
        inside = np.minimum(
            np.minimum(u % cell, cell - u % cell), np.minimum(v % cell, cell - v % cell)
        )
        upper = v > tile * 0.5  # trays in one half, ribs or plain in the other
        tray = np.where(upper, np.clip((inside - rim) / 0.8, 0, 1), 1.0)
        rib = 0.5 + 0.5 * np.cos(2 * np.pi * (x * np.cos(lean) + y * np.sin(lean)) / pitch)
        ribs = np.where(~upper & ribbed, 1 - np.clip(3 * rib - 1.6, 0, 1), 1.0)
        return -depth * tray * (0.4 + 0.6 * ribs)

    mask = np.zeros((FINE, FINE), np.uint8)
    for k in range(trays * 2):
        at = (int(rng.uniform(0, 0.9) * FINE), int(rng.uniform(0.05, 1) * FINE))
        text = str(k + 1) if rng.random() < 0.7 else word(rng)
        cv2.putText(
            mask,
            text,
            at,
            int(rng.choice([0, 2])),
            float(rng.uniform(1.5, 4)),
            255,
            int(rng.integers(2, 7)),
            cv2.LINE_AA,
        )
    if rng.random() < 0.5:  # a printed ruler
        for k in range(0, FINE, 20):
            cv2.line(mask, (k, FINE // 2), (k, FINE // 2 + (50 if k % 200 == 0 else 26)), 255, 2)
    base = np.tile(tinted(rgb, np.clip(1 + 0.04 * noise(rng, "sand"), 0.5, 1.5)), (2, 2, 1))
    ink = rgb * rng.uniform(0.3, 0.7) if rng.random() < 0.6 else np.full(3, 0.7)
    out = blend(base, np.minimum(ink, 0.9), cover_of(cv2.GaussianBlur(mask, (0, 0), 1)))
    return Stuff(out, tile, rng.uniform(0.35, 0.8), height=height, worn=0.8)
