"""What holds the cups: a plastic housing with pins, or a loose contact's own pin."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .blender import Label, Material, add_mesh
from .fields import Rng
from .materials import HOUSINGS, plastic, terminal
from .meshes import Mesh, lathe, loft
from .shot import Connector

THIN = 0.001  # half width of a section that closes a body
Section = tuple[float, float, float]  # x, half width y, half height z


def add_housing(rng: Rng, connector: Connector) -> float:
    """Put the housing behind the cups into the scene; returns half its height."""
    cup = connector.cup
    high = rng.uniform(0.68, 1.0)
    wide = (connector.poles - 1) * connector.pitch / 2 + rng.uniform(0.72, 1.05)
    front = max(cup.run + 0.06, cup.depth * rng.uniform(0.65, 1.0))
    if not cup.scoop:
        front = cup.depth * rng.uniform(0.5, 0.95)
    long = rng.uniform(2.0, 4.0)
    edge = rng.uniform(0.04, 0.16)
    rows = [(front, THIN, THIN), (front, wide - edge, high - edge), (front + edge, wide, high)]
    rows += _pattern(rng, front, wide, high)
    _, last_wide, last_high = rows[-1]
    rows += [
        (front + long, last_wide, last_high),
        (front + long + edge, last_wide - edge, last_high - edge),
        (front + long + edge, THIN, THIN),
    ]
    body = loft(rows, rng.choice([2.6, 5.0, 9.0]), 160)
    colour = HOUSINGS[rng.integers(len(HOUSINGS))]
    add_mesh("housing", body, plastic(rng, colour), Label.HOUSING)
    if rng.random() < 0.5:
        metal = terminal(rng, "gold")
        for pin in _pins(connector, front + long):
            add_mesh("pin", pin, metal, Label.METAL)
    return high


def _pattern(rng: Rng, front: float, wide: float, high: float) -> list[Section]:
    """Sections of one of four styles: plain, stepped, ribbed, with a collar."""
    style = rng.integers(4)
    if style == 1:
        x = front + rng.uniform(0.4, 0.9)
        return [(x, wide, high), (x + 0.03, wide * 0.88, high * 0.88)]
    if style == 2:
        return [
            section
            for x in np.arange(front + 0.4, front + 1.6, 0.36)
            for section in (
                (x, wide, high),
                (x + 0.05, wide - 0.08, high - 0.08),
                (x + 0.14, wide - 0.08, high - 0.08),
                (x + 0.19, wide, high),
            )
        ]
    if style == 3:
        x = front + rng.uniform(0.3, 0.7)
        return [
            (x, wide, high),
            (x + 0.04, wide * 1.1, high),
            (x + 0.3, wide * 1.1, high),
            (x + 0.34, wide, high),
        ]
    return []


def _pins(connector: Connector, x: float) -> Iterator[Mesh]:
    profile = [(x - 0.2, 0.34), (x + 1.3, 0.34), (x + 1.5, 0.24), (x + 1.5, THIN)]
    for i in range(connector.poles):
        y = (i - (connector.poles - 1) / 2) * connector.pitch
        pin = lathe(profile)
        yield Mesh(pin.vertices + [0, y, 0], pin.faces)


def add_contact(rng: Rng, connector: Connector, metal: Material) -> float:
    """Put a loose contact's pin behind its cup into the scene; returns its largest radius."""
    x, radius = connector.cup.depth, connector.cup.outer
    collar = radius * rng.uniform(1.0, 1.25)
    pin = radius * rng.uniform(0.55, 0.95)
    begin, end = x + rng.uniform(0.1, 0.4), x + rng.uniform(0.5, 0.8)
    long = rng.uniform(1.2, 2.6)
    neck = radius * 0.98
    groove = []
    if rng.random() < 0.5:
        at = end + 0.35 * long
        groove = [(at, pin), (at + 0.03, pin * 0.8), (at + 0.15, pin * 0.8), (at + 0.18, pin)]
    profile = [
        (x - 0.02, neck),
        (begin, neck),
        (begin + 0.03, collar),
        (end, collar),
        (end + 0.03, pin),
        *groove,
        (end + long, pin),
        (end + long + 0.25, pin * 0.55),
        (end + long + 0.28, THIN),
    ]
    add_mesh("contact", lathe(profile), metal, Label.METAL)
    return collar
