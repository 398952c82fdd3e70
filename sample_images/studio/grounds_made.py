"""Grounds of one stuff: leather, rubber, paper, wood, stone, cloth, metal, board.

Each function returns a Stuff: albedo (linear) of a seamless tile with its size in mm, how rough
it is, and a height field in mm if the surface is uneven enough to cast shadows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_noise import (
    SIDE,
    Image,
    blend,
    cells,
    emboss,
    flat,
    noise,
    scratches,
    shuffled,
    tinted,
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


def leather(rng: Rng) -> Stuff:
    """Grained leather or its imitation, mostly black."""
    rgb = black(rng) if rng.random() < 0.75 else colour(rng, 0.03, 0.3, 0.6)
    far, _ = cells(rng, int(rng.choice([3000, 6000, 12000])))
    bumps = cv2.blur(1 - far, (3, 3)) + 0.15 * noise(rng, "rough")
    tone = emboss(bumps, rng.uniform(0.5, 2.0)) * (1 - 0.5 * np.clip(far - 0.45, 0, 1))
    return Stuff(
        tinted(rgb, tone),
        rng.uniform(40, 110),
        rng.uniform(0.3, 0.6),
        height=waves(rng, 0.4, 40),
        worn=0.6,
    )


def rubber(rng: Rng) -> Stuff:
    """Plain mat of rubber, foam or felt-backed plastic."""
    rgb = black(rng) if rng.random() < 0.7 else colour(rng, 0.03, 0.4)
    tone = 1 + rng.uniform(0.05, 0.35) * noise(rng, str(rng.choice(["grain", "sand", "rough"])))
    return Stuff(
        tinted(rgb, np.clip(tone, 0.2, 3)), rng.uniform(60, 140), rng.uniform(0.4, 0.9), worn=0.8
    )


def white_paper(rng: Rng) -> Stuff:
    """Printer paper, kitchen paper, or card: white, cream or grey."""
    rgb = np.full(3, rng.uniform(0.5, 0.85)) * np.array(
        [1, rng.uniform(0.93, 1.0), rng.uniform(0.82, 1.02)]
    )
    tone = 1 + rng.uniform(0.005, 0.03) * noise(rng, "fibre") + 0.01 * noise(rng, "broad")
    return Stuff(
        tinted(rgb, tone),
        rng.uniform(60, 140),
        0.85,
        height=waves(rng, rng.uniform(0, 0.8), 90),
        worn=0.5,
    )


def laminate(rng: Rng) -> Stuff:
    """Desk top: plain, speckled or faintly grained."""
    rgb = (
        np.full(3, rng.uniform(0.25, 0.8)) * rng.uniform(0.9, 1.08, 3)
        if rng.random() < 0.7
        else colour(rng)
    )
    tone = 1 + rng.uniform(0.0, 0.1) * noise(rng, str(rng.choice(["grain", "rough", "brushed"])))
    return Stuff(tinted(rgb, tone), rng.uniform(80, 160), rng.uniform(0.12, 0.6), worn=0.7)


def wood(rng: Rng) -> Stuff:
    """Planed wood of several kinds, oiled or raw."""
    light = np.array(
        [
            (0.52, 0.34, 0.18),
            (0.42, 0.25, 0.12),
            (0.60, 0.45, 0.28),
            (0.16, 0.08, 0.04),
            (0.30, 0.12, 0.06),
            (0.35, 0.28, 0.20),
        ]
    )[rng.integers(6)] * rng.uniform(0.7, 1.2)
    rings = rng.uniform(3, 14)
    bands = noise(rng, "wood") * rng.uniform(0.1, 0.6) + noise(rng, "broad") * rng.uniform(0, 0.5)
    y = np.arange(SIDE, dtype=np.float32)[:, None] / SIDE
    saw = np.mod(round(rings) * y + bands, 1.0)
    tone = 1 - rng.uniform(0.15, 0.5) * saw**2 + rng.uniform(0.02, 0.08) * noise(rng, "fibre")
    pores = np.clip(noise(rng, "brushed") - 1.6, 0, 1) * rng.uniform(0, 0.6)
    out = blend(tinted(light, np.clip(tone, 0.2, 1.6)), light * 0.25, pores)
    return Stuff(out, rng.uniform(70, 180), rng.uniform(0.25, 0.7), worn=0.8)


def chipboard(rng: Rng) -> Stuff:
    """Pressed chips: each flake its own tone and grain."""
    far, value = cells(rng, int(rng.choice([400, 1200, 3000])))
    rgb = np.array([0.48, 0.33, 0.17]) * rng.uniform(0.6, 1.2)
    tone = 0.6 + 0.6 * value + 0.08 * noise(rng, "fibre") - 0.3 * np.clip(far - 0.6, 0, 1)
    return Stuff(tinted(rgb, np.clip(tone, 0.1, 1.6)), rng.uniform(80, 160), 0.7, worn=0.6)


def cardboard(rng: Rng) -> Stuff:
    """Brown board with faint flutes."""
    rgb = np.array([0.42, 0.27, 0.14]) * rng.uniform(0.6, 1.15)
    x = np.arange(SIDE, dtype=np.float32)[None]
    flutes = 1 + rng.uniform(0, 0.06) * np.cos(2 * np.pi * x / SIDE * round(rng.uniform(14, 30)))
    tone = flutes * (1 + 0.05 * noise(rng, "fibre") + 0.03 * noise(rng, "grain"))
    return Stuff(
        tinted(rgb, tone), rng.uniform(80, 140), 0.85, height=waves(rng, 0.6, 80), worn=0.7
    )


def weave(rng: Rng, *, twill: bool = False) -> Stuff:
    """Woven cloth, plain or twill, two yarns."""
    n = int(rng.choice([64, 128, 128, 256] if not twill else [64, 128]))
    i = np.arange(SIDE) * n // SIDE
    step = SIDE // n
    over = ((i[:, None] + i[None]) % (4 if twill else 2)) < (2 if twill else 1)
    across = np.abs(np.arange(SIDE) % step / step - 0.5)
    yarn = np.where(
        over, 1 - 1.6 * across[:, None] ** 2 * 2, 1 - 1.6 * across[None] ** 2 * 2
    ).astype(np.float32)
    a = black(rng) if rng.random() < 0.3 else colour(rng, 0.03, 0.6)
    b = a * rng.uniform(0.6, 1.3) if rng.random() < 0.6 else colour(rng, 0.03, 0.6)
    if twill:
        a, b = (
            np.array([0.03, 0.05, 0.14]) * rng.uniform(0.4, 2),
            np.array([0.2, 0.22, 0.28]) * rng.uniform(0.3, 1.5),
        )
    base = np.where(over[..., None], a, b).astype(np.float32)
    out = base * (yarn * (1 + 0.12 * noise(rng, "grain")))[..., None]
    return Stuff(
        np.clip(out, 0.003, 0.9),
        n * rng.uniform(0.35, 0.9),
        0.95,
        height=waves(rng, rng.uniform(0.2, 2.5), 60),
        worn=0.3,
    )


def felt(rng: Rng) -> Stuff:
    """Felt, fleece, foam: no order at all."""
    rgb = colour(rng, 0.01, 0.5)
    tone = 1 + 0.25 * noise(rng, "sand") + 0.12 * noise(rng, "fibre") + 0.12 * noise(rng, "fibre").T
    return Stuff(
        tinted(rgb, np.clip(tone, 0.2, 2.2)),
        rng.uniform(40, 100),
        1.0,
        height=waves(rng, 0.8, 30),
        worn=0.2,
    )


def carpet(rng: Rng) -> Stuff:
    """Tufts of several shades."""
    far, value = cells(rng, int(rng.choice([1200, 3000])))
    rgb, other = colour(rng, 0.02, 0.4), colour(rng, 0.02, 0.4)
    base = blend(flat(rgb), other, (value > rng.uniform(0.5, 0.95)).astype(np.float32))
    tone = np.clip(1.1 - far, 0.1, 1.2) * (1 + 0.2 * noise(rng, "grain"))
    return Stuff(
        base * np.clip(tone, 0.1, 2)[..., None],
        rng.uniform(60, 140),
        1.0,
        height=waves(rng, 1.5, 9),
        worn=0.1,
    )


def sheet_metal(rng: Rng) -> Stuff:
    """Steel or aluminium sheet, brushed or swirled."""
    base = rng.uniform(0.4, 0.8) * np.array([1.0, rng.uniform(0.96, 1.0), rng.uniform(0.9, 1.0)])
    tone = 1 + rng.uniform(0.03, 0.12) * noise(
        rng, str(rng.choice(["brushed", "brushed", "grain"]))
    )
    out = tinted(base, np.clip(tone, 0.3, 1.3))
    out = blend(out, base * 0.4, scratches(rng, int(rng.integers(0, 80)), 500) * 0.5)
    return Stuff(
        np.clip(out, 0, 0.95), rng.uniform(80, 160), rng.uniform(0.18, 0.45), 1.0, worn=0.7
    )


def stone(rng: Rng) -> Stuff:
    """Speckled stone or mineral worktop."""
    out = flat(colour(rng, 0.04, 0.6, 0.3))
    for count in rng.choice([300, 1200, 3000, 6000, 12000], 3, replace=False):
        far, value = cells(rng, int(count))
        chip = (far + 0.1 * noise(rng, "rough") < rng.uniform(0.25, 0.5)) & (
            value < rng.uniform(0.2, 0.8)
        )
        out = blend(
            out,
            colour(rng, 0.02, 0.75, 0.4),
            cv2.blur(chip.astype(np.float32), (3, 3)) * rng.uniform(0.4, 1),
        )
    return Stuff(out, rng.uniform(60, 140), rng.uniform(0.08, 0.5), worn=0.3)


def tiles(rng: Rng) -> Stuff:
    """Glazed tiles or bricks with joints."""
    n = int(rng.choice([1, 2, 4, 8]))
    grout = max(4, SIDE // n // int(rng.integers(14, 40)))
    y, x = np.mgrid[0:SIDE, 0:SIDE]
    shift = (y * n // SIDE % 2) * (SIDE // n // 2) * int(rng.integers(0, 2))
    gap = ((x + shift) % (SIDE // n) < grout) | (y % (SIDE // n) < grout)
    rgb = colour(rng, 0.05, 0.75, 0.5)
    out = blend(
        tinted(rgb, 1 + 0.05 * noise(rng, "cloudy")),
        colour(rng, 0.05, 0.5, 0.2),
        cv2.blur(gap.astype(np.float32), (5, 5)),
    )
    return Stuff(out, n * rng.uniform(20, 90), rng.uniform(0.08, 0.4), worn=0.5)


def paint(rng: Rng) -> Stuff:
    """One colour, as plastic trays, painted boards and tablecloths are."""
    tone = (
        1 + rng.uniform(0, 0.05) * noise(rng, "rough") + rng.uniform(0, 0.06) * noise(rng, "broad")
    )
    return Stuff(
        tinted(colour(rng, 0.01, 0.8, 1.0), tone),
        rng.uniform(60, 160),
        rng.uniform(0.1, 0.8),
        worn=0.7,
    )


def scorched(rng: Rng) -> Stuff:
    """A board that has seen many irons."""
    base = wood(rng) if rng.random() < 0.5 else chipboard(rng)
    burn = np.clip(noise(rng, "cloudy") * 0.6 - rng.uniform(-0.3, 0.5), 0, 1)
    return Stuff(blend(base.albedo, (0.015, 0.01, 0.008), burn), base.tile_mm, 0.8, worn=1.0)


def cork(rng: Rng) -> Stuff:
    """Pressed cork."""
    _, value = cells(rng, 6000)
    _, coarse = cells(rng, 1200)
    tone = 0.55 + 0.5 * value + 0.3 * (coarse > 0.85) - 0.6 * (coarse < 0.06)
    return Stuff(
        tinted(np.array([0.40, 0.24, 0.12]) * rng.uniform(0.7, 1.2), tone.astype(np.float32)),
        rng.uniform(50, 100),
        0.9,
    )


def marble(rng: Rng) -> Stuff:
    """Veined stone, polished."""
    rgb = np.full(3, rng.choice([0.03, 0.55, 0.75])) * rng.uniform(0.85, 1.1, 3)
    vein = np.exp(-((noise(rng, "cloudy") + 0.3 * noise(rng, "rough")) ** 2) * rng.uniform(20, 120))
    return Stuff(
        blend(
            tinted(rgb, 1 + 0.05 * noise(rng, "cloudy")),
            np.full(3, rng.choice([0.2, 0.5, 0.7])),
            vein * 0.7,
        ),
        rng.uniform(80, 160),
        0.1,
        worn=0.2,
    )


def foil(rng: Rng) -> Stuff:
    """Crumpled kitchen foil."""
    return Stuff(
        flat(np.full(3, rng.uniform(0.75, 0.9))),
        100.0,
        rng.uniform(0.15, 0.3),
        1.0,
        height=waves(rng, rng.uniform(0.3, 1.5), rng.uniform(6, 18), 16),
        worn=0.0,
    )


def terrazzo(rng: Rng) -> Stuff:
    """Stone chips of several colours in a pale bed."""
    far, value = cells(rng, int(rng.choice([300, 1200])))
    out = flat(np.full(3, rng.uniform(0.4, 0.75)))
    for k in range(4):
        hit = (far < rng.uniform(0.2, 0.45)) & (value > k / 4) & (value < k / 4 + 0.2)
        out = blend(out, colour(rng, 0.03, 0.6), cv2.blur(hit.astype(np.float32), (3, 3)))
    return Stuff(out, rng.uniform(60, 140), 0.2, worn=0.3)


def parquet(rng: Rng) -> Stuff:
    """Strips of wood in two directions."""
    board = wood(rng).albedo
    n = int(rng.choice([4, 8]))
    y, x = np.mgrid[0:SIDE, 0:SIDE] * n // SIDE
    odd = ((x + y) % 2 == 0)[..., None]
    out = np.where(odd, board, shuffled(rng, board.transpose(1, 0, 2), flip=False))
    tone = 0.75 + 0.5 * np.random.default_rng(int(rng.integers(1 << 30))).random((n, n))
    out = out * tone[y, x][..., None]
    return Stuff(out.astype(np.float32), rng.uniform(100, 200), rng.uniform(0.15, 0.5), worn=0.5)


def perforated(rng: Rng) -> Stuff:
    """Sheet with rows of holes, or a studded tray."""
    n = int(rng.choice([16, 32]))
    y, x = np.mgrid[0:SIDE, 0:SIDE] % (SIDE // n) - SIDE / n / 2
    hole = np.hypot(x, y) < SIDE / n * rng.uniform(0.2, 0.38)
    rgb = np.full(3, rng.uniform(0.03, 0.6))
    out = blend(
        tinted(rgb, 1 + 0.05 * noise(rng, "brushed")),
        np.full(3, 0.01),
        cv2.blur(hole.astype(np.float32), (3, 3)),
    )
    return Stuff(out, n * rng.uniform(3, 8), rng.uniform(0.2, 0.6), worn=0.4)
