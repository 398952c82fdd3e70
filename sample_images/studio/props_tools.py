"""Tools with a handle: iron, knurled drivers, tweezers, arms of a holding stand. Label 0."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .materials import metal_rgb, mixed
from .part import Material, Part
from .props_fasteners import thread
from .props_finish import metal, plastic
from .props_shapes import (
    TAU,
    Floats,
    Mesh,
    ball,
    circle,
    merge,
    move,
    part,
    place,
    prism,
    sheet,
    toward,
    tube,
    turn,
    turned,
    unit,
)  # fmt: skip

Rng = np.random.Generator


def knurled(rng: Rng, radius: float, length: float) -> Mesh:
    """Handle about z with a diamond or straight knurl."""
    around, rows = 97, 60
    z, a = np.linspace(0, length, rows)[:, None], np.linspace(0, TAU, around)[None]
    n = int(rng.integers(14, 24))
    left = np.abs(((n * a / TAU + z / radius * n / 7) % 1) * 2 - 1)
    right = np.abs(((n * a / TAU - z / radius * n / 7) % 1) * 2 - 1) if rng.random() < 0.7 else left
    r = (
        radius
        * (1 - rng.uniform(0.04, 0.12) * np.maximum(left, right))
        * np.where((z <= 0) | (z >= length), 0.85, 1)
    )
    points = np.stack([r * np.cos(a), r * np.sin(a), np.broadcast_to(z, r.shape)], -1)
    caps = [
        prism(circle(radius * 0.86, 32), 0.05),
        move(prism(circle(radius * 0.86, 32), 0.05), None, (0, 0, length - 0.05)),
    ]
    return merge(sheet(points[:, ::-1]), *caps)


def iron(rng: Rng, at: ArrayLike, direction: ArrayLike) -> list[Part]:
    """Soldering iron, its point at `at`; `direction` runs from the point to the handle."""
    r, length = float(rng.uniform(1.2, 4)), float(rng.uniform(8, 22))
    kind = rng.integers(4)
    tip_r = {0: 0.12, 1: 0.45, 2: 0.8, 3: 0.3}[int(kind)] * r * rng.uniform(0.6, 1.2)
    shape = [(0, 0), (tip_r * 0.8, 0.05 * r), (tip_r, 0.2 * r)]
    shape += [
        (tip_r + (r - tip_r) * k ** rng.uniform(0.8, 1.5), 0.2 * r + k * length * 0.6)
        for k in np.linspace(0.1, 1, 8)
    ]
    point = turned([*shape, (r, length)], 40, 60)
    if kind in (1, 2):  # chisel or bevel: squeeze the tip, keep the shank round
        v = point.vertices.copy()
        k = np.clip(1 - v[:, 2] / (length * 0.6), 0, 1)
        v[:, 1] *= 1 - k * rng.uniform(0.5, 0.85)
        if kind == 2:
            v[:, 2] += k * v[:, 0] * rng.uniform(0.3, 1)
        point = Mesh(v, point.faces, point.uv)
    cut = float(rng.uniform(0.15, 0.6) * length)
    tinned = Material(
        "iron-tin",
        "metal",
        mixed(metal_rgb("tin"), (0.2, 0.15, 0.1), float(rng.uniform(0, 0.5))),
        float(rng.uniform(0.06, 0.3)),
        1.0,
    )
    plated = Material(
        "iron-tip",
        "metal",
        mixed((0.35, 0.34, 0.33), (0.1, 0.06, 0.04), float(rng.random())),
        float(rng.uniform(0.2, 0.5)),
        1.0,
    )
    middle = point.vertices[point.faces].mean(1)[:, 2]
    wet = Mesh(point.vertices, point.faces[middle < cut], point.uv)
    dry = Mesh(point.vertices, point.faces[middle >= cut], point.uv)
    shank_r, shank = r * rng.uniform(1.0, 1.6), rng.uniform(20, 60)
    barrel = move(
        turned(
            [(0, 0), (shank_r, 0), (shank_r, shank), (shank_r * 1.4, shank + 2), (0, shank + 2)], 36
        ),
        None,
        (0, 0, length),
    )
    grip_r = shank_r * rng.uniform(1.6, 3.5)
    grip = turned(
        [(0, 0), (grip_r * 0.8, 0), (grip_r, 4), (grip_r * 0.85, 30), (grip_r, 90), (0, 90)], 40
    )
    parts = [
        part("iron-wet", wet, tinned),
        part("iron-tip", dry, plated),
        part("iron-shank", barrel, metal(rng, "steel", "steel", "nickel")),
        part("iron-grip", move(grip, None, (0, 0, length + shank)), plastic(rng)),
    ]
    lift = -float(point.vertices[:, 2].min())
    parts = place(parts, None, (0, 0, lift))
    return place(parts, toward(direction, float(rng.uniform(0, TAU))), at)


def bent_bar(path: Floats, widths: Floats, thick: Floats) -> Mesh:
    """Bar of rectangular section along a path in the x-z plane; width along y."""
    t = unit(np.gradient(path, axis=0))
    n = np.stack([-t[:, 2], np.zeros(len(t)), t[:, 0]], -1)
    y = np.array([0.0, 1.0, 0.0])
    w, h = widths[:, None] / 2, thick[:, None] / 2
    corner = [
        path + y * w - n * h,
        path + y * w + n * h,
        path - y * w + n * h,
        path - y * w - n * h,
    ]
    sides = [sheet(np.stack([corner[k], corner[(k + 1) % 4]], 1)) for k in range(4)]
    ends = [
        sheet(np.stack([[corner[0][i], corner[1][i]], [corner[3][i], corner[2][i]]]))
        for i in (0, -1)
    ]
    return merge(*sides, *ends)


def tweezers(rng: Rng) -> list[Part]:
    """Tweezers lying on their side, points toward the origin."""
    length, gap = rng.uniform(70, 120), rng.uniform(1, 9)
    s = np.linspace(0, 1, 30)
    arms = []
    for sign in (-1, 1):
        half = gap * np.sin(np.pi * s**0.6) * 0.5 + gap * 0.25 * (1 - s)
        path = np.stack([s * length, np.zeros(30), sign * half], -1)
        arms.append(
            bent_bar(
                path,
                0.8 + 8 * np.sin(np.pi * np.clip(s, 0, 0.6) / 1.2),
                np.full(30, rng.uniform(0.6, 1.4)),
            )
        )
    body = move(merge(*arms), turn([1, 0, 0], np.pi / 2), (0, 0, 5))
    return [
        part(
            "tweezers",
            body,
            metal(rng) if rng.random() < 0.7 else plastic(rng, dark=True),
            smooth=False,
        )
    ]


def handle(rng: Rng) -> list[Part]:
    """Knurled handle or collar of a driver or pin vice, lying down, with a blade."""
    r, length = float(rng.uniform(2, 8)), float(rng.uniform(15, 60))
    blade = move(
        turned([(0, 0), (r * 0.25, 0), (r * 0.3, length), (0, length)], 16), None, (0, 0, length)
    )
    parts = [
        part(
            "knurled", knurled(rng, r, length), metal(rng) if rng.random() < 0.7 else plastic(rng)
        ),
        part("blade", blade, metal(rng)),
    ]
    return place(parts, turn([0, 1, 0], -np.pi / 2), (0, 0, r))


def arm(rng: Rng, at: ArrayLike, direction: ArrayLike) -> list[Part]:
    """Arm of a holding stand: jointed rods or a bead-like hose, from `at` outward."""
    d = unit(direction)
    steel = metal(rng, "nickel", "steel", "brass")
    if rng.random() < 0.5:
        steps = np.cumsum(rng.normal(0, 0.25, (10, 3)) + d, axis=0) * rng.uniform(7, 10)
        r = rng.uniform(4, 7)
        beads = [move(ball(r, 18), None, s) for s in steps]
        return place(
            [part("arm-beads", merge(*beads), plastic(rng) if rng.random() < 0.7 else steel)],
            None,
            at,
        )
    turn_at = d * rng.uniform(20, 60)
    end = turn_at + unit(d + rng.normal(0, 0.7, 3)) * 90
    rods = [
        tube(np.linspace([0, 0, 0], turn_at, 4), rng.uniform(1.5, 3), 16),
        tube(np.linspace(turn_at, end, 4), rng.uniform(2, 4), 16),
    ]
    knob = move(ball(rng.uniform(4, 7), 20), None, turn_at)
    screw = move(thread(2.0, 12, 0.8), toward(rng.normal(0, 1, 3)), turn_at)
    return place([part("arm", merge(*rods, knob, screw), steel)], None, at)
