"""What holds the connector: a vice, a clip or two fingers. Figures are ours, no source; in mm."""

from __future__ import annotations

import math

import numpy as np

from .blender import Material, add_box, add_ellipsoid, add_tube, add_turned
from .fields import Rng
from .housing import Housing
from .materials import plain
from .nodes import Colour, Nodes, opaque, times

VICES: tuple[Colour, ...] = ((0.12, 0.12, 0.13), (0.35, 0.36, 0.37), (0.05, 0.12, 0.25))
SKINS: tuple[Colour, ...] = (
    (0.72, 0.43, 0.32),
    (0.55, 0.31, 0.21),
    (0.80, 0.55, 0.44),
    (0.30, 0.15, 0.09),
)
FINGER = 8.0  # radius


def add_holder(rng: Rng, hold: str, body: Housing) -> None:
    """Put what holds the housing into the scene; hold: one of `plan.HOLDS`."""
    match hold:
        case "vice":
            _add_vice(rng, body)
        case "clip":
            _add_clip(body)
        case "fingers":
            _add_fingers(rng, body)


def _add_vice(rng: Rng, body: Housing) -> None:
    colour = VICES[rng.integers(0, 3)]
    steel = plain("vice", colour, 0.35, 1.0 if rng.random() < 0.6 else 0.0)
    x, half = body.x + body.long * 0.75, body.wide / 2
    for side in (-1, 1):
        add_box([x + 7, side * (half + 4.9), -4], (22, 8, 20), steel, 0.8)
        for k in range(6):  # the jaw's teeth
            add_box([x - 2 + 3 * k, side * (half + 0.9), 2], (1.4, 0.8, 7), steel, 0.3)
    add_box([x + 10, 0, -20], (35, body.wide + 30, 14), steel, 1.5)


def _add_clip(body: Housing) -> None:
    steel = plain("clip", (0.7, 0.7, 0.7), 0.25, 1.0)
    x = body.x + body.long * 0.8
    for side in (-1, 1):
        place = [x + 8, 0, side * (body.high / 2 + 1.0)]
        add_box(place, (20, 5, 1.0), steel, 0.3, (0, side * -0.12, 0))
    add_turned("arm", [x + 18, 0, 0], [1, 0.2, -0.3], [(0, 2), (60, 2)], steel)


def _add_fingers(rng: Rng, body: Housing) -> None:
    tone = SKINS[rng.integers(0, 4)]
    skin = _skin(tone)
    x = body.x + body.long * 0.8
    red, green, blue = (min(1, part) for part in times(tone, 1.15))
    along = np.linspace(-8, 55, 40)
    tip = np.sqrt(np.clip(1 - (np.clip(-along, 0, 8) / 8.001) ** 2, 0.001, 1))
    thicker = np.where(along > 0, 1 + along / 300, 1)
    radii = FINGER * tip * (1 + 0.06 * np.sin(along / 8)) * thicker
    for side in (-1, 1):
        middle = np.array([x, side * (body.wide / 2 + 7.2), rng.uniform(-3, 0)])
        way = np.array([1.0, side * rng.uniform(0.3, 0.8), -0.3])
        way /= np.linalg.norm(way)
        add_tube("finger", middle + along[:, None] * way, radii, skin, 40)
        nail = plain("nail", (red, green, blue), 0.25)
        place = middle + way * -1 + [0, side * 1.5, 7.0]
        add_ellipsoid(place, (6, 4.5, 1.6), (0, 0.25, math.atan2(way[1], way[0])), nail)


def _skin(tone: Colour) -> Material:
    nodes = Nodes("skin")
    red, green, blue = tone
    ruddy = opaque((red * 0.95, green * 0.75, blue * 0.72))
    nodes.surface(
        Base_Color=nodes.mix(nodes.noise(0.35, 5), opaque(tone), ruddy),
        Roughness=0.5,
        Subsurface_Weight=0.15,
        Subsurface_Scale=1.0,
        Subsurface_Radius=(1.5, 0.6, 0.3),
    )
    folds = nodes.scaled(nodes.place(), (1, 3.5, 3.5))
    nodes.surface(Normal=nodes.bump(nodes.noise(1.3, 6, 0.7, folds), 0.45, 0.4))
    return nodes.material
