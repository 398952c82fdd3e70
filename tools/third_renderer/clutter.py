"""What else lies on a bench, away from the joints. Figures are ours, no source; in mm."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .blender import Material, add_box, add_tube, add_turned
from .fields import Array, Rng
from .materials import INSULATION, plain
from .meshes import bezier
from .nodes import Colour

LEVEL = (1, 1, 0)


@dataclass(frozen=True, slots=True)
class Metals:
    """Metals that things on the bench are made of."""

    steel: Material
    tin: Material
    gold: Material
    copper: Material


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a thing lies (3,), its way (3,) past the joints, a turn about z, and a colour."""

    place: Array
    way: Array
    turn: float
    colour: Colour


def common_metals(plating: Material) -> Metals:
    """Steel, tin and copper, and the cups' own plating."""
    return Metals(
        steel=plain("steel", (0.55, 0.55, 0.56), 0.28, 1.0),
        tin=plain("tin", (0.75, 0.75, 0.74), 0.25, 1.0),
        gold=plating,
        copper=plain("copper", (0.8, 0.4, 0.25), 0.3, 1.0),
    )


def add_clutter(rng: Rng, ground_z: float, far: float, metals: Metals) -> None:
    """Put one to four things on the bench, `far` from the scene's middle and farther."""
    for _ in range(rng.integers(1, 5)):
        at, off = rng.uniform(0, 2 * np.pi), rng.uniform(far, far * 2.6)
        place = np.array([off * math.cos(at), off * math.sin(at), ground_z])
        turn = rng.uniform(0, np.pi)
        kind = rng.integers(0, 9)
        # long things lie past the joints, not across them
        way = np.array([-math.sin(at), math.cos(at), 0]) * 1.0
        way = way + 0.35 * rng.normal(size=3) * LEVEL
        way /= np.linalg.norm(way)
        colour = INSULATION[rng.integers(0, len(INSULATION))]
        _THINGS[kind](rng, Spot(place, way, turn, colour), metals)


def _screwdriver(_: Rng, spot: Spot, metals: Metals) -> None:
    handle = [(-60, 0.1), (-60, 5), (-55, 6.2), (-20, 6.2), (-14, 4.5), (-6, 6), (0, 4), (0.1, 1.6)]
    place = spot.place + [0, 0, 6]
    add_turned("handle", place, spot.way, handle, plain("handle", spot.colour, 0.35), 8)
    add_turned("blade", place, spot.way, [(0, 1.5), (50, 1.5), (55, 0.8)], metals.steel)


def _solder_coil(rng: Rng, spot: Spot, metals: Metals) -> None:
    first = rng.uniform(6, 13)
    turns = []
    for t in np.linspace(0, 1, 220):
        radius = first * (1 + 0.15 * t)
        across = radius * math.cos(22 * t), radius * math.sin(22 * t)
        turns.append(spot.place + [*across, 0.6 + 2.2 * t + 0.4 * math.sin(40 * t)])
    add_tube("coil", np.array(turns), np.full(220, 0.45), metals.tin, 10)


def _other_wire(rng: Rng, spot: Spot, _: Metals) -> None:
    place, way = spot.place, spot.way
    beside = place + way * 20 + rng.normal(0, 12, 3) * LEVEL
    line = bezier([place - way * 80, place - way * 20 + [10, 8, 0], beside, place + way * 90], 60)
    line[:, 2] = place[2] + 1.7
    radii = np.full(60, rng.uniform(0.8, 2.4))
    add_tube("wire", line, radii, plain("wire", spot.colour, 0.5), 20)


def _tweezers(_: Rng, spot: Spot, metals: Metals) -> None:
    for side in (-1, 1):
        place = spot.place + np.array([0, side * 2.5, 2])
        add_box(place, (85, 2.5, 1.2), metals.steel, 0.3, (0, 0, spot.turn + side * 0.03))


def _nuts(rng: Rng, spot: Spot, metals: Metals) -> None:
    profile = [(0, 0.1), (0, 2.6), (0.15, 2.9), (2.2, 2.9), (2.4, 2.6)]
    profile += [(2.41, 1.3), (1.0, 1.3), (1.0, 0.01)]
    for _ in range(rng.integers(1, 4)):
        place = spot.place + rng.normal(0, 9, 3) * LEVEL + [0, 0, 0.05]
        add_turned("nut", place, [0, 0, 1], profile, metals.steel, 6)


def _tape(_: Rng, spot: Spot, __: Metals) -> None:
    place = spot.place + np.array([0, 0, 0.12])
    tape = plain("tape", spot.colour, 0.3)
    add_box(place, (45, 12, 0.12), tape, 0.03, (0, 0, spot.turn))


def _loose_contact(_: Rng, spot: Spot, metals: Metals) -> None:
    profile: list[tuple[float, float]] = [
        (0, 1.1),
        (0, 1.8),
        (8, 1.8),
        (8, 2.4),
        (9, 2.4),
        (9, 1.2),
    ]
    profile += [(16, 1.1), (17, 0.5), (17.01, 0.01)]
    add_turned("contact", spot.place + [0, 0, 1.8], spot.way, profile, metals.gold)


def _cuttings(rng: Rng, spot: Spot, metals: Metals) -> None:
    for _ in range(rng.integers(8, 40)):
        start = spot.place + rng.normal(0, 14, 3) * LEVEL + [0, 0, 0.08]
        turn, long = rng.uniform(0, 6.28), rng.uniform(0.5, 4)
        half, later = long * 0.5, turn + 0.2
        middle = start + [half * math.cos(turn), half * math.sin(turn), 0.05]
        end = start + [long * math.cos(later), long * math.sin(later), 0]
        line = np.array([start, middle, end])
        add_tube("cutting", line, np.full(3, 0.07), metals.copper, 6)


def _iron(_: Rng, spot: Spot, metals: Metals) -> None:
    profile = [(0, 0.3), (0.2, 0.8), (9, 2.4), (9.1, 2.9), (30, 2.9), (30.1, 4), (60, 4)]
    add_turned("iron", spot.place + [0, 0, 8], spot.way, profile, metals.steel)


_THINGS: tuple[Callable[[Rng, Spot, Metals], None], ...] = (
    _screwdriver,
    _solder_coil,
    _other_wire,
    _tweezers,
    _nuts,
    _tape,
    _loose_contact,
    _cuttings,
    _iron,
)
