"""Small things on a bench: boxes, cans, crumbs, cut strands, tape, labels, solder wire.

Each maker builds at the origin, resting on z = 0, and returns Parts with label 0.
"""

from __future__ import annotations

import numpy as np

from .materials import metal_rgb, mixed
from .part import Material, Part
from .props_finish import Rng, metal, plastic, printed
from .props_shapes import (
    TAU,
    Mesh,
    ball,
    box,
    circle,
    move,
    part,
    place,
    plate,
    sheet,
    spline,
    toward,
    tube,
    turn,
    turned,
)  # fmt: skip


def block(rng: Rng) -> list[Part]:
    """Box with a printed top: battery pack, case, matchbox, eraser, magnet."""
    size = np.exp(rng.uniform(np.log([8, 6, 3]), np.log([70, 45, 30])))
    return [
        part(
            "block",
            box(size, rng.uniform(0.2, 1.5)),
            printed(rng) if rng.random() < 0.7 else plastic(rng),
            smooth=False,
        )
    ]


def cylinder(rng: Rng) -> list[Part]:
    """Battery cell, motor can, capacitor, marker pen: lying or standing."""
    r, length = float(rng.uniform(3, 18)), float(rng.uniform(12, 70))
    body = turned(
        [(0, 0), (r * 0.92, 0), (r, r * 0.08), (r, length * 0.97), (r * 0.94, length), (0, length)],
        48,
    )
    metal_end = turned([(0, 0), (r * 0.3, 0), (r * 0.28, r * 0.15), (0, r * 0.16)], 24)
    shaft = turned([(0, 0), (r * 0.1, 0), (r * 0.1, r), (0, r)], 16)
    skin = (
        printed(rng) if rng.random() < 0.5 else (metal(rng) if rng.random() < 0.4 else plastic(rng))
    )
    end = shaft if rng.random() < 0.4 else metal_end
    parts = [part("can", body, skin), part("can-end", move(end, None, (0, 0, length)), metal(rng))]
    if rng.random() < 0.7:
        parts = place(parts, turn([0, 1, 0], np.pi / 2), (0, 0, r))
    return parts


def crumbs(rng: Rng) -> list[Part]:
    """Beads and splashes of solder, one Part each so that each may be dropped."""
    tin = Material(
        "crumb",
        "metal",
        mixed(metal_rgb("tin"), metal_rgb("lead"), float(rng.uniform(0, 0.6))),
        float(rng.uniform(0.05, 0.45)),
        1.0,
    )
    out = []
    for _ in range(int(rng.integers(2, 22))):
        r = float(np.exp(rng.uniform(np.log(0.12), np.log(1.3))))
        mesh = ball(r, 14)
        lump = 1 + 0.25 * np.sin(mesh.vertices @ rng.normal(0, 2 / r, (3, 3))).mean(
            1, keepdims=True
        )
        flat = np.array([1, rng.uniform(0.6, 1.6), rng.uniform(0.35, 1)])
        mesh = Mesh(mesh.vertices * lump * flat, mesh.faces, mesh.uv)
        at = rng.normal(0, 16, 2)
        out.append(part("crumb", move(mesh, None, (*at, r * flat[2] * 0.9)), tin))
    return out


def cut_strands(rng: Rng) -> list[Part]:
    """Copper or tinned hairs cut off and left on the bench: no strand of the joint, label 0."""
    hair = Material(
        "offcut",
        "metal",
        metal_rgb("copper" if rng.random() < 0.6 else "tin"),
        float(rng.uniform(0.15, 0.4)),
        1.0,
    )
    out = []
    for _ in range(int(rng.integers(1, 14))):
        length, r = rng.uniform(1, 14), rng.uniform(0.04, 0.16)
        heading = rng.uniform(0, TAU) + np.cumsum(rng.normal(0, 0.5, 5))
        knots = np.cumsum(
            np.stack([np.cos(heading), np.sin(heading), np.zeros(5)], 1) * length / 5, 0
        )
        knots[:, :2] += rng.normal(0, 18, 2)
        knots[:, 2] = r + np.abs(rng.normal(0, 0.15, 5))
        out.append(part("offcut-strand", tube(spline(knots, 24), r, 7), hair))
    return out


def tape(rng: Rng) -> list[Part]:
    """Roll of tape, or a torn strip stuck to the bench."""
    skin = plastic(rng)
    if rng.random() < 0.4:
        r, h = rng.uniform(12, 40), rng.uniform(6, 25)
        return [
            part("tape-roll", plate(circle(r, 64), circle(r * rng.uniform(0.5, 0.85), 64), h), skin)
        ]
    length, width = rng.uniform(10, 60), rng.uniform(5, 20)
    x, y = np.meshgrid(
        np.linspace(0, length, 30), np.linspace(-width, width, 12) / 2, indexing="ij"
    )
    x = x + np.where(x >= length * 0.99, rng.normal(0, 0.8, 12)[None], 0)
    z = 0.15 + 0.4 * np.abs(np.sin(x * rng.uniform(0.05, 0.3) + y * 0.1)) * rng.random()
    return [
        part(
            "tape-strip",
            sheet(np.stack([x, y, z], -1)),
            printed(rng) if rng.random() < 0.3 else skin,
        )
    ]


def paper_label(rng: Rng) -> list[Part]:
    """Slip of paper or sticker with print on it, a little curled."""
    w, h, curl = rng.uniform(8, 60), rng.uniform(5, 40), rng.uniform(0, 3)
    x, y = np.meshgrid(np.linspace(-1, 1, 16), np.linspace(-1, 1, 8), indexing="ij")
    z = 0.12 + curl * x**2 * rng.uniform(0, 1)
    points = np.stack([x * w / 2, y * h / 2, z], -1)
    return [part("label", sheet(points, np.stack([(x + 1) / 2, (y + 1) / 2], -1)), printed(rng))]


def solder_wire(rng: Rng) -> list[Part]:
    """Length or coil of solder wire: thin, round, shiny, bent by hand. Label 0, never a strand."""
    r = float(rng.choice([0.25, 0.3, 0.4, 0.5, 0.75]) * rng.uniform(0.9, 1.1))
    tin = Material(
        "solder-wire",
        "metal",
        mixed(metal_rgb("tin"), metal_rgb("lead"), float(rng.uniform(0, 0.7))),
        float(rng.uniform(0.08, 0.4)),
        1.0,
    )
    if rng.random() < 0.3:
        turns, big = rng.uniform(2, 7), rng.uniform(6, 22)
        t = np.linspace(0, turns, int(turns * 36))
        wob = 1 + 0.08 * np.sin(2.3 * t + rng.uniform(0, 6))
        path = np.stack(
            [
                big * wob * np.cos(TAU * t),
                big * wob * np.sin(TAU * t),
                r + 2.1 * r * t * rng.uniform(0.3, 1),
            ],
            -1,
        )
    else:
        heading = rng.uniform(0, TAU) + np.cumsum(rng.normal(0, rng.uniform(0.1, 0.9), 7))
        step = rng.uniform(4, 16)
        knots = np.cumsum(np.stack([np.cos(heading), np.sin(heading), np.zeros(7)], 1) * step, 0)
        knots[:, 2] = r + np.abs(rng.normal(0, rng.uniform(0, 3), 7))
        path = spline(knots - knots[3] * [1, 1, 0], 140)
    return [part("solder-wire", tube(path, r, 9), tin)]


def sprig(rng: Rng) -> list[Part]:
    """Toothpick, cable tie, cotton bud, pin: a thin straight plain thing."""
    length, r = rng.uniform(15, 70), rng.uniform(0.3, 1.6)
    path = np.array([[-length / 2, 0, r], [0, rng.normal(0, 1), r], [length / 2, 0, r]])
    body = move(
        tube(spline(path, 20), np.linspace(1, rng.uniform(0.3, 1), 20) * r, 8), toward([0, 0, 1])
    )
    return [part("sprig", body, metal(rng) if rng.random() < 0.4 else plastic(rng))]
