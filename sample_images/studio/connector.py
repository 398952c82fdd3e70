"""A connector: one to three joints side by side in a housing, or a loose contact."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import part as P, sample
from .defects import DEFECTS, with_defects
from .extras import neck
from .housing import housing
from .joint import JointModel, build
from .mesh import Array, tube
from .part import Material, Part

Rng = np.random.Generator


@dataclass(frozen=True)
class Connector:
    """Joints with all their parts, in one coordinate system; `low` is its lowest z."""

    joints: tuple[JointModel, ...]
    parts: tuple[Part, ...]
    low: float
    planted: tuple[tuple[int, str, str, float, Array], ...]  # joint, check, name, size, where


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
        names = tuple(n for n in defects[k] if n in DEFECTS)
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
        spec = with_defects(rng, spec, names)
        floor = max(low - z, -cup.outer * 1.6) + spec.d_mm / 2 if on_bench else -1e3
        floor = min(floor, spec.offset[1])
        model = build(spec, rng, floor).moved(_translation(y, z) @ _roll(roll))
        model = replace(model, parts=tuple(replace(p, joint=k + 1) for p in model.parts))
        joints.append(model)
        planted += [(k + 1, p.check, p.name, p.size, model.lip) for p in spec.planted]
    flat = [n for names in defects for n in names]
    if housed:
        parts += housing(rng, look, places, cup, "melted-housing" in flat)
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
