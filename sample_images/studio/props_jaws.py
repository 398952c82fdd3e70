"""Tools with jaws: pliers, crocodile clip, vice. Label 0."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .part import Part
from .props_finish import Rng, metal, plastic
from .props_shapes import (
    TAU,
    Mesh,
    box,
    circle,
    merge,
    move,
    part,
    place,
    prism,
    sheet,
    spline,
    toward,
    tube,
    turn,
    turned,
    unit,
)  # fmt: skip
from .props_tools import arm, bent_bar


def _jaw(rng: Rng, length: float, width: float, height: float, teeth: int) -> Mesh:
    """Half of a jaw along x, tooth side down at z = 0, tapering to the tip at x = 0."""
    x = np.linspace(0, length, teeth * 4 + 1)
    saw = (
        np.abs((np.arange(len(x)) / 4 % 1) * 2 - 1)
        * height
        * rng.uniform(0.12, 0.3)
        * (x < length * 0.75)
    )
    k = 0.35 + 0.65 * x / length
    low, high = np.c_[x, saw], np.c_[x, height * k + 0.2]
    w = width * k / 2
    bits = []
    for sign in (1, -1):
        face = np.stack(
            [np.c_[low[:, 0], sign * w, low[:, 1]], np.c_[high[:, 0], sign * w, high[:, 1]]]
        )
        bits.append(sheet(face[:, ::-1] if sign > 0 else face))
    for edge in (low, high):
        strip = np.stack([np.c_[edge[:, 0], -w, edge[:, 1]], np.c_[edge[:, 0], w, edge[:, 1]]])
        bits.append(sheet(strip))
    tip = np.array(
        [
            [[0, -w[0], low[0, 1]], [0, -w[0], high[0, 1]]],
            [[0, w[0], low[0, 1]], [0, w[0], high[0, 1]]],
        ]
    )
    return merge(*bits, sheet(tip))


def _jaws(rng: Rng, length: float, width: float, height: float, open_deg: float) -> Mesh:
    teeth = int(rng.integers(4, 14))
    upper = _jaw(rng, length, width, height, teeth)
    lean = turn([0, 1, 0], np.radians(open_deg) / 2)
    upper = move(move(upper, None, (-length, 0, 0)), lean, (length, 0, 0))
    lower = move(
        move(_jaw(rng, length, width, height, teeth), turn([1, 0, 0], np.pi), (-length, 0, 0)),
        lean.T,
        (length, 0, 0),
    )
    return merge(upper, lower)


def pliers(rng: Rng) -> list[Part]:
    """Crimping or flat-nose pliers lying on the bench, jaws toward the origin."""
    length, width, height = rng.uniform(15, 45), rng.uniform(5, 12), rng.uniform(4, 11)
    steel = metal(rng, "steel", "steel", "nickel")
    jaws = move(_jaws(rng, length, width, height, rng.uniform(0, 18)), turn([1, 0, 0], np.pi / 2))
    hub = move(
        prism(circle(height * 1.4, 40), width * 1.15, 0.4),
        None,
        (length + height, 0, -width * 0.575),
    )
    rivet = move(
        prism(circle(height * 0.5, 24), width * 1.3, 0.3), None, (length + height, 0, -width * 0.6)
    )
    grips = []
    for sign in (-1, 1):
        knots = np.array(
            [
                [length + height, sign * height * 0.6, 0],
                [length + 40, sign * rng.uniform(12, 22), 0],
                [length + 120, sign * rng.uniform(14, 30), 0],
            ]
        )
        grips.append(tube(spline(knots, 40), rng.uniform(4, 7), 20))
    parts = [
        part("pliers-jaws", merge(jaws, hub), steel, smooth=False),
        part("pliers-rivet", rivet, metal(rng)),
        part("pliers-grips", merge(*grips), plastic(rng)),
    ]
    return place(parts, None, (0, 0, width * 0.6))


def clip(rng: Rng, at: ArrayLike, direction: ArrayLike, wire_radius: float = 1.5) -> list[Part]:
    """Crocodile clip that bites at `at`; `direction` runs from the bite to its tail."""
    length, width, height = rng.uniform(14, 26), rng.uniform(4, 8), rng.uniform(2.2, 4)
    bite = float(rng.uniform(2, 5))
    open_deg = 2 * np.degrees(np.arctan2(wire_radius * 0.9, length - bite))
    steel = metal(rng, "steel", "nickel", "copper", "tin")
    jaws = _jaws(rng, length, width, height, open_deg)
    back = []
    for sign in (-1, 1):
        path = np.stack(
            [
                np.linspace(length * 0.95, length * 1.8, 12),
                np.zeros(12),
                sign * np.linspace(height * 0.7, height * 2.2, 12),
            ],
            -1,
        )
        back.append(bent_bar(path, np.full(12, width), np.full(12, 0.7)))
    boot = tube(
        np.array([[length * 1.35, 0, 0], [length * 1.9, 0, 0], [length * 2.6, 0, 0]]),
        [height * 1.7, height * 1.5, height * 0.6],
        20,
    )
    parts = [part("clip", merge(jaws, *back), steel, smooth=False)]
    if rng.random() < 0.5:
        parts.append(part("clip-boot", boot, plastic(rng)))
    pin = move(
        turned([(0, 0), (height * 0.5, 0), (height * 0.5, width * 1.2), (0, width * 1.2)], 20),
        turn([1, 0, 0], np.pi / 2),
        (length, width * 0.6, 0),
    )
    parts.append(part("clip-pin", pin, metal(rng)))
    if rng.random() < 0.6:
        parts += arm(rng, (length * 2.4, 0, 0), (1, 0, 0))
    parts = place(parts, None, (-bite, 0, 0))
    roll = turn([1, 0, 0], float(rng.uniform(0, TAU)))
    lay = toward(direction) @ turn([0, 1, 0], -np.pi / 2)
    return place(parts, lay @ roll, at)


def vice(rng: Rng, at: ArrayLike, direction: ArrayLike, wire_radius: float = 1.5) -> list[Part]:
    """Two jaws that hold a wire at `at`; `direction` runs along the wire, away from the joint."""
    wide, deep, tall = rng.uniform(8, 30), rng.uniform(5, 25), rng.uniform(6, 20)
    skin = metal(rng, "steel", "steel", "brass") if rng.random() < 0.7 else plastic(rng)
    grooves = int(rng.integers(0, 12))
    out = []
    for sign in (-1, 1):
        jaw = move(
            box((wide, deep, tall), rng.uniform(0.2, 1)),
            None,
            (0, sign * (deep / 2 + wire_radius * 0.9), -tall / 2),
        )
        lines = [
            move(box((0.5, 0.6, tall * 0.98)), None, (x, sign * (wire_radius * 0.9), -tall / 2))
            for x in np.linspace(-wide / 2.2, wide / 2.2, grooves)
        ]
        out.append(merge(jaw, *lines))
    flat = np.asarray(direction, float) * [1, 1, 0]
    yaw = float(np.arctan2(flat[1], flat[0]))
    spin: NDArray[np.float64] = turn([0, 0, 1], yaw)
    return place(
        [part("vice", merge(*out), skin, smooth=False)],
        spin,
        np.asarray(at, float) + unit(flat) * wide / 2,
    )
