"""The block that holds the contacts of a connector."""

from __future__ import annotations

import numpy as np

from . import materials, part as pt
from .mesh import Array, extrude, merge, noise3, revolve
from .part import Part
from .terminal import Cup

Rng = np.random.Generator


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


def housing(rng: Rng, look: str, places: Array, cup: Cup, *, melted: bool) -> list[Part]:
    """Block behind the cups, sometimes with a collar or ribs; marks CHAR where it melted."""
    plastic = materials.plastic(rng, look)
    radius = cup.outer
    face = cup.depth * rng.uniform(0.55, 1.05) + 0.05
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
        marks |= np.where(burn[f].mean(axis=1) > 0.35, pt.CHAR, 0).astype(np.uint16)
    return [
        Part(
            "housing",
            v.astype(np.float32),
            f,
            pt.HOUSING,
            plastic,
            colors=colors.astype(np.float32),
            marks=marks,
        )
    ]
