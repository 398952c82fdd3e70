"""A connector: one to three joints side by side in a housing, or a loose contact."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import materials, part as P, sample
from .extras import neck
from .joint import JointModel, build
from .mesh import Array, extrude, merge, noise3, revolve, tube
from .part import Material, Part

Rng = np.random.Generator


@dataclass(frozen=True)
class Connector:
    """Joints with all their parts, in one coordinate system; `low` is its lowest z."""

    joints: tuple[JointModel, ...]
    parts: tuple[Part, ...]
    low: float
    planted: tuple[tuple[int, str, str, float, Array], ...]  # joint, check, name, size, where


def _outline(rng: Rng, half_y: float, half_z: float, look: str) -> Array:
    """Outline of a housing's face in (y, z): a rounded box, an oval, an eight or a keyed box."""
    t = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    kind = str(
        rng.choice(
            ["box", "oval", "waist", "keyed"] if look != "test" else ["box", "hex", "keyed", "flat"]
        )
    )
    power = {
        "box": rng.uniform(5, 12),
        "keyed": rng.uniform(6, 12),
        "oval": 2.2,
        "waist": 3.0,
        "hex": 4.0,
        "flat": 8.0,
    }[kind]
    c, s = np.cos(t), np.sin(t)
    r = (np.abs(c) ** power + np.abs(s) ** power) ** (-1 / power)
    y, z = half_y * r * c, half_z * r * s
    if kind == "waist":
        z = z * (1 - 0.16 * np.exp(-((y / (0.35 * half_y)) ** 2)))
    if kind == "keyed":
        cut = half_y * rng.uniform(0.7, 0.85)
        z = np.where(y > cut, np.clip(z, -half_z * 0.6, half_z * 0.6), z)
    if kind == "hex":
        z = np.clip(z, -half_z * 0.95, half_z * 0.95) * (1 - 0.3 * (np.abs(y) / half_y) ** 3)
    if kind == "flat":
        z = np.maximum(z, -0.7 * half_z)
    return np.column_stack([y, z])


def _housing(rng: Rng, look: str, places: Array, cup: object, melted: bool) -> list[Part]:
    """Block behind the cups, sometimes with a collar or ribs; marks CHAR where it melted."""
    plastic = materials.plastic(rng, look)
    radius = cup.outer  # type: ignore[attr-defined]
    face = cup.depth * rng.uniform(0.55, 1.05) + 0.05  # type: ignore[attr-defined]
    length = radius * rng.uniform(3, 7)
    span = np.abs(places[:, 0]).max() + radius * rng.uniform(1.4, 2.0)
    half_z = np.abs(places[:, 1]).max() + radius * rng.uniform(1.38, 2.1)
    outline = _outline(rng, span, half_z, look)
    meshes = [extrude(outline, face, face + length, 0.12 * radius)]
    if rng.random() < 0.4:  # a step: a thicker nose
        meshes.append(
            extrude(
                outline * rng.uniform(1.06, 1.22),
                face + length * rng.uniform(0.2, 0.5),
                face + length * rng.uniform(0.9, 1.3),
                0.1 * radius,
            )
        )
    for k in range(int(rng.integers(0, 4))):  # ribs for the thumb
        x = face + length * (0.25 + 0.13 * k)
        meshes.append(extrude(outline * 1.03, x, x + 0.25 * radius, 0.05 * radius))
    for y, z in places:
        if rng.random() < 0.5:  # a collar round each contact
            r = radius * rng.uniform(1.15, 1.3)
            v, f = revolve(
                np.array([face - 0.3 * radius, face - 0.3 * radius, face + 0.1]),
                np.array([radius * 1.02, r, r]),
            )
            meshes.append((v + np.array([0, y, z]), f))
    v, f = merge(*meshes)
    colors = np.clip(
        np.array(plastic.rgb) * (1 + 0.04 * noise3(v, int(rng.integers(1 << 30)), 3.0)[:, None]),
        0.003,
        0.9,
    )
    marks = np.zeros(len(f), np.uint16)
    if melted:
        y, z = places[rng.integers(len(places))]
        seed = int(rng.integers(1 << 30))
        distance = np.hypot(v[:, 1] - y, v[:, 2] - z) + np.abs(v[:, 0] - face)
        burn = np.clip((radius * rng.uniform(1.6, 2.6) - distance) / radius, 0, 1)
        v = v + burn[:, None] * 0.35 * radius * np.stack(
            [noise3(v, seed + k, radius, 2) for k in range(3)], -1
        )
        colors = (
            colors * (1 - 0.75 * burn[:, None])
            + np.array([0.03, 0.02, 0.01]) * 0.75 * burn[:, None]
        )
        marks |= np.where(burn[f].mean(axis=1) > 0.35, P.CHAR, 0).astype(np.uint16)
    return [
        Part(
            "housing",
            v.astype(np.float32),
            f,
            P.HOUSING,
            plastic,
            colors=colors.astype(np.float32),
            marks=marks,
        )
    ]


def _translation(y: float, z: float) -> Array:
    m = np.eye(4)
    m[1:3, 3] = y, z
    return m


def _roll(angle: float) -> Array:
    m = np.eye(4)
    c, s = np.cos(angle), np.sin(angle)
    m[1:3, 1:3] = [[c, -s], [s, c]]
    return m


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
) -> Connector:
    """A connector with its wires. defects: names for each pole; "bridge", "near-bridge" and
    "melted-housing" belong to the whole and stand under the pole they start from.
    """
    aside = rng.spawn(1)[0]  # draws of its own, so that the other draws stay what they were
    lean = np.clip(aside.normal(0, 0.11, 2), -0.28, 0.28) * askew * (aside.random() < 0.7)
    first = sample.sound(rng, look)
    metal, cup = first.metal, first.cup
    pitch = 2 * cup.outer * float(rng.uniform(1.25, 2.1)) + (
        first.d_mm - 2 * cup.outer if first.d_mm > 2 * cup.outer * 1.2 else 0
    )
    pitch = max(pitch, first.d_mm * 1.02)
    if poles == 3 and rng.random() < 0.3:
        places = pitch * np.array([[-0.5, -0.29], [0.5, -0.29], [0.0, 0.58]])
    else:
        places = pitch * np.stack([np.arange(poles) - (poles - 1) / 2, np.zeros(poles)], -1)
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
        names = tuple(n for n in defects[k] if n in sample.DEFECTS)
        spec = replace(spec, wire_length_mm=float(rng.uniform(*wire_mm)), twin=twin and k == 0)
        spec = replace(spec, lean=tuple(float(a) for a in lean + aside.normal(0, 0.02, 2) * askew))  # type: ignore[arg-type]
        if sleeve == "over":
            reach = spec.gap_mm + cup.depth * float(rng.uniform(0.9, 1.4))
            spec = replace(spec, sleeve_mm=(-reach, reach + spec.d_mm * float(rng.uniform(0.8, 3))))
        elif sleeve == "back" and rng.random() < 0.7:
            spec = replace(
                spec,
                sleeve_mm=(
                    spec.d_mm * float(rng.uniform(1.2, 4)),
                    spec.d_mm * float(rng.uniform(2, 5)),
                ),
            )
        spec = sample.with_defects(rng, spec, names)
        floor = max(low - z, -cup.outer * 1.6) + spec.d_mm / 2 if on_bench else -1e3
        floor = min(floor, spec.offset[1])
        model = build(spec, rng, floor).moved(_translation(y, z) @ _roll(roll))
        model = replace(model, parts=tuple(replace(p, joint=k + 1) for p in model.parts))
        joints.append(model)
        planted += [(k + 1, p.check, p.name, p.size, model.lip) for p in spec.planted]
    flat = [n for names in defects for n in names]
    if housed:
        parts += _housing(rng, look, places, cup, "melted-housing" in flat)
        if "melted-housing" in flat:
            planted.append((1, "insulation-damage", "melted housing", 1.0, joints[0].lip))
    if poles > 1 and ("bridge" in flat or "near-bridge" in flat):
        k = int(rng.integers(poles - 1))
        x = float(rng.uniform(-0.1, 0.7)) * cup.depth
        a = np.array([x, *places[k]]) + [0, 0, cup.outer * 0.3]
        b = np.array([x + rng.normal(0, 0.3), *places[k + 1]]) + [0, 0, cup.outer * 0.3]
        solder = joints[k].spec.solder
        r = cup.outer * float(rng.uniform(0.35, 0.8))
        if "bridge" in flat:
            mesh = neck(
                a, b, r, r * float(rng.uniform(0.7, 1.2)), r * float(rng.uniform(0.12, 0.8))
            )
            inner = (
                np.linalg.norm((mesh[0][mesh[1]].mean(axis=1) - (a + b) / 2), axis=1)
                < np.linalg.norm(b - a) / 2 - cup.outer * 0.7
            )
            marks = np.where(inner, P.BRIDGE | P.SURPLUS, P.SURPLUS).astype(np.uint16)
            parts.append(
                Part(
                    "bridge",
                    mesh[0].astype(np.float32),
                    mesh[1],
                    P.SOLDER,
                    solder,
                    marks=marks,
                    joint=k + 1,
                )
            )
            planted.append((k + 1, "bridge", "bridge", 0.0, (a + b) / 2))
        else:
            u = float(rng.uniform(0.55, 0.8))
            for p, q, j in ((a, b, k), (b, a, k + 1)):
                path = p + np.linspace(0, u * 0.55, 24)[:, None] * (q - p)
                radius = r * np.sqrt(np.clip(1 - (np.linspace(0, 1, 24) ** 3), 0.002, 1))
                v, f = tube(path, radius, 24)
                parts.append(
                    Part(
                        "near bridge",
                        v.astype(np.float32),
                        f,
                        P.SOLDER,
                        joints[j].spec.solder,
                        marks=np.full(len(f), P.SURPLUS, np.uint16),
                        joint=j + 1,
                    )
                )
            planted.append((k + 1, "bridge", "near bridge", 1.0, (a + b) / 2))
    everything = [p for j in joints for p in j.parts] + parts
    low_z = min(float(p.vertices[:, 2].min()) for p in everything if p.label != P.INSULATION)
    return Connector(tuple(joints), tuple(parts), low_z, tuple(planted))


__all__ = ["Connector", "Material", "make"]
