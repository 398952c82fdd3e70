"""A shot put into Blender's scene: joints, what holds them, what lies under and beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from . import materials
from .blender import Label, Material, add_mesh, bpy
from .clutter import add_clutter
from .cups import cup_mesh, placed, sleeve_mesh
from .fields import Rng
from .grounds import GROUNDS, ground
from .housing import add_contact, add_housing
from .insulation import insulation_mesh
from .joint import Joint
from .lights import add_lamps, add_room
from .meshes import Mesh, tubes
from .shot import Shot
from .solder import bridge_mesh, solder_mesh
from .strands import core_mesh, strand_lines, strand_radius, stray_lines

PLANE = 90.0  # half side of the ground
STRAY_MM = 0.05  # radius of a straying strand; never under STRAY_LEAST, so that it can be seen
STRAY_LEAST = 0.012
PLATINGS = ("gold", "gold", "tin", "brass")


@dataclass(frozen=True, slots=True)
class _Metals:
    """The materials that all joints of a photo share."""

    terminal: Material
    solder: Material


def build_scene(rng: Rng, shot: Shot) -> tuple[Joint, ...]:
    """An empty scene filled with the shot; returns the joints as they lie in it, if any do."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    todo, connector = shot.plan, shot.connector
    show = todo.hindrance != "none"
    terminal = materials.terminal(rng, str(rng.choice(PLATINGS)))
    high = 0.5  # half the wire's own height
    if show and connector.loose:
        high = max(high, add_contact(rng, connector, terminal))
    elif show:
        high = max(high, add_housing(rng, connector))
    held = bool(rng.random() < 0.2)
    floor = -high - (rng.uniform(1.5, 6) if held else 0.0)
    metals = _Metals(terminal, materials.solder(rng, flux=float(rng.choice([0, 0, 0.5]))))
    joints = ()
    if show:
        sleeve = todo.hindrance == "sleeve"
        joints = tuple(
            replace(joint, floor=floor, rests=not held, sleeve=sleeve) for joint in shot.joints
        )
        for joint in joints:
            _add_joint(joint, metals)
    if todo.check == "bridge":
        at = rng.uniform(0.0, 0.4 * connector.cup.run)
        bridge = bridge_mesh(rng, (joints[shot.bad], joints[shot.bad + 1]), at)
        add_mesh("bridge", bridge, metals.solder, Label.SOLDER)
    _add_surroundings(rng, shot, joints, floor)
    return joints


def _add_surroundings(rng: Rng, shot: Shot, joints: Sequence[Joint], floor: float) -> None:
    """Clutter, ground, room and lamps."""
    half_width = (shot.connector.poles - 1) * shot.connector.pitch / 2 + 1.2
    amount = int(rng.choice([0, 1, 2, 3], p=[0.45, 0.25, 0.2, 0.1]))
    if joints:
        add_clutter(rng, floor, half_width, amount)
    else:  # nothing else to see
        add_clutter(rng, floor, -1.0, 6)
    corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0.0]]) * PLANE
    kind = GROUNDS[rng.integers(len(GROUNDS))]
    plane = Mesh(corners, np.array([[0, 1, 2, 3]]))
    sheet = add_mesh("ground", plane, ground(rng, kind), Label.GROUND)
    sheet.location = (rng.uniform(-3, 3), rng.uniform(-3, 3), floor)
    sheet.rotation_euler = (0, 0, rng.uniform(0, 6.28))
    add_room(rng)
    add_lamps(rng)


def _add_joint(joint: Joint, metals: _Metals) -> None:
    # a joint draws from its own seed, so that its neighbours' defects do not change it
    rng = np.random.default_rng(joint.seed)
    add_mesh("cup", cup_mesh(joint), metals.terminal, Label.METAL)
    char = (-joint.gap, joint.defect_size) if joint.variant == "char" else None
    cover = materials.insulation(rng, joint.colour, char)
    add_mesh("insulation", insulation_mesh(rng, joint), cover, Label.INSULATION)
    _add_conductor(rng, joint)
    if joint.check != "unsoldered":
        solder = solder_mesh(rng, joint)
        alloy = materials.cold_solder(rng) if joint.variant == "lumpy" else metals.solder
        add_mesh("solder", solder, alloy, Label.SOLDER)
    if joint.sleeve:
        sleeve = sleeve_mesh(rng, joint)
        add_mesh("sleeve", sleeve, materials.sleeve(rng), Label.SLEEVE)


def _add_conductor(rng: Rng, joint: Joint) -> None:
    if joint.tinned:
        metal = materials.tinned_strands(rng)
    else:
        metal = materials.copper_strands(rng, _silvery(joint))
    bundle = placed(joint, tubes(strand_lines(rng, joint), strand_radius(joint)))
    add_mesh("strands", bundle, metal, Label.CONDUCTOR, sharp_deg=0)
    add_mesh("core", placed(joint, core_mesh(joint)), metal, Label.CONDUCTOR)
    if joint.strays_mm:
        radius = max(STRAY_MM / joint.overall_mm, STRAY_LEAST)
        strays = placed(joint, tubes(stray_lines(rng, joint), radius))
        add_mesh("stray", strays, metal, Label.STRAY, sharp_deg=0)


def _silvery(joint: Joint) -> tuple[float, float] | None:
    """The x up to which solder made bare strands silvery, and that from which they are copper."""
    if joint.check == "unsoldered":
        return None
    if joint.variant == "bead":
        return -0.6, -0.75
    if joint.check == "birdcage":
        return -joint.fillet, -joint.fillet - 0.1
    return -joint.fillet - 0.5 * joint.wick, -joint.fillet - joint.wick - 0.2
