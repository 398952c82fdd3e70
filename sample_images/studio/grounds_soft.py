"""Grounds that give: leather, rubber, paper, board, cloth, felt, carpet; and plain paint.

Each returns a Stuff: a seamless tile, its size, and unevenness if it casts shadows.
"""

from __future__ import annotations

import cv2
import numpy as np

from .grounds_noise import (
    SIDE,
    blend,
    cells,
    emboss,
    flat,
    noise,
    tinted,
)
from .grounds_stuff import Rng, Stuff, black, colour, waves


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
