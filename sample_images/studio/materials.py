"""Metals from their optical constants, plastics from plain colours.

Complex refractive indices n + ik at 650, 550, 450 nm: copper and gold, Johnson and Christy 1972;
lead, Mathewson and Myers 1971; tin is near neutral with reflectance 0.75 +/- 0.07 (quoted).
Nickel and brass are from memory, as colours.
"""

from __future__ import annotations

import numpy as np

from .part import Material

INDICES = {
    "copper": ((0.24, 3.63), (1.01, 2.58), (1.24, 2.39)),
    "gold": ((0.16, 3.60), (0.42, 2.47), (1.38, 1.92)),
    "lead": ((2.58, 4.16), (2.54, 4.18), (2.10, 4.19)),
}
PLAIN_METALS = {
    "tin": (0.75, 0.75, 0.74),
    "nickel": (0.66, 0.61, 0.54),
    "brass": (0.89, 0.72, 0.40),
    "silver": (0.90, 0.88, 0.85),
    "steel": (0.56, 0.55, 0.53),
}


def reflectance(n: float, k: float) -> float:
    """Fresnel reflectance at normal incidence from air."""
    return ((n - 1) ** 2 + k**2) / ((n + 1) ** 2 + k**2)


def metal_rgb(name: str) -> tuple[float, float, float]:
    """Reflectance at normal incidence, red, green, blue."""
    if name in INDICES:
        red, green, blue = (reflectance(n, k) for n, k in INDICES[name])
        return (red, green, blue)
    return PLAIN_METALS[name]


def mixed(a: tuple[float, ...], b: tuple[float, ...], share: float) -> tuple[float, float, float]:
    """Colour `a` with a share of `b` in it."""
    r, g, b_ = ((1 - share) * p + share * q for p, q in zip(a, b, strict=True))
    return (r, g, b_)


def solder(rng: np.random.Generator, *, dull: float) -> Material:
    """Tin-lead or lead-free solder; `dull` 0..1 from mirror to satin."""
    rgb = mixed(metal_rgb("tin"), metal_rgb("lead"), float(rng.uniform(0, 0.4)))
    tint = rng.normal(1.0, 0.02, 3) * rng.uniform(0.8, 1.05)
    rgb = (rgb[0] * tint[0], rgb[1] * tint[1], rgb[2] * tint[2])
    return Material("solder", "metal", rgb, float(0.06 + 0.34 * dull), 1.0)


def terminal(rng: np.random.Generator) -> Material:
    """Gold, tin, nickel, silver or brass, more or less tarnished."""
    name = rng.choice(
        ["gold", "gold", "gold", "gold", "tin", "nickel", "brass", "silver", "copper"]
    )
    tarnish = float(rng.beta(1.2, 5))
    rgb = mixed(metal_rgb(name), (0.18, 0.12, 0.07), 0.7 * tarnish)
    if name == "gold":  # hard gold over nickel is paler than the pure metal
        rgb = mixed(rgb, metal_rgb("nickel"), float(rng.uniform(0, 0.5)))
    return Material(f"terminal-{name}", "metal", rgb, float(rng.uniform(0.05, 0.38)), 1.0)


def copper(rng: np.random.Generator, *, plated: bool) -> Material:
    """Bare strands: bright to oxidised copper, or tinned by the wire's maker."""
    if plated:
        rgb = mixed(metal_rgb("tin"), metal_rgb("copper"), float(rng.uniform(0, 0.15)))
    else:
        rgb = mixed(metal_rgb("copper"), (0.22, 0.09, 0.05), float(rng.beta(1.5, 2.5)))
    # strands lie every way: smoother than this, a bundle would look like one polished rod
    return Material("strands", "metal", rgb, float(rng.uniform(0.25, 0.55)), 1.0)


INSULATIONS = {
    "black": (0.012, 0.012, 0.013), "red": (0.45, 0.012, 0.012), "white": (0.75, 0.74, 0.70),
    "orange": (0.60, 0.13, 0.01), "yellow": (0.65, 0.45, 0.02), "green": (0.02, 0.22, 0.05),
    "blue": (0.015, 0.06, 0.35), "grey": (0.20, 0.20, 0.20), "brown": (0.10, 0.035, 0.015),
    "violet": (0.12, 0.03, 0.25), "pink": (0.65, 0.22, 0.28), "clear": (0.5, 0.45, 0.35),
}  # fmt: skip


def insulation(rng: np.random.Generator, colour: str | None = None) -> Material:
    """Silicone (soft sheen) or glossy plastic of a wire."""
    names = list(INSULATIONS)
    weights = np.array([8, 8, 2, 1.5, 2, 1.5, 2, 1, 1, 0.5, 0.4, 0.3])
    name = colour or str(rng.choice(names, p=weights / weights.sum()))
    rgb = np.clip(
        np.array(INSULATIONS[name]) * rng.lognormal(0, 0.25) * rng.lognormal(0, 0.1, 3), 0.004, 0.9
    )
    r, g, b = rgb
    return Material(
        f"insulation-{name}",
        "plastic",
        (float(r), float(g), float(b)),
        float(rng.uniform(0.2, 0.75)),
    )


def plastic(rng: np.random.Generator, look: str) -> Material:
    """Housing plastics. The test look has colours that training never shows."""
    train = [
        (0.62, 0.42, 0.02),
        (0.012, 0.012, 0.012),
        (0.5, 0.015, 0.015),
        (0.02, 0.05, 0.3),
        (0.7, 0.68, 0.6),
        (0.15, 0.15, 0.16),
        (0.55, 0.12, 0.01),
        (0.6, 0.35, 0.05),
    ]
    test = [
        (0.02, 0.2, 0.06),
        (0.35, 0.33, 0.28),
        (0.2, 0.02, 0.16),
        (0.03, 0.25, 0.3),
        (0.04, 0.03, 0.02),
        (0.66, 0.5, 0.12),
    ]
    pool = test if look == "test" else train
    rgb = np.clip(
        np.array(pool[rng.integers(len(pool))])
        * rng.lognormal(0, 0.25)
        * rng.lognormal(0, 0.12, 3),
        0.004,
        0.85,
    )
    return Material(
        "housing",
        "plastic",
        (float(rgb[0]), float(rgb[1]), float(rgb[2])),
        float(rng.uniform(0.15, 0.7)),
    )
