"""What the photo of a number shows, and nothing else decides it.

Even numbers have a fault, one pole or all of them with the same one; odd ones are sound; of each
19 numbers one (17, 36, 55 ...) cannot carry a verdict. The faults and the hindrances come in turn.
Numbers up to 75 were drawn one after the other, and 76 is a picture without a joint; from 77 on
each number has a generator of its own. Frequencies and ranges are ours, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from .fields import Rng

BASE_SEED = 20260
SEEN = 76  # numbers below were drawn in one go
FRESH = 100  # from here on nobody has looked
FAULTS = (
    "insulation-gap",
    "solder-fill",
    "none",  # not soldered at all
    "wetting",
    "excess-solder",
    "bridge",
    "spike",
    "stray-strand",
    "birdcage",
    "surface",
    "holes",
    "insulation-damage",
    "buried",  # solder over the insulation's end
    "seating",
)
HINDRANCES = {
    "focus": "badly out of focus",
    "hidden": "joint hidden",
    "dark": "nearly black",
    "blown": "blown out",
    "none": "no joint in the picture",
}
UNUSABLE_EVERY, UNUSABLE_AT = 19, 17
# faults that a photo shows only from near
SMALL = frozenset(FAULTS) - {"insulation-gap", "excess-solder", "bridge", "insulation-damage"}
SMALL = SMALL - {"buried"}
BENCHES = ("wood", "paper", "cutmat", "silicone", "cloth", "metal", "cardboard", "black")
LIGHTS = ("window", "desk", "ring", "flash", "ceiling", "desk")
HOLDS = ("lie", "lie", "vice", "fingers", "clip")
GAUGES = (8, 10, 12, 14, 16, 18, 20)
GAUGE_SHARES = (0.12, 0.17, 0.22, 0.2, 0.13, 0.09, 0.07)
LONG_SIDES_PX = (1000, 1200, 1400, 1600, 2000, 2400)
LONG_SIDE_SHARES = (0.15, 0.25, 0.25, 0.2, 0.1, 0.05)
LONGEST_PX = LONG_SIDES_PX[-1]


@dataclass(frozen=True, slots=True)
class Plan:
    """What a photo shows.

    faults: one for each pole, "" for none; bridge: the first of the two poles that solder
    connects. severity: 0 to 1. size_px: width, height. d_px: D at the scene's middle. lens_mm:
    focal length on a sensor 36 mm wide along its longer side. tilt, pan and roll of the camera.
    blur_px: diameter of a point 10 mm off the focus. focus_off_mm: how far the focus lies behind.
    exposure: factor on the light; noise: of a grey of 1, or None to have it drawn. hindrance: "",
    or a name of HINDRANCES.
    """

    number: int
    seed: int
    faults: tuple[str, ...]
    bridge: int | None
    awg: int
    severity: float
    bench: str
    hold: str
    light: str
    size_px: tuple[int, int]
    d_px: float
    lens_mm: float
    tilt: float
    pan: float
    roll: float
    blur_px: float
    focus_off_mm: float = 0.0
    exposure: float = 1.0
    noise: float | None = None
    hindrance: str = ""


def subject(number: int) -> tuple[str, str]:
    """The fault and the hindrance of a number, "" for none; at most one of them is there."""
    if number == SEEN:
        return "", "none"
    turn, place = divmod(number, UNUSABLE_EVERY)
    if place == UNUSABLE_AT:
        return "", tuple(HINDRANCES)[turn % len(HINDRANCES)]
    if number % 2:
        return "", ""
    unusable = (number + 1) // (2 * UNUSABLE_EVERY)  # even numbers before it that have no fault
    return FAULTS[(number // 2 - unusable) % len(FAULTS)], ""


def plan(number: int) -> Plan:
    """The plan of a number, 0 or more."""
    if number < 0:
        raise ValueError(f"There is no photo {number}; numbers start at 0.")
    if number == SEEN:
        empty = replace(plan(1), number=number, seed=9911, bench="cutmat", hold="lie", d_px=110.0)
        return _hindered(replace(empty, size_px=(1200, 900)), "none")
    if number > SEEN:
        return _draw(np.random.default_rng((BASE_SEED, number)), number)
    rng = np.random.default_rng(BASE_SEED)
    for before in range(number):
        _draw(rng, before)
    return _draw(rng, number)


def _draw(rng: Rng, number: int) -> Plan:
    fault, hindrance = subject(number)
    poles = int(rng.choice([1, 2, 2, 3]))
    awg = int(rng.choice(GAUGES, p=GAUGE_SHARES))
    poles = max(poles, 2) if fault == "bridge" else poles
    faults, bridge = _spread(rng, fault, poles)
    size_px, d_px = _size(rng, fault, poles)
    tilt = math.radians(np.clip(rng.normal(0, 19), -38, 38))
    pan = math.radians(np.clip(rng.normal(0, 11), -20, 20))
    roll = rng.uniform(0, 2 * math.pi)
    if fault == "insulation-gap":  # a long one runs along the longer side
        roll = 0 if size_px[0] > size_px[1] else math.pi / 2
        roll = roll + rng.normal(0, 0.3) + rng.choice([0, math.pi])
    drawn = Plan(
        number=number,
        seed=7000 + number * 13,
        faults=faults,
        bridge=bridge,
        awg=awg,
        severity=float(rng.uniform(0, 1)),
        bench=BENCHES[(number * 3 + number // 8) % 8],
        hold=str(rng.choice(HOLDS)),
        light=LIGHTS[(number * 5 + number // 6) % 6],
        size_px=size_px,
        d_px=d_px,
        lens_mm=float(rng.choice([26, 28, 40, 52, 70])),
        tilt=tilt,
        pan=pan,
        roll=float(roll),
        blur_px=float(rng.choice([1.5, 3, 5, 8])),
    )
    return _hindered(drawn, hindrance)


def _spread(rng: Rng, fault: str, poles: int) -> tuple[tuple[str, ...], int | None]:
    """Which poles have the fault, and the first pole of a bridge."""
    faults = [""] * poles
    if fault == "bridge":
        return tuple(faults), int(rng.integers(0, poles - 1))
    if fault:
        count = 1 if rng.random() < 0.6 else poles
        for pole in rng.permutation(poles)[:count]:
            faults[pole] = fault
            rng.random()  # decides nothing; the draws stay in step
    return tuple(faults), None


def _size(rng: Rng, fault: str, poles: int) -> tuple[tuple[int, int], float]:
    """Width and height in pixels, and D in pixels, so that all poles have room."""
    d_px = float(np.exp(rng.uniform(math.log(120 if fault in SMALL else 68), math.log(290))))
    long = int(rng.choice(LONG_SIDES_PX, p=LONG_SIDE_SHARES))
    need = d_px * (5.5 + 1.7 * (poles - 1)) * 1.1
    if fault == "insulation-gap":
        need += 3.2 * d_px
    if need > long:
        long = int(min(LONGEST_PX, max(long, need)))
    if need > long:
        d_px *= long / need
    short = int(long / rng.choice([4 / 3, 4 / 3, 16 / 9, 1.0]))
    while short < d_px * (2.2 + 1.75 * (poles - 1)) * 1.35:
        d_px *= 0.95
    return ((short, long) if rng.random() < 0.3 else (long, short)), d_px


def _hindered(drawn: Plan, hindrance: str) -> Plan:
    """The plan, made such that the photo cannot carry a verdict for that reason."""
    out = replace(drawn, hindrance=hindrance)
    match hindrance:
        case "focus":
            return replace(out, focus_off_mm=120.0, blur_px=12.0)
        case "dark":
            return replace(out, exposure=0.012, noise=0.05)
        case "blown":
            return replace(out, exposure=40.0)
        case "none":
            return replace(out, faults=(), bridge=None)
    return out
