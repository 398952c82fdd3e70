"""The scene of a plan in Blender: connector, wires, solder, ground, and what holds and surrounds.

The order of the draws is part of what a number shows: nothing here may be moved about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from . import materials
from .blender import Material, add_mesh, add_plane, add_tube, start_scene
from .clutter import Metals, common_metals
from .connector import Bridge, draw_bridge, draw_cups, draw_poles
from .cup import collar_mesh, cup_mesh, root_mesh
from .fields import Rng, Vector3
from .grounds import ground
from .holder import add_holder
from .housing import NO_HOUSING, Housing, add_housing
from .insulation import insulation_mesh, sleeve_line
from .plan import Plan
from .pole import WIRE_MM, Cups, Pole
from .solder import solder_bodies
from .strands import core_mesh, strand_mesh

PLATINGS = ("gold", "gold", "gold2", "tin", "nickel")
GROUND_SIZE = 900  # mm
NO_STRANDS, NO_TWIST = 60, 0.2  # of solder that no photo shows
NO_LENGTH = 8  # of the cups where there are none, mm


@dataclass(frozen=True, slots=True)
class Scene:
    """What the camera and the truth need to know of a scene; ground_z in mm."""

    cups: Cups
    plating: str
    poles: tuple[Pole, ...]
    bridge: Bridge | None
    ground_z: float
    metals: Metals


def build_scene(rng: Rng, todo: Plan) -> Scene:
    """Build all but clutter, camera and lights."""
    start_scene()
    cups = draw_cups(rng, todo)
    poles = draw_poles(rng, todo, cups)
    count = poles[0].ring if poles else NO_STRANDS
    twist = -(poles[0].twist if poles else NO_TWIST) * count / 2
    plating = str(rng.choice(PLATINGS))
    metal = materials.cup(rng, plating)
    bright = materials.solder(rng, count, twist)
    cold = None
    if "surface" in todo.faults:
        cold = materials.cold_solder(rng, count, twist)
    copper = materials.strands(rng.choice([0, 0, 0.3]))
    colour = materials.HOUSINGS[rng.integers(0, len(materials.HOUSINGS))]
    plastic = materials.plain("housing", colour, rng.uniform(0.3, 0.55), bumps=0.1, grain=5)
    bench = ground(rng, todo.bench)
    x = (poles[0].length if poles else NO_LENGTH) + rng.uniform(0.4, 2.2)
    body = Housing(x, *NO_HOUSING)
    if poles:
        body = add_housing(rng, poles, x, cups.pitch, plastic, metal)
    ground_z = _ground_z(rng, todo, body)
    add_plane(GROUND_SIZE, ground_z, rng.uniform(0, 6.28), bench)
    _add_wires(rng, todo, poles, x, ground_z, metal, copper)
    bridge = None
    if todo.bridge is not None:
        bridge = draw_bridge(rng, todo.bridge, todo.severity, poles[0])
    _add_solder(rng, poles, bridge, bright, cold)
    if todo.hindrance == "hidden":
        sleeve = materials.plain("sleeve", materials.SLEEVE, 0.35)
        for pole in poles:
            add_tube("sleeve", *sleeve_line(pole), sleeve, 32)
    if poles:
        add_holder(rng, todo.hold, body)
    return Scene(cups, plating, poles, bridge, ground_z, common_metals(metal))


def _ground_z(rng: Rng, todo: Plan, body: Housing) -> float:
    """Just under housing and wires that lie on it, else well below."""
    overall, _ = WIRE_MM[todo.awg]
    if todo.hold == "lie":
        return min(-body.high / 2 - 0.8, -overall / 2 - 0.3)
    return -rng.uniform(18, 45)


def _add_wires(
    rng: Rng,
    todo: Plan,
    poles: Sequence[Pole],
    x: float,
    ground_z: float,
    metal: Material,
    copper: Material,
) -> None:
    """Cups and wires, which fan out; x: where the housing begins."""
    fan = rng.uniform(-0.3, 0.3)
    colours = rng.permutation(len(materials.INSULATION))
    rough = rng.uniform(0.33, 0.55)
    for i, pole in enumerate(poles):
        add_mesh("cup", cup_mesh(pole), metal, sharp_deg=50)
        add_mesh("root", root_mesh(pole, x), metal, sharp_deg=35)
        if pole.collar:
            add_mesh("collar", collar_mesh(pole, x), metal, sharp_deg=35)
        away, aside = -rng.uniform(55, 75), pole.y * rng.uniform(1, 2.2) + fan * 50
        up = ground_z + pole.overall / 2 if todo.hold == "lie" else rng.uniform(-15, 3)
        far: Vector3 = (away, aside, up)
        rubber = materials.insulation(materials.INSULATION[colours[i]], rough)
        add_mesh("strands", strand_mesh(rng, pole), copper)
        add_mesh("core", core_mesh(pole), copper)
        add_mesh("insulation", insulation_mesh(rng, pole, far), rubber, sharp_deg=55)


def _add_solder(
    rng: Rng,
    poles: Sequence[Pole],
    bridge: Bridge | None,
    bright: Material,
    cold: Material | None,
) -> None:
    if bridge:
        for body in solder_bodies(rng, poles, bridge):
            add_mesh("solder", body, bright)
        return
    for material, dull in ((bright, False), (cold, True)):
        chosen = [pole for pole in poles if (pole.fault == "surface") == dull]
        for body in solder_bodies(rng, chosen):
            add_mesh("solder", body, material)
