"""Tools: iron, tweezers, pliers, crocodile clip, vice, arms. Label 0 throughout."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .materials import metal_rgb, mixed
from .part import Material, Part
from .props_shapes import (
    TAU,
    Floats,
    Mesh,
    ball,
    box,
    circle,
    merge,
    move,
    part,
    place,
    prism,
    sheet,
    spline,
    toward,
    tube,
    turn,
    turned,
    unit,
)  # fmt: skip
from .props_small import metal, plastic, thread

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
    """Soldering iron with its tip's point at `at`; `direction` runs from the point to the handle."""
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
    cut = v_tinned = float(rng.uniform(0.15, 0.6) * length)
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
    wet = Mesh(point.vertices, point.faces[middle < v_tinned], point.uv)
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


def _bent_bar(path: Floats, widths: Floats, thick: Floats) -> Mesh:
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
            _bent_bar(
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


def _jaw(rng: Rng, length: float, width: float, height: float, teeth: int) -> Mesh:
    """Half of a jaw along x, tooth side down at z = 0, tapering to the tip at x = 0."""
    x = np.linspace(0, length, teeth * 4 + 1)
    saw = (
        np.abs((np.arange(len(x)) / 4 % 1) * 2 - 1)
        * height
        * rng.uniform(0.12, 0.3)
        * (x < length * 0.75)
    )
    k = 0.35 + 0.65 * x / length
    low, high = np.c_[x, saw], np.c_[x, height * k + 0.2]
    w = width * k / 2
    bits = []
    for sign in (1, -1):
        face = np.stack(
            [np.c_[low[:, 0], sign * w, low[:, 1]], np.c_[high[:, 0], sign * w, high[:, 1]]]
        )
        bits.append(sheet(face[:, ::-1] if sign > 0 else face))
    for edge in (low, high):
        strip = np.stack([np.c_[edge[:, 0], -w, edge[:, 1]], np.c_[edge[:, 0], w, edge[:, 1]]])
        bits.append(sheet(strip))
    tip = np.array(
        [
            [[0, -w[0], low[0, 1]], [0, -w[0], high[0, 1]]],
            [[0, w[0], low[0, 1]], [0, w[0], high[0, 1]]],
        ]
    )
    return merge(*bits, sheet(tip))


def _jaws(rng: Rng, length: float, width: float, height: float, open_deg: float) -> Mesh:
    teeth = int(rng.integers(4, 14))
    upper = _jaw(rng, length, width, height, teeth)
    lean = turn([0, 1, 0], np.radians(open_deg) / 2)
    upper = move(move(upper, None, (-length, 0, 0)), lean, (length, 0, 0))
    lower = move(
        move(_jaw(rng, length, width, height, teeth), turn([1, 0, 0], np.pi), (-length, 0, 0)),
        lean.T,
        (length, 0, 0),
    )
    return merge(upper, lower)


def pliers(rng: Rng) -> list[Part]:
    """Crimping or flat-nose pliers lying on the bench, jaws toward the origin."""
    length, width, height = rng.uniform(15, 45), rng.uniform(5, 12), rng.uniform(4, 11)
    steel = metal(rng, "steel", "steel", "nickel")
    jaws = move(_jaws(rng, length, width, height, rng.uniform(0, 18)), turn([1, 0, 0], np.pi / 2))
    hub = move(
        prism(circle(height * 1.4, 40), width * 1.15, 0.4),
        None,
        (length + height, 0, -width * 0.575),
    )
    rivet = move(
        prism(circle(height * 0.5, 24), width * 1.3, 0.3), None, (length + height, 0, -width * 0.6)
    )
    grips = []
    for sign in (-1, 1):
        knots = np.array(
            [
                [length + height, sign * height * 0.6, 0],
                [length + 40, sign * rng.uniform(12, 22), 0],
                [length + 120, sign * rng.uniform(14, 30), 0],
            ]
        )
        grips.append(tube(spline(knots, 40), rng.uniform(4, 7), 20))
    parts = [
        part("pliers-jaws", merge(jaws, hub), steel, smooth=False),
        part("pliers-rivet", rivet, metal(rng)),
        part("pliers-grips", merge(*grips), plastic(rng)),
    ]
    return place(parts, None, (0, 0, width * 0.6))


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


def clip(rng: Rng, at: ArrayLike, direction: ArrayLike, wire_radius: float = 1.5) -> list[Part]:
    """Crocodile clip that bites at `at`; `direction` runs from the bite to its tail."""
    length, width, height = rng.uniform(14, 26), rng.uniform(4, 8), rng.uniform(2.2, 4)
    bite = float(rng.uniform(2, 5))
    open_deg = 2 * np.degrees(np.arctan2(wire_radius * 0.9, length - bite))
    steel = metal(rng, "steel", "nickel", "copper", "tin")
    jaws = _jaws(rng, length, width, height, open_deg)
    back = []
    for sign in (-1, 1):
        path = np.stack(
            [
                np.linspace(length * 0.95, length * 1.8, 12),
                np.zeros(12),
                sign * np.linspace(height * 0.7, height * 2.2, 12),
            ],
            -1,
        )
        back.append(_bent_bar(path, np.full(12, width), np.full(12, 0.7)))
    boot = tube(
        np.array([[length * 1.35, 0, 0], [length * 1.9, 0, 0], [length * 2.6, 0, 0]]),
        [height * 1.7, height * 1.5, height * 0.6],
        20,
    )
    parts = [part("clip", merge(jaws, *back), steel, smooth=False)]
    if rng.random() < 0.5:
        parts.append(part("clip-boot", boot, plastic(rng)))
    pin = move(
        turned([(0, 0), (height * 0.5, 0), (height * 0.5, width * 1.2), (0, width * 1.2)], 20),
        turn([1, 0, 0], np.pi / 2),
        (length, width * 0.6, 0),
    )
    parts.append(part("clip-pin", pin, metal(rng)))
    if rng.random() < 0.6:
        parts += arm(rng, (length * 2.4, 0, 0), (1, 0, 0))
    parts = place(parts, None, (-bite, 0, 0))
    roll = turn([1, 0, 0], float(rng.uniform(0, TAU)))
    lay = toward(direction) @ turn([0, 1, 0], -np.pi / 2)
    return place(parts, lay @ roll, at)


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


def vice(rng: Rng, at: ArrayLike, direction: ArrayLike, wire_radius: float = 1.5) -> list[Part]:
    """Two jaws that hold a wire at `at`; `direction` runs along the wire, away from the joint."""
    wide, deep, tall = rng.uniform(8, 30), rng.uniform(5, 25), rng.uniform(6, 20)
    skin = metal(rng, "steel", "steel", "brass") if rng.random() < 0.7 else plastic(rng)
    grooves = int(rng.integers(0, 12))
    out = []
    for sign in (-1, 1):
        jaw = move(
            box((wide, deep, tall), rng.uniform(0.2, 1)),
            None,
            (0, sign * (deep / 2 + wire_radius * 0.9), -tall / 2),
        )
        lines = [
            move(box((0.5, 0.6, tall * 0.98)), None, (x, sign * (wire_radius * 0.9), -tall / 2))
            for x in np.linspace(-wide / 2.2, wide / 2.2, grooves)
        ]
        out.append(merge(jaw, *lines))
    flat = np.asarray(direction, float) * [1, 1, 0]
    yaw = float(np.arctan2(flat[1], flat[0]))
    spin: NDArray[np.float64] = turn([0, 0, 1], yaw)
    return place(
        [part("vice", merge(*out), skin, smooth=False)],
        spin,
        np.asarray(at, float) + unit(flat) * wide / 2,
    )
