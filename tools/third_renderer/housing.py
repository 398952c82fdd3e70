"""The connector's housing: four plain forms with pins and signs. Figures are ours, no source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .blender import Material, add_box, add_sign, add_turned
from .fields import Rng
from .pole import Pole

SIGNS = "+-~"
X_AXIS = (1, 0, 0)


@dataclass(frozen=True, slots=True)
class Housing:
    """A box about y = 0, z = 0 that a housing fills: x where it begins, and its size, mm."""

    x: float
    long: float
    wide: float
    high: float


NO_HOUSING = (12, 8, 6)  # long, wide and high where there is none


def add_housing(
    rng: Rng, poles: Sequence[Pole], x: float, pitch: float, plastic: Material, metal: Material
) -> Housing:
    """Put the housing of these poles into the scene, with its pins of metal."""
    outer = max(pole.bore + pole.wall for pole in poles)
    wide = (len(poles) - 1) * pitch + 2 * outer + rng.uniform(1.2, 3.5)
    high = 2 * outer + rng.uniform(1.0, 3.5)
    body = Housing(x, rng.uniform(9, 22), wide, high)
    forms = (_ribbed, _flanged, _barrels, _grooved)
    forms[rng.integers(0, 4)](rng, body, poles, pitch, plastic)
    if rng.random() < 0.6:
        profile = [(0, 0.1), (0, outer * 0.75), (6, outer * 0.75), (7, outer * 0.5), (7.01, 0.01)]
        for pole in poles:
            end = [x + body.long - 0.5, pole.y, 0]
            add_turned("pin", end, X_AXIS, profile, metal)
    if rng.random() < 0.5 and len(poles) > 1:
        for pole, sign in zip(poles, SIGNS, strict=False):
            place = (x + body.long * 0.2, pole.y, high / 2)
            add_sign(sign, outer * 1.8, place, plastic)
    return body


def _ribbed(rng: Rng, body: Housing, _: Sequence[Pole], __: float, plastic: Material) -> None:
    size = (body.long, body.wide, body.high)
    add_box([body.x + body.long / 2, 0, 0], size, plastic, rng.uniform(0.3, 1.2))
    for k in range(rng.integers(0, 5)):
        place = [body.x + body.long * (0.35 + 0.1 * k), 0, 0]
        add_box(place, (0.7, body.wide + 0.7, body.high + 0.7), plastic, 0.2)


def _flanged(_: Rng, body: Housing, __: Sequence[Pole], ___: float, plastic: Material) -> None:
    x, long, wide, high = body.x, body.long, body.wide, body.high
    add_box([x + long / 2, 0, 0], (long, wide, high), plastic, min(wide, high) * 0.3)
    add_box([x + 0.9, 0, 0], (1.8, wide + 1.8, high + 1.4), plastic, 0.5)
    add_box([x + long * 0.8, 0, 0], (long * 0.5, wide * 0.82, high * 0.8), plastic, 0.4)


def _barrels(_: Rng, body: Housing, poles: Sequence[Pole], pitch: float, plastic: Material) -> None:
    x, long, radius = body.x, body.long, body.high / 2
    outer = max(pole.bore + pole.wall for pole in poles)
    profile = [
        (0, outer),
        (0, radius * 0.92),
        (0.3, radius),
        (long * 0.5, radius),
        (long * 0.5, radius * 0.85),
        (long, radius * 0.85),
        (long, 0.01),
    ]
    for pole in poles:
        add_turned("barrel", [x, pole.y, 0], X_AXIS, profile, plastic)
    wide = max(1, (len(poles) - 1) * pitch)
    add_box([x + long * 0.3, 0, 0], (long * 0.45, wide, body.high * 0.7), plastic, 0.4)


def _grooved(_: Rng, body: Housing, poles: Sequence[Pole], pitch: float, plastic: Material) -> None:
    x, long, high = body.x, body.long, body.high
    add_box([x + long / 2, 0, 0], (long, body.wide, high), plastic, 0.5)
    for pole in poles:
        for side in (-1, 1):
            place = [x + long * 0.55, pole.y + side * pitch * 0.22, high / 2]
            add_box(place, (long * 0.5, 0.6, 0.9), plastic, 0.2)
    for one, other in pairwise(poles):
        place = [x - 0.6, (one.y + other.y) / 2, -0.1 * high]
        add_box(place, (1.6, 0.8, high * 0.8), plastic, 0.2)
