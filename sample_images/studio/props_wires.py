"""Wires and terminals that lie about, labelled as what they are though no joint is there."""

from __future__ import annotations

import numpy as np

from . import materials
from .part import CONDUCTOR, HOUSING, INSULATION, SLEEVE, SOLDER, TERMINAL, Material, Part
from .props_finish import plastic
from .props_shapes import (
    TAU,
    Floats,
    Mesh,
    box,
    circle,
    frames,
    merge,
    move,
    part,
    place,
    plate,
    prism,
    sheet,
    spline,
    toward,
    tube,
    turned,
)  # fmt: skip

Rng = np.random.Generator


def strands(rng: Rng, path: Floats, radius: float, *, tinned: bool) -> Part:
    """A bundle of bare strands along `path`: outer strands twisted round a core."""
    thin = radius * rng.uniform(0.1, 0.22)
    count = min(int(TAU * (radius - thin) / (2 * thin)), 34)
    _, u, b = frames(path)
    far = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    lay = rng.uniform(0.02, 0.12) / radius * rng.choice([-1, 1])
    bits = [tube(path, radius - 1.2 * thin, 16, "flat")]
    spread = 1 + (rng.uniform(0, 0.5) if rng.random() < 0.4 else 0) * (far / far[-1])[:, None] ** 2
    for k in range(count):
        a = (TAU * k / count + far * lay * TAU)[:, None]
        loose = 1 + rng.normal(0, 0.12) * (far / far[-1])[:, None] ** 2
        bits.append(
            tube(path + (u * np.cos(a) + b * np.sin(a)) * (radius - thin) * spread * loose, thin, 6)
        )
    return part("bare-end", merge(*bits), materials.copper(rng, plated=tinned), CONDUCTOR)


def _coat(rng: Rng) -> Material:
    return materials.insulation(rng)


def wire_path(rng: Rng, radius: float, length: float, bend: float) -> Floats:
    """Curve on the bench, from the origin outward along about x."""
    heading = np.cumsum(rng.normal(0, bend, 6))
    knots = np.cumsum(np.stack([np.cos(heading), np.sin(heading), np.zeros(6)], 1) * length / 6, 0)
    knots = np.vstack([np.zeros(3), knots])
    knots[:, 2] = radius + np.abs(rng.normal(0, 0.3 * radius, 7)) * (rng.random() < 0.4)
    return spline(knots, 70)


def crossing_wire(rng: Rng) -> list[Part]:
    """Insulated wire whose ends are out of frame, sometimes a pair or a ribbon. Label 1."""
    r = float(rng.uniform(0.5, 4.5))
    path = wire_path(rng, r, 420, rng.uniform(0.02, 0.35))
    path = path - path[35] * [1, 1, 0]
    side = np.stack([-np.gradient(path[:, 1]), np.gradient(path[:, 0]), np.zeros(len(path))], -1)
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    count = int(rng.choice([1, 1, 1, 2, 3, 6])) if r < 2 else 1
    return [
        part("other-wire", tube(path + side * k * 2.02 * r, r, 18), _coat(rng), INSULATION)
        for k in range(count)
    ]


def wire_end(rng: Rng) -> list[Part]:
    """Plain wire with a stripped, tinned or flush-cut end. Labels 1, 2, 3."""
    r = float(rng.uniform(0.6, 3.2))
    path = wire_path(rng, r, 260, rng.uniform(0.02, 0.3))
    out = [part("other-wire", tube(path, r, 20, "flat"), _coat(rng), INSULATION)]
    heading = path[0] - path[2]
    heading = heading / np.linalg.norm(heading)
    core, bare = r * rng.uniform(0.5, 0.75), rng.uniform(0.2, 6) * r
    knots = path[0] + heading * np.linspace(-0.3 * r, bare, 5)[:, None]
    knots[1:] += rng.normal(0, 0.06 * r, (4, 3)) * np.linspace(0, 1, 4)[:, None]
    line = spline(knots, 26)
    line[:, 2] = np.maximum(line[:, 2], core)
    choice = rng.random()
    if choice < 0.55:
        out.append(strands(rng, line, core, tinned=bool(rng.random() < 0.3)))
    elif choice < 0.85:
        ripple = 1 + 0.06 * np.sin(
            np.arange(17)[None] * TAU / 16 * 5 + np.arange(26)[:, None] * 0.15
        )
        ripple[:, -1] = ripple[:, 0]
        swell = core * (1 + rng.uniform(0, 0.3) * np.sin(np.linspace(0, np.pi, 26)))
        out.append(
            part(
                "tinned-end",
                tube(line, swell, 16, swell=ripple),
                materials.solder(rng, dull=float(rng.random())),
                SOLDER,
            )
        )
    else:
        disc = move(prism(circle(core, 20), 0.05), toward(heading), path[0])
        out.append(part("cut-end", disc, materials.copper(rng, plated=False), CONDUCTOR))
    return out


def offcuts(rng: Rng) -> list[Part]:
    """Short tubes of stripped insulation. Label 1."""
    r, skin = float(rng.uniform(0.6, 3)), _coat(rng)
    out = []
    for _ in range(int(rng.integers(1, 5))):
        length, a = rng.uniform(1, 8), rng.uniform(0, TAU)
        at = rng.normal(0, 10, 2)
        mesh = plate(circle(r, 24), circle(r * 0.65, 24), length)
        turned_ = toward([np.cos(a), np.sin(a), 0])
        out.append(part("offcut-insulation", move(mesh, turned_, (*at, r)), skin, INSULATION))
    return out


def heat_shrink(rng: Rng) -> list[Part]:
    """Loose pieces of heat-shrink tube. Label 7."""
    r, skin = float(rng.uniform(1, 5)), plastic(rng)
    out = []
    for _ in range(int(rng.integers(1, 4))):
        length, a = rng.uniform(6, 30), rng.uniform(0, TAU)
        squash = np.array([1.0, rng.uniform(0.5, 1)])
        mesh = plate(circle(r, 28) * squash, circle(r * 0.88, 28) * squash, length)
        spin = toward([np.cos(a), np.sin(a), 0])
        low = (mesh.vertices @ spin.T)[:, 2].min()
        out.append(
            part("heat-shrink", move(mesh, spin, (*rng.normal(0, 12, 2), -low)), skin, SLEEVE)
        )
    return out


def ring_terminal(rng: Rng) -> list[Part]:
    """Ring or fork lug with an empty barrel. Label 4."""
    r, t = float(rng.uniform(2, 6)), float(rng.uniform(0.5, 1.2))
    barrel_r, barrel = r * rng.uniform(0.4, 0.7), r * rng.uniform(0.9, 2)
    eye = plate(circle(r, 40), circle(r * rng.uniform(0.45, 0.65), 40), t)
    neck = move(box((r * 0.9, r * 0.9, t)), None, (r * 1.1, 0, 0))
    tube_ = plate(circle(barrel_r, 24), circle(barrel_r - t * 0.6, 24), barrel)
    tube_ = move(tube_, toward([1, 0, 0]), (r * 1.45, 0, barrel_r))
    parts = [part("ring-terminal", merge(eye, neck, tube_), materials.terminal(rng), TERMINAL)]
    if rng.random() < 0.3:
        sleeve = plate(circle(barrel_r * 1.35, 24), circle(barrel_r * 1.02, 24), barrel * 1.1)
        sleeve = move(sleeve, toward([1, 0, 0]), (r * 1.5, 0, barrel_r))
        parts.append(part("ring-sleeve", sleeve, plastic(rng), HOUSING))
    return parts


def cup(rng: Rng, r: float, length: float, *, open_side: bool) -> Mesh:
    """Empty solder cup along z from 0 to `length`, mouth at the top; `open_side` cuts half away."""
    n = 28
    wall = r * rng.uniform(0.14, 0.3)
    if not open_side:
        return merge(
            plate(circle(r, n), circle(r - wall, n), length), prism(circle(r, n), length * 0.2)
        )
    a = np.linspace(-np.pi / 2 - 0.2, np.pi / 2 + 0.2, n)
    section = np.concatenate(
        [
            r * np.stack([np.cos(a), np.sin(a)], 1),
            (r - wall) * np.stack([np.cos(a), np.sin(a)], 1)[::-1],
        ]
    )
    section = np.vstack([section, section[:1]])
    z = np.array([length * 0.15, length])
    points = np.concatenate(
        [
            np.broadcast_to(section[None], (2, *section.shape)),
            np.broadcast_to(z[:, None, None], (2, len(section), 1)),
        ],
        -1,
    )
    half = len(a)
    rim = np.stack([points[1, :half], points[1, half : 2 * half][::-1]])
    return merge(sheet(points[:, ::-1]), sheet(rim[:, ::-1]), prism(circle(r, n), length * 0.2))


def empty_connector(rng: Rng, look: str) -> list[Part]:
    """Housing with unsoldered cups. Labels 5 (housing) and 4 (cups, pins)."""
    poles, r = int(rng.integers(1, 4)), float(rng.uniform(1.0, 3.2))
    pitch, depth = r * rng.uniform(2.6, 4), r * rng.uniform(3, 7)
    width, high = pitch * poles + r * 0.6, r * rng.uniform(2.4, 3.4)
    shell = move(box((depth, width, high), r * rng.uniform(0.05, 0.3)), None, (depth / 2, 0, 0))
    parts = [part("empty-housing", shell, materials.plastic(rng, look), HOUSING, smooth=False)]
    gold, open_side = materials.terminal(rng), bool(rng.random() < 0.6)
    cups = []
    for k in range(poles):
        y = (k - (poles - 1) / 2) * pitch
        mesh = cup(rng, r * 0.85, r * rng.uniform(1.5, 3), open_side=open_side)
        cups.append(
            move(mesh, toward([-1, 0, 0], np.pi / 2 * rng.choice([0, 1, 2, 3])), (0.1, y, high / 2))
        )
        if rng.random() < 0.5:
            pin = turned(
                [(0, 0), (r * 0.7, 0), (r * 0.7, r * 2.5), (r * 0.4, r * 3), (0, r * 3)], 24
            )
            cups.append(move(pin, toward([1, 0, 0]), (depth, y, high / 2)))
    parts.append(part("empty-cups", merge(*cups), gold, TERMINAL))
    lift = -min(0.0, float(min(p.vertices[:, 2].min() for p in parts)))
    return place(parts, None, (0, 0, lift))


def loose_contact(rng: Rng) -> list[Part]:
    """Round contact without a housing: cup, collar, slit springy tail. Label 4."""
    r = float(rng.uniform(0.9, 3))
    mesh = cup(rng, r, r * rng.uniform(2, 3.5), open_side=bool(rng.random() < 0.5))
    collar = move(
        turned([(0, 0), (r * 1.25, 0), (r * 1.25, r * 0.4), (0, r * 0.4)]), None, (0, 0, -r * 0.4)
    )
    tail = []
    for k in range(4):
        a = np.linspace(0.12, TAU / 4 - 0.12, 7) + k * TAU / 4
        z = np.linspace(-r * rng.uniform(3, 4), -r * 0.3, 12)
        belly = r * (0.75 + 0.18 * np.sin(np.linspace(0, np.pi, 12)))[:, None]
        tail.append(
            sheet(
                np.stack(
                    [belly * np.cos(a), belly * np.sin(a), np.broadcast_to(z[:, None], (12, 7))], -1
                )[:, ::-1]
            )
        )
    whole = move(
        merge(mesh, collar, *tail), toward([1, 0, 0], rng.uniform(0, TAU)), (0, 0, r * 1.25)
    )
    return [part("loose-contact", whole, materials.terminal(rng), TERMINAL)]
