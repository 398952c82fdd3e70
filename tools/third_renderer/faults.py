"""What a fault does to a pole: its solder, strands and insulation. Figures are ours, no source.

A long gap, a short seat and solder that is missing altogether are in `pole` already.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .fields import Array, Rng, Vector3
from .pole import Ball, Bulge, Hole, Pole, Spike, Stray


def with_fault(rng: Rng, pole: Pole) -> Pole:
    """The pole with all that its fault adds to it."""
    change = _CHANGES.get(pole.fault)
    return change(rng, pole) if change else pole


def _underfilled(rng: Rng, pole: Pole) -> Pole:
    fill = 1.0 + 0.25 * pole.severity * rng.random() + pole.edge / pole.bore
    filled_to, wick = rng.uniform(0.45, 0.7), rng.uniform(0.1, 0.5)
    return replace(pole, fill=fill, filled_to=filled_to, wick=wick, blend=0.25, meniscus=0)


def _badly_seated(_: Rng, pole: Pole) -> Pole:
    return replace(pole, fill=0.75 + pole.edge / pole.bore, wick=0.3)


def _not_wetted(rng: Rng, pole: Pole) -> Pole:
    balls = []
    for _ in range(rng.integers(1, 4)):
        radius = pole.bore * rng.uniform(0.45, 0.8) * (0.8 + 0.4 * pole.severity)
        x = rng.uniform(0.15, 0.8) * pole.length
        y = rng.uniform(-0.55, 0.55) * pole.bore
        z = max(pole.sag + pole.radius, pole.edge) + radius * rng.uniform(0.35, 0.75)
        balls.append(Ball((x, y, z), radius, rng.uniform(0.8, 0.95)))
    return replace(pole, balls=tuple(balls))


def _surplus(rng: Rng, pole: Pole) -> Pole:
    bore, length, edge = pole.bore, pole.length, pole.edge
    top = (length * rng.uniform(0.38, 0.55), rng.uniform(-0.2, 0.2) * bore, edge + bore * 0.15)
    axes = (
        length * rng.uniform(0.5, 0.62),
        bore * (1.25 + 0.45 * pole.severity),
        bore * (1.2 + 0.6 * pole.severity),
    )
    x = length * rng.uniform(0.2, 0.7)
    beside = (x, rng.choice([-1, 1]) * bore * 0.75, edge - 0.2 * bore)
    bulges = (Bulge(top, axes), Bulge(beside, (bore * 1.1, bore * 0.95, bore * 1.0)))
    return replace(pole, bulges=bulges)


def _buried(rng: Rng, pole: Pole) -> Pole:
    overall = pole.overall
    at_end = Bulge(
        (-pole.gap - rng.uniform(0.1, 0.3) * overall, 0, pole.sag),
        (
            max(1.4, 0.75 * overall),
            overall * (0.56 + 0.08 * pole.severity),
            overall * (0.56 + 0.1 * pole.severity),
        ),
    )
    in_cup = Bulge(
        (pole.length * 0.25, 0, pole.sag + 0.2 * pole.radius),
        (pole.length * 0.45, pole.bore * 1.05, pole.bore * 1.15),
    )
    return replace(pole, bulges=(at_end, in_cup), lay=0.1)


def _spiked(rng: Rng, pole: Pole) -> Pole:
    side = rng.choice([-1, 1])
    length = rng.uniform(1.8, 2.6) + 2.2 * pole.severity
    x = rng.uniform(0.15, 0.8) * pole.length
    across = [rng.uniform(-0.6, 0.6), side * rng.uniform(0.8, 1.2), rng.uniform(0.3, 0.7)]
    way = np.array(across)
    way /= np.linalg.norm(way)
    root = np.array([x, side * 0.45 * pole.bore, pole.edge - 0.05 * pole.bore])
    tip = root + way * (length + 0.6 * pole.bore)
    spike = Spike(_point(root), _point(tip), rng.uniform(0.3, 0.5) * pole.bore)
    return replace(pole, spikes=(spike,))


def _lumpy(_: Rng, pole: Pole) -> Pole:
    lump = pole.bore * (0.10 + 0.08 * pole.severity)
    return replace(pole, lump=lump, fill=max(0, pole.fill - 0.25), blend=0.15)


def _blown(rng: Rng, pole: Pole) -> Pole:
    fill = -(pole.sag + pole.radius * 1.02 - pole.edge) / pole.bore
    holes = []
    for _ in range(rng.integers(1, 4) + int(2 * pole.severity)):
        radius = pole.overall * rng.uniform(0.08, 0.12) * (1 + 0.4 * pole.severity)
        x, y = rng.uniform(0.15, 0.85) * pole.length, rng.uniform(-0.7, 0.7) * pole.bore
        back = pole.sag + math.sqrt(max(0, pole.radius**2 - y**2)) + 0.02
        z = max(back, pole.edge - fill * pole.bore) - 0.1 * radius
        holes.append(Hole((x, y, z), radius))
    return replace(pole, fill=fill, lay=0.25, holes=tuple(holes))


def _caged(_: Rng, pole: Pole) -> Pole:
    return replace(pole, cage=1.42 + 0.45 * pole.severity)


def _burnt(rng: Rng, pole: Pole) -> Pole:
    burn = rng.uniform(0.6, 1.0) + 0.7 * pole.severity
    return replace(pole, burn=burn, burn_side=rng.uniform(-0.8, 0.8))


def _frayed(rng: Rng, pole: Pole) -> Pole:
    first = rng.choice([-1, 1])
    count = rng.integers(1, 3) + int(3 * pole.severity)
    return replace(pole, strays=tuple(_stray(rng, pole, first) for _ in range(count)))


def _stray(rng: Rng, pole: Pole, first: int) -> Stray:
    side = first if rng.random() < 0.75 else -first
    length = (rng.uniform(0.8, 1.3) + 0.8 * pole.severity) * max(2.0, pole.overall * 0.8)
    x = rng.uniform(-0.8 * pole.gap, 0.15 * pole.length)
    root = np.array([x, side * pole.radius * 0.8, pole.sag + pole.radius * 0.55])
    angle = rng.uniform(-0.7, 0.9)
    way = np.array([math.sin(angle), side * math.cos(angle), rng.uniform(0.1, 0.6)])
    end = root + way * length + rng.normal(0, 0.15 * length, 3)
    points = (root - [1.0, side * 0.1, 0.1], root, root + way * length * 0.6, end)
    first_point, second, third, fourth = (_point(p) for p in points)
    curl = rng.uniform(2, 9)
    return Stray((first_point, second, third, fourth), curl, 1.0 if rng.random() < 0.3 else 0.0)


def _point(place: Array) -> Vector3:
    x, y, z = (float(value) for value in place)
    return x, y, z


_CHANGES: dict[str, Callable[[Rng, Pole], Pole]] = {
    "solder-fill": _underfilled,
    "seating": _badly_seated,
    "wetting": _not_wetted,
    "excess-solder": _surplus,
    "buried": _buried,
    "spike": _spiked,
    "surface": _lumpy,
    "holes": _blown,
    "birdcage": _caged,
    "insulation-damage": _burnt,
    "stray-strand": _frayed,
}
