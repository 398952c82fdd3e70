"""Small things on a bench: fasteners, springs, discs, boxes, crumbs, cut strands, rolls, labels.

Each maker builds at the origin, resting on z = 0, and returns Parts with label 0 unless it says
otherwise.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_noise import word
from .materials import metal_rgb, mixed
from .part import Material, Part
from .props_shapes import (
    TAU,
    Mesh,
    ball,
    box,
    circle,
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
    turn,
    turned,
)  # fmt: skip

Rng = np.random.Generator


def metal(rng: Rng, *names: str) -> Material:
    """Metal of a tool or fastener: bright, satin, blackened or rusty."""
    name = str(
        rng.choice(names or ("steel", "steel", "nickel", "brass", "tin", "copper", "silver"))
    )
    rgb = mixed(
        metal_rgb(name),
        (0.03, 0.03, 0.03) if rng.random() < 0.6 else (0.2, 0.09, 0.04),
        float(rng.beta(0.7, 3)),
    )
    return Material(f"tool-{name}", "metal", rgb, float(rng.uniform(0.06, 0.5)), 1.0)


def plastic(rng: Rng, *, dark: bool | None = None) -> Material:
    """Any plastic or paint; `dark` forces black ones."""
    if dark or (dark is None and rng.random() < 0.3):
        rgb = np.full(3, rng.uniform(0.006, 0.04)) * rng.uniform(0.9, 1.1, 3)
    else:
        rgb = np.clip(
            np.exp(rng.uniform(-4, -0.4)) * rng.dirichlet([0.5, 0.5, 0.5]) * 3, 0.005, 0.8
        )
    r, g, b = (float(k) for k in rgb)
    return Material("prop-plastic", "plastic", (r, g, b), float(rng.uniform(0.08, 0.9)))


def textured(rgb8: NDArray[np.uint8], roughness: float) -> Material:
    """Plastic that shows an sRGB picture through its uv."""
    texture = ((rgb8.astype(np.float32) / 255) ** 2.2).clip(0.003, 0.9)
    r, g, b = (float(k) for k in texture.mean((0, 1)))
    return Material("print", "plastic", (r, g, b), roughness, 0.0, texture)


def printed(rng: Rng, side: int = 256) -> Material:
    """Label print: words, bars and a frame."""
    dark = rng.random() < 0.4
    paper, ink = (
        (rng.integers(0, 90, 3), rng.integers(150, 255, 3))
        if dark
        else (rng.integers(150, 255, 3), rng.integers(0, 110, 3))
    )
    rows = []
    for _ in range(3):
        row = np.zeros((side // 3, side), np.uint8)
        cv2.putText(
            row,
            word(rng),
            (8, side // 4),
            int(rng.choice([0, 2, 3, 4])),
            float(rng.uniform(0.5, 2)),
            255,
            int(rng.integers(1, 4)),
            cv2.LINE_AA,
        )
        rows.append(row)
    if rng.random() < 0.4:
        rows[2][8:-8, 10:-10] = np.repeat(rng.integers(0, 2, (side - 20) // 4) * 255, 4)[
            None, : side - 20
        ]
    k = np.concatenate(rows)[..., None] / 255.0
    return textured(np.uint8(paper * (1 - k) + ink * k), float(rng.uniform(0.15, 0.8)))


def _socket(rng: Rng, r: float, depth: float) -> Mesh:
    """Dark recess drawn as a shallow prism on top of a head."""
    n = int(rng.choice([4, 6, 12]))
    q = circle(r, min(12, n))
    if n == 12:  # a star or a cross
        q[::2] *= rng.uniform(0.35, 0.6)
    return prism(q, depth)


def thread(radius: float, length: float, pitch: float, around: int = 28) -> Mesh:
    """Screw thread about z from 0 to `length`."""
    rows = max(int(length / pitch * 6), 8)
    z, a = np.linspace(0, length, rows)[:, None], np.linspace(0, TAU, around + 1)[None]
    saw = np.abs(((z / pitch - a / TAU) % 1.0) * 2 - 1)
    r = radius * (1 - 0.16 * saw) * np.where((z <= 0) | (z >= length), 0.8, 1.0)
    points = np.stack([r * np.cos(a), r * np.sin(a), np.broadcast_to(z, r.shape)], -1)
    return merge(
        sheet(points[:, ::-1]), move(prism(circle(radius * 0.85, 20), 0.02), None, (0, 0, length))
    )


def screw(rng: Rng) -> list[Part]:
    """Machine or wood screw lying down or standing on its head."""
    r = float(rng.uniform(0.9, 3.0))
    length, head_r, head_h = (
        r * rng.uniform(2, 9),
        r * rng.uniform(1.6, 2.1),
        r * rng.uniform(0.7, 2),
    )
    steel = metal(rng)
    kind = rng.integers(3)
    if kind == 0:
        head = turned(
            [
                (0, 0),
                (head_r * 0.95, 0),
                (head_r, head_h * 0.1),
                (head_r, head_h * 0.9),
                (head_r * 0.93, head_h),
                (0, head_h),
            ]
        )
    elif kind == 1:
        a = np.linspace(0, np.pi / 2, 8)
        head = turned([(0, 0), *np.stack([head_r * np.cos(a), head_h * np.sin(a)], 1)])
    else:
        head = prism(circle(head_r, 6), head_h, 0.1 * r)
    body = merge(head, move(thread(r, length, r * 0.35), turn([1, 0, 0], np.pi), (0, 0, 0.01)))
    parts = [part("screw", body, steel)]
    if kind != 2 or rng.random() < 0.3:
        parts.append(
            part(
                "screw-socket",
                move(_socket(rng, head_r * 0.5, 0.03), None, (0, 0, head_h)),
                plastic(rng, dark=True),
            )
        )
    if rng.random() < 0.25:
        flip = turn([1, 0, 0], np.pi)
        return place(parts, flip, (0, 0, head_h))
    lean = np.arctan2(head_r - r, length)
    return place(parts, turn([0, 1, 0], np.pi / 2 + lean), (0, 0, head_r * np.cos(lean)))


def nut(rng: Rng) -> list[Part]:
    """Hexagon, square or round nut, washer, ring: flat or on edge."""
    r = float(rng.uniform(1.5, 7))
    n = int(rng.choice([6, 6, 6, 4, 48]))
    outer = circle(r, 48)
    if n < 48:
        a = (np.arange(48) / 48 * TAU) % (TAU / n) - np.pi / n
        outer = outer * (np.cos(np.pi / n) / np.cos(a))[:, None]
    height = r * (rng.uniform(0.1, 0.2) if n == 48 else rng.uniform(0.5, 1.0))
    mesh = plate(outer, circle(r * rng.uniform(0.4, 0.65), 48), height)
    if rng.random() < 0.2:
        mesh = move(mesh, turn([1, 0, 0], np.pi / 2), (0, 0, r))
    return [part("nut", mesh, metal(rng), smooth=n == 48)]


def spring(rng: Rng) -> list[Part]:
    """Coil spring lying down."""
    turns, r, wire = rng.uniform(4, 14), rng.uniform(1.5, 5), rng.uniform(0.2, 0.8)
    t = np.linspace(0, turns, int(turns * 18))
    pitch = wire * rng.uniform(2.1, 4)
    path = np.stack([pitch * t, r * np.cos(TAU * t), r * np.sin(TAU * t) + r + wire], -1)
    return [part("spring", tube(path, wire, 8), metal(rng))]


def disc(rng: Rng) -> list[Part]:
    """Coin-like disc with a raised rim and relief, or a magnet or a button cell."""
    r, h = float(rng.uniform(4, 13)), float(rng.uniform(0.8, 4))
    mesh = turned(
        [
            (0, 0),
            (r * 0.97, 0),
            (r, 0.05 * r),
            (r, h),
            (r * 0.92, h),
            (r * 0.9, h * 0.9),
            (0, h * 0.9),
        ],
        64,
    )
    bits = [mesh]
    for _ in range(int(rng.integers(0, 12))):
        a, q = rng.uniform(0, TAU), rng.uniform(0, 0.7) * r
        bits.append(
            move(
                box((rng.uniform(0.3, 2), rng.uniform(0.3, 1), 0.15)),
                turn([0, 0, 1], a),
                (q * np.cos(a), q * np.sin(a), h * 0.9),
            )
        )
    return [part("disc", merge(*bits), metal(rng))]


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
