"""The lights of a scene and the room about it. Brightness is relative; ours, no source."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .blender import add_light, bpy
from .fields import Array, Rng
from .room import HIGH, WIDE, room_picture

ROOM_STRENGTH = {"window": 1.0, "desk": 0.45, "ring": 0.35, "flash": 0.3, "ceiling": 1.0}
TINTS = ((1, 0.86, 0.68), (1, 0.95, 0.88), (0.9, 0.96, 1.0))
RING_LAMPS, RING_RADIUS = 14, 55  # mm
FULL_TURN = 6.28  # rad


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the camera stands, for lights that it carries.

    target (3,): what it looks at, before it was shifted by offset (3,); way (3,): unit vector from
    there to the camera; distance in mm; turn (3, 3): camera to scene.
    """

    target: Array
    offset: Array
    way: Array
    distance: float
    turn: Array


def add_lights(rng: Rng, light: str, stand: Stand) -> None:
    """Light the scene; light: one of `plan.LIGHTS`."""
    tint = TINTS[rng.integers(0, 3)]
    strength = ROOM_STRENGTH[light] * rng.uniform(0.7, 1.4)
    _surround(room_picture(rng, light), strength)
    target, distance = stand.target, stand.distance
    match light:
        case "desk":
            turn, up = rng.uniform(0, FULL_TURN), rng.uniform(0.65, 1.2)
            off = rng.uniform(180, 350)
            across = math.cos(up)
            way = np.array([math.cos(turn) * across, math.sin(turn) * across, math.sin(up)])
            size = rng.uniform(20, 60)
            add_light("AREA", target + off * way, target, off * off * 18, size, tint)
        case "window":
            turn = rng.uniform(0, FULL_TURN)
            way = np.array([math.cos(turn) * 0.7, math.sin(turn) * 0.7, 0.7])
            add_light("AREA", target + 600 * way, target, 600**2 * 9, 350, (0.9, 0.96, 1))
        case "ring":
            _add_ring(stand)
        case "flash":
            beside = stand.turn @ np.array([rng.choice([-1, 1]) * 12, 9, 0])
            place = target + stand.offset + stand.way * distance * 0.98 + beside
            add_light("AREA", place, target, distance**2 * 14, 5, (1, 0.98, 0.95))
        case _:
            place = target + [rng.uniform(-300, 300), rng.uniform(-300, 300), 700]
            add_light("AREA", place, target, 700**2 * 9, 250, tint)


def _add_ring(stand: Stand) -> None:
    """Lamps round the lens."""
    middle = stand.target + stand.offset + stand.way * max(90, stand.distance * 0.85)
    for k in range(RING_LAMPS):
        turn = k / RING_LAMPS * 6.283
        across = [RING_RADIUS * math.cos(turn), RING_RADIUS * math.sin(turn), 0]
        place = middle + stand.turn @ np.array(across)
        energy = max(90, stand.distance) ** 2 * 1.4
        add_light("POINT", place, stand.target, energy, 3.0, (0.95, 0.98, 1))


def _surround(room: Array, strength: float) -> None:
    """Put the room all round the scene."""
    image = bpy.data.images.new("room", WIDE, HIGH, float_buffer=True)
    opaque = np.dstack([room, np.ones((HIGH, WIDE))])
    image.pixels.foreach_set(opaque.astype(np.float32).ravel())
    image.update()
    world = bpy.data.worlds.new("room")
    bpy.context.scene.world = world
    world.use_nodes = True
    tree = world.node_tree
    picture = tree.nodes.new("ShaderNodeTexEnvironment")
    picture.image = image
    background = tree.nodes["Background"]
    tree.links.new(picture.outputs[0], background.inputs[0])
    background.inputs[1].default_value = strength
