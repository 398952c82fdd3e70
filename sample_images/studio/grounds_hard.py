"""Hard grounds: desk tops, wood, chipboard, metal, stone, tiles.

Each returns a Stuff: a seamless tile, its size, and unevenness if it casts shadows.
"""

from __future__ import annotations

import cv2
import numpy as np

from .grounds_noise import (
    SIDE,
    blend,
    cells,
    flat,
    noise,
    scratches,
    shuffled,
    tinted,
)
from .grounds_stuff import Rng, Stuff, colour, waves


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


def scorched(rng: Rng) -> Stuff:
    """A board that has seen many irons."""
    base = wood(rng) if rng.random() < 0.5 else chipboard(rng)
    burn = np.clip(noise(rng, "cloudy") * 0.6 - rng.uniform(-0.3, 0.5), 0, 1)
    return Stuff(blend(base.albedo, (0.015, 0.01, 0.008), burn), base.tile_mm, 0.8, worn=1.0)


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
