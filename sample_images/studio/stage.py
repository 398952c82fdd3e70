"""What stands where: connectors on the bench or held, and the camera that looks at them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import connector, part as pt, props
from .defects import DEFECTS
from .joint import JointModel
from .part import Part
from .request import Request
from .view import Camera, looking

Rng = np.random.Generator
Array = NDArray[np.float64]


APART = ("unsoldered", "loose-bead")  # drawn by themselves, so that other poles stay as they were
WITHOUT_SOLDER = ("stray", "long-gap", "birdcage", "char", "melted")  # what may be wrong besides
FACING = 0.5  # of the photos, in which the cup's open side is turned to the camera; ours, no source
TRIES = 5
CLUSTERS = ("bridge", "near-bridge", "melted-housing")


SELDOM_SHOWN = {"holes": 4.0, "spike": 2.5, "dry": 2.0, "unseated": 3.5, "underfill": 3.5}
HOW_MANY = {False: (0.62, 0.28, 0.10), True: (0.25, 0.45, 0.30)}  # one, two or three


def draw_defects(
    rng: Rng, poles: int, share_bad: float, *, several: bool = False
) -> tuple[tuple[str, ...], ...]:
    """Names of defects per pole; each pole is bad with probability share_bad, mostly by one."""
    names = [name for name in DEFECTS if name not in APART]
    weights = np.array(
        [
            2.2
            if n == "stray"
            else 1.4
            if n in ("dry", "underfill", "excess", "spike", "holes", "char", "unseated")
            else 0.9
            for n in names
        ]
    )
    if several:  # for training: of these few show
        weights *= [SELDOM_SHOWN.get(n, 1.0) for n in names]
    out = []
    for k in range(poles):
        if rng.random() > share_bad:
            out.append(())
            continue
        count = int(rng.choice([1, 2, 3], p=HOW_MANY[several]))
        chosen = list(rng.choice(names, count, replace=False, p=weights / weights.sum()))
        for a, b in (
            ("long-gap", "embed"),
            ("excess", "underfill"),
            ("excess", "beaded"),
            ("birdcage", "embed"),
            ("excess", "dry"),
            ("beaded", "underfill"),
        ):
            if a in chosen and b in chosen:
                chosen.remove(b)
        if k == 0 and poles > 1 and rng.random() < 0.3:
            chosen.append(str(rng.choice(CLUSTERS)))
        out.append(tuple(map(str, chosen)))
    return tuple(out)


def _pose(yaw: float, pitch: float, roll: float, at: Array) -> Array:
    cy, sy, cp, sp, cr, sr = (
        np.cos(yaw),
        np.sin(yaw),
        np.cos(pitch),
        np.sin(pitch),
        np.cos(roll),
        np.sin(roll),
    )
    m = np.eye(4)
    m[:3, :3] = (
        np.array([[cy, -sy, 0], [sy, cy, 0], [0, 0, 1]])
        @ np.array([[cp, 0, sp], [0, 1, 0], [-sp, 0, cp]])
        @ np.array([[1, 0, 0], [0, cr, -sr], [0, sr, cr]])
    )
    m[:3, 3] = at
    return m


def _of_each_pole(
    rng: Rng, ask: Request, connector_number: int, poles: int
) -> tuple[tuple[str, ...], ...]:
    """Names of defects for each pole of a connector: those asked for, or drawn."""
    defects = (
        ask.defects
        if ask.defects is not None and connector_number == 0
        else draw_defects(rng, poles, ask.share_bad, several=ask.several)
    )
    defects = (defects + ((),) * poles)[:poles]
    if ask.share_stray > 0:  # the rarest pixels of all: training needs more of them
        defects = tuple(
            d if "stray" in d or rng.random() > ask.share_stray else ("stray", *d) for d in defects
        )
    if ask.share_apart > 0:
        own = np.random.default_rng([ask.seed, 5, connector_number])
        drawn = (own.random(poles) / ask.share_apart).astype(int)
        defects = tuple(
            (APART[k], *(n for n in names if n in WITHOUT_SOLDER)) if k < len(APART) else names
            for names, k in zip(defects, drawn, strict=True)
        )
    return defects


def stage(rng: Rng, ask: Request) -> tuple[list[JointModel], list[Part], list[dict[str, Any]]]:
    """Connectors on the bench or held, in world coordinates, joints numbered through."""
    joints: list[JointModel] = []
    parts: list[Part] = []
    planted: list[dict[str, Any]] = []
    extra = (
        0
        if ask.plain or ask.fate in ("cropped", "covered", "two-wires")
        else int(rng.choice([0, 1, 2], p=[0.66, 0.25, 0.09]))
    )
    at, held = np.zeros(3), rng.random() < 0.22
    for k in range(1 + extra):
        poles = (
            ask.poles if ask.poles and k == 0 else int(rng.choice([1, 2, 3], p=[0.42, 0.4, 0.18]))
        )
        defects = _of_each_pole(rng, ask, k, poles)
        housed = poles > 1 or rng.random() < 0.45
        sleeve = "over" if ask.fate == "sleeved" else str(rng.choice(["", "back"], p=[0.8, 0.2]))
        wide = ask.width / ask.d_px * 4.0
        made = connector.make(
            rng,
            ask.look,
            poles,
            defects,
            housed=housed,
            on_bench=not held,
            sleeve=sleeve,
            wire_mm=(0.35 * wide + 10, 0.9 * wide + 25),
            twin=ask.fate == "two-wires",
            askew=not ask.plain,
            tinned=np.random.default_rng([ask.seed, 6, k]).random() < ask.share_tinned,
        )
        yaw, roll = (
            float(rng.uniform(0, 2 * np.pi)),
            float(
                rng.choice(
                    [rng.normal(0, 0.2), rng.normal(0, 0.55), rng.uniform(-2.2, 2.2)],
                    p=[0.55, 0.33, 0.12],
                )
            ),
        )
        pitch = float(rng.normal(0, 0.02))
        if held:
            pitch, roll = float(rng.normal(0, 0.16)), float(rng.normal(0, 0.5))
            lift = float(rng.uniform(10, 38))
        else:
            lift = 0.02
        if k:
            angle, far = rng.uniform(0, 2 * np.pi), rng.uniform(14, 34)
            at = np.array([far * np.cos(angle), far * np.sin(angle), 0.0])
        turn = _pose(yaw, pitch, roll, np.zeros(3))
        solid = np.concatenate(
            [
                p.vertices[:: max(1, len(p.vertices) // 400)]
                for p in made.parts
                + tuple(q for j in made.joints for q in j.parts if q.label != pt.INSULATION)
            ]
        )
        low = float((solid @ turn[:3, :3].T)[:, 2].min())
        if k:  # no connector may stand in another
            mine = solid @ turn[:3, :3].T + at
            theirs = np.concatenate([p.vertices[:: max(1, len(p.vertices) // 200)] for p in parts])
            gap = np.abs(mine[::5, None, :2] - theirs[None, ::3, :2]).max(axis=2).min()
            if gap < 1.0:
                continue
        pose = _pose(yaw, pitch, roll, at + [0, 0, lift - low])
        first = len(joints)
        for model in made.joints:
            moved = model.moved(pose)
            number = len(joints) + 1
            joints.append(
                replace(moved, parts=tuple(replace(p, joint=number) for p in moved.parts))
            )
            parts += joints[-1].parts
        parts += [
            replace(p.moved(pose), joint=p.joint + first if p.joint else 0) for p in made.parts
        ]
        for j, check, name, size, where in made.planted:
            planted.append(
                {
                    "joint": first + j,
                    "check": check,
                    "name": name,
                    "size": size,
                    "where": (pose[:3, :3] @ where + pose[:3, 3]),
                }
            )
        if held and k == 0:
            model = joints[0]
            back = -model.axis
            grip = model.end + back * rng.uniform(14, 34)
            holder = [props.hand, props.clip, props.vice][int(rng.choice(3, p=[0.5, 0.35, 0.15]))]
            parts += holder(rng, grip, back, model.spec.d_mm / 2)
    return joints, parts, planted


def _direction(off: float, azimuth: float) -> Array:
    """Unit vector at an angle off the vertical, toward an azimuth (radians)."""
    return np.array([np.sin(off) * np.cos(azimuth), np.sin(off) * np.sin(azimuth), np.cos(off)])


def _facing(rng: Rng, up: Array) -> Array:
    """The direction, of a few within 50 degrees of the vertical, that sees most of an opening."""
    offs = np.arccos(rng.uniform(np.cos(np.radians(50)), 1, TRIES))
    found = [_direction(*pair) for pair in zip(offs, rng.uniform(0, 2 * np.pi, TRIES), strict=True)]
    return max(found, key=lambda one: float(one @ up))


def camera_for(rng: Rng, ask: Request, joints: list[JointModel]) -> Camera:
    """Where the phone is held: off square by up to 50 degrees, mostly across the wire."""
    subject = joints[int(rng.integers(min(len(joints), 2)))] if joints else None
    middle = (subject.end + subject.lip) / 2 if subject is not None else np.array([0, 0, 3.0])
    d_mm = subject.spec.d_mm if subject is not None else float(rng.uniform(1.8, 6))
    off = (
        rng.uniform(55, 75)
        if ask.fate == "tilt"
        else np.degrees(np.arccos(rng.uniform(np.cos(np.radians(50)), 1)))
    )
    azimuth = rng.uniform(0, 2 * np.pi)
    if subject is not None and ask.fate == "tilt":
        back = np.arctan2(-subject.axis[1], -subject.axis[0])
        azimuth = back + rng.choice([0, np.pi]) + rng.normal(0, 0.15)
    elif subject is not None and rng.random() < 0.6:  # people look across the wire, not along it
        azimuth = (
            np.arctan2(subject.axis[1], subject.axis[0])
            + rng.choice([-1, 1]) * np.pi / 2
            + rng.normal(0, 0.5)
        )
    distance = float(rng.uniform(70, 240))
    focal = ask.d_px * distance / d_mm
    least = 0.62 * max(ask.width, ask.height)
    if focal < least:
        distance *= least / focal
        focal = least
    direction = _direction(np.radians(off), azimuth)
    own = np.random.default_rng([ask.seed, 7])  # so that the other draws stay what they were
    if subject is not None and ask.fate != "tilt" and own.random() < FACING:
        direction = _facing(own, subject.up)
    position = middle + direction * distance
    roll = float(rng.uniform(0, 2 * np.pi))
    camera = looking(position, middle, roll, focal, ask.width, ask.height)
    room = np.array([ask.width, ask.height]) / 2 - 2.2 * ask.d_px
    if ask.fate == "cropped":
        edge = np.array([ask.width, ask.height]) / 2 + rng.uniform(-0.2, 0.3) * ask.d_px
        shift = rng.uniform(-0.5, 0.5, 2) * edge
        k = int(rng.integers(2))
        shift[k] = rng.choice([-1, 1]) * edge[k]
    else:
        shift = np.clip(rng.normal(0, 0.25, 2) * room, -0.8 * np.abs(room), 0.8 * np.abs(room))
    aim = middle + (camera.right * -shift[0] + camera.up * shift[1]) * distance / focal
    return looking(position, aim, roll, focal, ask.width, ask.height)
