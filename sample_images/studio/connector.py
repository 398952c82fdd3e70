"""A connector: one to three joints side by side in a housing, or a loose contact."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import part as pt, sample
from .defects import DEFECTS, with_defects
from .extras import neck
from .housing import housing
from .joint import JointModel, build
from .mesh import Array, tube
from .part import Material, Part, as_part
from .spec import JointSpec

Rng = np.random.Generator


Plant = tuple[int, str, str, float, Array]  # joint, check, name, size, where


@dataclass(frozen=True)
class Connector:
    """Joints with all their parts, in one coordinate system; `low` is its lowest z."""

    joints: tuple[JointModel, ...]
    parts: tuple[Part, ...]
    low: float
    planted: tuple[Plant, ...]


def _translation(y: float, z: float) -> Array:
    m = np.eye(4)
    m[1:3, 3] = y, z
    return m


def _roll(angle: float) -> Array:
    m = np.eye(4)
    c, s = np.cos(angle), np.sin(angle)
    m[1:3, 1:3] = [[c, -s], [s, c]]
    return m


def _between_poles(
    rng: Rng, joints: list[JointModel], places: Array, *, whole: bool
) -> tuple[list[Part], Plant]:
    """A bridge from one pole to the next, or two halves that almost meet."""
    cup = joints[0].spec.cup
    k = int(rng.integers(len(places) - 1))
    x = float(rng.uniform(-0.1, 0.7)) * cup.depth
    a = np.array([x, *places[k]]) + [0, 0, cup.outer * 0.3]
    b = np.array([x + rng.normal(0, 0.3), *places[k + 1]]) + [0, 0, cup.outer * 0.3]
    middle = (a + b) / 2
    r = cup.outer * float(rng.uniform(0.35, 0.8))
    if whole:
        v, f = neck(a, b, r, r * float(rng.uniform(0.7, 1.2)), r * float(rng.uniform(0.12, 0.8)))
        from_middle = np.linalg.norm(v[f].mean(axis=1) - middle, axis=1)
        inner = from_middle < np.linalg.norm(b - a) / 2 - cup.outer * 0.7
        marks = np.where(inner, pt.BRIDGE | pt.SURPLUS, pt.SURPLUS).astype(np.uint16)
        part = as_part("bridge", (v, f), pt.SOLDER, joints[k].spec.solder, marks=marks, joint=k + 1)
        return [part], (k + 1, "bridge", "bridge", 0.0, middle)
    u = float(rng.uniform(0.55, 0.8))
    halves = []
    for p, q, j in ((a, b, k), (b, a, k + 1)):
        path = p + np.linspace(0, u * 0.55, 24)[:, None] * (q - p)
        radius = r * np.sqrt(np.clip(1 - (np.linspace(0, 1, 24) ** 3), 0.002, 1))
        v, f = tube(path, radius, 24)
        marks = np.full(len(f), pt.SURPLUS, np.uint16)
        solder = joints[j].spec.solder
        halves.append(as_part("near bridge", (v, f), pt.SOLDER, solder, marks=marks, joint=j + 1))
    return halves, (k + 1, "bridge", "near bridge", 1.0, middle)


def _sleeved(rng: Rng, spec: JointSpec, sleeve: str) -> JointSpec:
    """With a sleeve over the joint, or slid back on the wire now and then."""
    if sleeve == "over":
        reach = spec.gap_mm + spec.cup.depth * float(rng.uniform(0.9, 1.4))
        long = reach + spec.d_mm * float(rng.uniform(0.8, 3))
        return replace(spec, sleeve_mm=(-reach, long))
    if sleeve == "back" and rng.random() < 0.7:
        at = spec.d_mm * float(rng.uniform(1.2, 4))
        return replace(spec, sleeve_mm=(at, spec.d_mm * float(rng.uniform(2, 5))))
    return spec


def _places(rng: Rng, poles: int, first: JointSpec) -> Array:
    """Where the contacts stand, (poles, 2) in (y, z): in a row, or three in a triangle."""
    cup = first.cup
    wide = first.d_mm - 2 * cup.outer if first.d_mm > 2 * cup.outer * 1.2 else 0
    pitch = max(2 * cup.outer * float(rng.uniform(1.25, 2.1)) + wide, first.d_mm * 1.02)
    if poles == 3 and rng.random() < 0.3:
        return pitch * np.array([[-0.5, -0.29], [0.5, -0.29], [0.0, 0.58]])
    return pitch * np.stack([np.arange(poles) - (poles - 1) / 2, np.zeros(poles)], -1)


def make(
    rng: Rng,
    look: str,
    poles: int,
    defects: tuple[tuple[str, ...], ...],
    *,
    housed: bool,
    on_bench: bool,
    wire_mm: tuple[float, float] = (18, 70),
    sleeve: str = "",
    twin: bool = False,
    askew: bool = False,
    tinned: bool = False,
) -> Connector:
    """A connector with its wires.

    defects: names for each pole; "bridge", "near-bridge" and "melted-housing" belong to the whole
    and stand under the pole they start from. tinned: terminals dipped in the solder of the joints,
    so that an under-filled cup's bare wall looks as its solder does.
    """
    aside = rng.spawn(1)[0]  # draws of its own, so that the other draws stay what they were
    lean = np.clip(aside.normal(0, 0.11, 2), -0.28, 0.28) * askew * (aside.random() < 0.7)
    first = sample.sound(rng, look)
    metal = replace(first.solder, name="terminal-tinned") if tinned else first.metal
    cup = first.cup
    places = _places(rng, poles, first)
    colours = list(
        rng.permutation(
            ["black", "red", "white", "orange", "yellow", "green", "blue", "grey", "brown"]
        )
    )
    if poles == 2 and rng.random() < 0.6:
        colours[:2] = ["red", "black"]
    half = np.abs(places[:, 1]).max() + cup.outer * 1.6
    low = -half if housed else -cup.outer * 1.25
    roll = 0.0 if rng.random() < 0.75 else float(rng.normal(0, 0.5))
    joints, parts, planted = [], [], []
    for k, (y, z) in enumerate(places):
        spec = sample.sound(
            rng,
            look,
            awg=first.awg,
            cup=cup,
            metal=metal,
            colour=colours[k] if rng.random() < 0.8 else None,
        )
        names = tuple(n for n in defects[k] if n in DEFECTS)
        spec = replace(spec, wire_length_mm=float(rng.uniform(*wire_mm)), twin=twin and k == 0)
        spec = replace(spec, lean=tuple(float(a) for a in lean + aside.normal(0, 0.02, 2) * askew))  # type: ignore[arg-type]
        spec = _sleeved(rng, spec, sleeve)
        spec = replace(spec, solder=first.solder) if tinned else spec
        spec = with_defects(rng, spec, names)
        floor = max(low - z, -cup.outer * 1.6) + spec.d_mm / 2 if on_bench else -1e3
        floor = min(floor, spec.offset[1])
        model = build(spec, rng, floor).moved(_translation(y, z) @ _roll(roll))
        model = replace(model, parts=tuple(replace(p, joint=k + 1) for p in model.parts))
        joints.append(model)
        planted += [(k + 1, p.check, p.name, p.size, model.lip) for p in spec.planted]
    flat = [n for names in defects for n in names]
    if housed:
        parts += housing(rng, look, places, cup, melted="melted-housing" in flat)
        if "melted-housing" in flat:
            planted.append((1, "insulation-damage", "melted housing", 1.0, joints[0].lip))
    if poles > 1 and ("bridge" in flat or "near-bridge" in flat):
        made, entry = _between_poles(rng, joints, places, whole="bridge" in flat)
        parts += made
        planted.append(entry)
    everything = [p for j in joints for p in j.parts] + parts
    low_z = min(float(p.vertices[:, 2].min()) for p in everything if p.label != pt.INSULATION)
    return Connector(tuple(joints), tuple(parts), low_z, tuple(planted))


__all__ = ["Connector", "Material", "make"]
