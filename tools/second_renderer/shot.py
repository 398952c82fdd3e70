"""Everything that is drawn for a photo before its meshes: connector, joints, camera."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .fields import Rng
from .joint import WIRE_MM, Cup, Joint, sound_joint
from .plan import Plan, plan
from .spoil import bridged, spoil

COLOURS = {
    "red": 0.24,
    "black": 0.24,
    "blue": 0.1,
    "yellow": 0.09,
    "white": 0.07,
    "green": 0.07,
    "orange": 0.07,
    "grey": 0.04,
    "brown": 0.04,
    "violet": 0.04,
}  # of the insulation, with their shares
PAIR = ("red", "black")  # of many connectors with two poles
# what can be seen, or happen, in a cup that is cut away alone
CUT_AWAY_ONLY = {
    ("solder-fill", "front"),
    ("solder-fill", "back"),
    ("solder-fill", "low"),
    ("wetting", "one-side"),
    ("surface", "hole"),
    ("surface", "crack"),
    ("seating", "short"),
}


@dataclass(frozen=True, slots=True)
class Connector:
    """One to three poles a pitch (D) apart that share a cup; loose: a contact without housing."""

    poles: int
    pitch: float
    cup: Cup
    loose: bool


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo before its meshes; bad: the joint with the defect, of a bridge the first."""

    plan: Plan
    connector: Connector
    wire_awg: int
    joints: tuple[Joint, ...]
    bad: int


@dataclass(frozen=True, slots=True)
class View:
    """Where the camera stands and how it is set.

    target (3,): the point that it is aimed at. distance: from there. azimuth, tilt: of the way
    to it, tilt off the vertical; roll about the line of sight. d_px: D in pixels at the target.
    shift (2,): of the picture, in its widths. blur_px: of far things. off: focus beyond the target.
    """

    target: tuple[float, float, float]
    distance: float
    azimuth: float
    roll: float
    tilt: float
    d_px: float
    shift: tuple[float, float]
    blur_px: float
    off: float


def draw_shot(number: int) -> tuple[Shot, Rng]:
    """Photo `number` before its meshes, and the generator from which the rest is to be drawn."""
    todo = plan(number)
    rng = np.random.default_rng(todo.seed)
    connector = _draw_connector(rng, todo)
    wire_awg = int(rng.choice(list(WIRE_MM)))
    if todo.check == "spike":  # thick wires' spikes would leave the picture
        wire_awg = int(rng.choice([12, 14, 16, 18, 20]))
    joints = _draw_joints(rng, connector, wire_awg)
    bridge = todo.check == "bridge"
    bad = int(rng.integers(connector.poles - 1 if bridge else connector.poles))
    if bridge:
        joints = bridged(joints, bad, connector.pitch)
    elif todo.kind == "bad":
        spoilt = spoil(rng, joints[bad], todo.check, todo.variant)
        joints = (*joints[:bad], spoilt, *joints[bad + 1 :])
    return Shot(todo, connector, wire_awg, joints, bad), rng


def _draw_connector(rng: Rng, todo: Plan) -> Connector:
    bridge = todo.check == "bridge"
    poles = int(rng.choice([1, 2, 3], p=[0.42, 0.38, 0.2]))
    if bridge:
        poles = int(rng.choice([2, 3], p=[0.7, 0.3]))
    scoop = bool(rng.random() < 0.6) or (todo.check, todo.variant) in CUT_AWAY_ONLY
    outer = rng.uniform(0.42, 0.55)
    if todo.check in {"wetting", "solder-fill"} or todo.variant in {"hole", "crack"}:
        outer = rng.uniform(0.5, 0.56)  # room to see what is missing
    depth = rng.uniform(1.1, 2.0)
    cup = Cup(
        kind="scoop" if scoop else "closed",
        outer=outer,
        inner=outer * 0.8,
        depth=depth,
        run=depth * (rng.uniform(0.72, 0.88) if scoop else 0.9),
        half_opening=np.radians(rng.uniform(68, 92)),
        curve=rng.uniform(2.5, 6),
        lobes=int(rng.integers(14, 22)),
        roll=np.radians(rng.uniform(-18, 18)),
    )
    pitch = rng.uniform(max(1.25, 2 * outer + 0.22), 1.6 if bridge else 2.2)
    loose = poles == 1 and bool(rng.random() < 0.4)
    return Connector(poles, pitch, cup, loose)


def _draw_joints(rng: Rng, connector: Connector, wire_awg: int) -> tuple[Joint, ...]:
    """Sound joints at all poles; the wires fan out and are made alike."""
    first = sound_joint(rng, wire_awg, connector.cup)
    bend, heading = rng.normal(0, 0.35), rng.normal(0, 0.03)
    names, shares = list(COLOURS), list(COLOURS.values())
    paired = connector.poles == len(PAIR) and first.seed % 2
    joints = []
    for i in range(connector.poles):
        joint = sound_joint(rng, wire_awg, connector.cup)
        off = i - (connector.poles - 1) / 2
        colour = names[rng.choice(len(names), p=shares)]
        joint = replace(
            joint,
            tinned=first.tinned,
            twist=first.twist,
            y=off * connector.pitch,
            heading=heading - 0.06 * off,
            bend=bend - 0.25 * off,
            colour=PAIR[i] if paired else colour,
        )
        joints.append(joint)
    return tuple(joints)


def draw_view(rng: Rng, shot: Shot, size: tuple[int, int]) -> View:
    """The camera for a photo of (width, height) pixels, from above, every way up."""
    left = -max(joint.gap for joint in shot.joints) - 0.5
    right = shot.connector.cup.depth
    wide = (shot.connector.poles - 1) * shot.connector.pitch + 1.2
    share = rng.uniform(0.27, 0.5)
    d_px = float(np.clip(size[0] * share / max(right - left, wide), 50, 150))
    tilt = np.radians(rng.uniform(0, 35))
    shift = rng.uniform(-0.06, 0.06, 2)
    blur_px, off = rng.uniform(0.8, 2.5), rng.uniform(-0.4, 0.1)
    if shot.plan.hindrance == "defocused":
        blur_px, off = rng.uniform(5, 9), rng.choice([-1, 1]) * rng.uniform(3, 5)
    if shot.plan.hindrance == "half-out":
        shift = rng.choice([-1, 1], 2) * rng.uniform(0.42, 0.48, 2)
        if rng.random() < 0.6:  # over one edge rather than over a corner
            shift[rng.integers(2)] *= 0.2
        shift = shift * [1, size[1] / size[0]]
    distance = rng.uniform(22, 38)
    azimuth, roll = rng.uniform(0, 2 * np.pi, 2)
    target = ((left + right) / 2, 0.0, 0.0)
    return View(target, distance, azimuth, roll, tilt, d_px, tuple(shift), blur_px, off)
