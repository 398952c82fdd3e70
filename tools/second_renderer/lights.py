"""What lights the scene: one to three lamps, and a room with brighter and darker patches."""

from __future__ import annotations

import numpy as np

from .blender import Nodes, Vector, add_picture, bpy
from .fields import Rng, cloud
from .meshes import Array

ROOM_PX = (128, 256)
LAMPS = ("hard", "soft", "window")
LAMP_SHARES = (0.4, 0.35, 0.25)


def add_room(rng: Rng) -> None:
    """Light from all round."""
    world = bpy.data.worlds.new("room")
    world.use_nodes = True
    world.cycles.sampling_method = "MANUAL"
    world.cycles.sample_map_resolution = 128
    bpy.context.scene.world = world
    colour = _room(rng)
    nodes = Nodes("", world.node_tree)
    image = add_picture("room", colour, np.broadcast_to(_height(), ROOM_PX))
    node = nodes.add("TexEnvironment", {"image": image})
    strength = rng.uniform(0.35, 1.0)
    back = nodes.add("Background", Color=node.outputs[0], Strength=strength)
    out = nodes.add("OutputWorld")
    nodes.tree.links.new(back.outputs[0], out.inputs[0])


def _height() -> Array:
    """Sine (h, 1) of the elevation of the panorama's rows."""
    return np.sin(np.linspace(-np.pi / 2, np.pi / 2, ROOM_PX[0]))[:, None]


def _room(rng: Rng) -> Array:
    """Panorama (h, w, 3): dim, patchy, brighter above, with up to three bright panes."""
    high, wide = ROOM_PX
    patchy = cloud(rng, wide, rng.uniform(1.2, 1.8))[:high]
    patch = np.clip((patchy - 0.35) * 3, 0, 1)
    light = patch * np.clip((_height() + 0.3) / 1.2, 0, 1)
    warm = rng.uniform(-0.12, 0.12)
    colour = 0.2 + light[..., None] * np.array([1 + warm, 1, 1 - warm])
    for _ in range(rng.integers(0, 4)):
        top, left = rng.integers(70, 115), rng.integers(0, wide - 30)
        bottom = top + rng.integers(5, 12)
        colour[top:bottom, left : left + rng.integers(6, 26)] += 2.5
    return colour


def _add_lamp(
    place: Array, size: tuple[float, float], power: float, colour: tuple[float, float, float]
) -> None:
    """Rectangular lamp at place (3,), aimed at the scene's origin; size in D."""
    lamp = bpy.data.lights.new("lamp", "AREA")
    lamp.shape = "RECTANGLE"
    lamp.size, lamp.size_y = size
    lamp.energy = power
    lamp.color = colour
    thing = bpy.data.objects.new("lamp", lamp)
    thing.location = place
    aim = -Vector(place)
    thing.rotation_euler = aim.to_track_quat("-Z", "Y").to_euler()
    bpy.context.scene.collection.objects.link(thing)


def add_lamps(rng: Rng) -> None:
    """One to three lamps: small and hard, a soft box, a window; never a window alone."""
    kinds = [str(kind) for kind in rng.choice(LAMPS, rng.integers(1, 4), p=LAMP_SHARES)]
    if kinds == ["window"]:
        kinds.append("soft")
    for kind in kinds:
        azimuth = rng.uniform(0, 2 * np.pi)
        low_deg, high_deg = (55, 72) if kind == "window" else (22, 65)
        steep = np.radians(rng.uniform(low_deg, high_deg))  # off the vertical
        far = rng.uniform(28, 45)
        way = (np.cos(azimuth) * np.sin(steep), np.sin(azimuth) * np.sin(steep), np.cos(steep))
        warm = rng.uniform(-0.15, 0.2)
        colour = (1 + max(warm, 0) * 0.3, 1.0, 1 - warm)
        power = 9000 * (far / 35) ** 2 * rng.uniform(0.5, 1.2)
        if kind == "hard":
            wide = high = rng.uniform(1.5, 4)
        elif kind == "soft":
            wide = rng.uniform(9, 20)
            high = wide * rng.uniform(0.5, 1)
        else:
            wide = rng.uniform(12, 20)
            high, power = wide * 1.5, power * 1.3
        _add_lamp(far * np.array(way), (wide, high), power, colour)
