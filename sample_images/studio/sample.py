"""Draws a joint: a sound one first, then the defects that were asked for.

Ranges withheld from training (look "test" draws from them half of the time): cup bore over
bundle radius 1.34 to 1.46, cup depth over bore 2.3 to 2.7, wetting angle 26 to 32 degrees.
"""

from __future__ import annotations

import numpy as np

from . import materials
from .handiwork import as_turned, by_hand
from .part import Material
from .spec import JointSpec, Spot
from .terminal import Cup

Rng = np.random.Generator

# AWG: strands, bundle and overall diameter (mm), soft silicone wire; common practice, no source
WIRES = {
    8: (1650, 3.75, 6.3), 10: (1050, 3.00, 5.5), 12: (680, 2.41, 4.5), 14: (400, 1.85, 3.5),
    16: (252, 1.46, 3.0), 18: (150, 1.14, 2.3), 20: (100, 0.94, 1.8),
}  # fmt: skip


def _between(rng: Rng, low: float, high: float, withheld: tuple[float, float], look: str) -> float:
    """Uniform in low..high without the withheld stretch; in the test look half come from it."""
    if look == "test" and rng.random() < 0.5:
        return float(rng.uniform(*withheld))
    x = rng.uniform(low, high - (withheld[1] - withheld[0]))
    return float(x if x < withheld[0] else x + withheld[1] - withheld[0])


def _cup(rng: Rng, look: str, core: float) -> Cup:
    inner = core * _between(rng, 1.08, 1.75, (1.34, 1.46), look) + 0.05
    outer = inner + float(rng.uniform(0.25, 0.7)) * (1 if core > 0.6 else 0.7)
    cut = str(rng.choice(["half", "scoop", "window", "closed"], p=[0.42, 0.24, 0.1, 0.24]))
    width = {
        "half": rng.uniform(72, 105),
        "scoop": rng.uniform(80, 118),
        "window": rng.uniform(38, 70),
        "closed": 0.0,
    }[cut]
    depth = inner * _between(rng, 1.6, 3.6, (2.3, 2.7), look)
    body = str(rng.choice(["pin", "socket", "tail", "post"], p=[0.3, 0.25, 0.35, 0.1]))
    cup = Cup(
        inner,
        outer,
        depth,
        cut,
        float(width),
        float(rng.uniform(0.6, 0.95)),
        body,  # type: ignore[arg-type]
        outer * float(rng.uniform(0.6, 1.05)),
        outer * float(rng.uniform(2.0, 4.5)),
    )
    return as_turned(cup)


def sound(
    rng: Rng,
    look: str,
    *,
    awg: int | None = None,
    cup: Cup | None = None,
    metal: Material | None = None,
    colour: str | None = None,
) -> JointSpec:
    """A joint that should pass: full, wetted, concave, closed bundle, gap of 0.1 to 1.5 D."""
    awg = awg or int(rng.choice(list(WIRES), p=[0.08, 0.15, 0.27, 0.2, 0.14, 0.1, 0.06]))
    strands, bundle, overall = WIRES[awg]
    d = overall + float(rng.uniform(-0.1, 0.1))
    core = bundle / 2 * float(rng.uniform(0.97, 1.04))
    cup = cup or _cup(rng, look, core)
    room = cup.inner - core
    gap = d * float(
        rng.choice([rng.uniform(0.05, 0.6), rng.uniform(0.3, 1.1), rng.uniform(0.9, 1.52)])
    )
    gap = min(gap, 4.8)
    tinned = float(
        rng.choice([1.3, rng.uniform(0.5, 1.1), rng.uniform(0.1, 0.5)], p=[0.55, 0.3, 0.15])
    )
    theta = _between(rng, 4, 44, (26, 32), look)
    level = float(rng.uniform(0.93, 1.0))
    spec = JointSpec(
        awg=awg,
        d_mm=d,
        core_mm=core,
        strands=strands,
        cup=cup,
        gap_mm=gap,
        seat=float(rng.uniform(0.85, 0.99)),
        offset=(float(rng.uniform(-0.4, 0.4)) * room, -float(rng.uniform(-0.1, 0.9)) * room),
        insulation=materials.insulation(rng, colour),
        metal=metal or materials.terminal(rng),
        copper=materials.copper(rng, plated=bool(rng.random() < 0.06)),
        solder=materials.solder(rng, dull=float(rng.beta(1.2, 2.0))),
        wire_length_mm=float(rng.uniform(18, 70)),
        bend=float(rng.gamma(2, 0.25)),
        theta_deg=theta,
        pressure=float(rng.uniform(-0.35, 0.25)),
        attach=float(rng.uniform(0.1, 0.95)),
        level=level,
        climb=float(rng.uniform(0.15, 0.7)),
        cover=bool(rng.random() < 0.8),
        tinned=tinned,
        rough=0.0,
        ragged_mm=float(rng.gamma(2, 0.02)),
        flare=float(abs(rng.normal(0, 0.015))),
        cut_tilt=float(rng.normal(0, 0.05)),
        flux=float(max(0, rng.normal(-0.15, 0.35))),
        lay_mm=float(rng.choice([rng.uniform(9, 20), rng.uniform(20, 60)])),
        blobs=tuple(
            Spot(
                float(rng.uniform(0, 0.8)),
                float(rng.uniform(-180, 180)),
                float(rng.uniform(0.1, 0.09 * d)),
                "outer",
            )
            for _ in range(int(rng.poisson(0.15)))
        ),
    )
    return by_hand(spec)
