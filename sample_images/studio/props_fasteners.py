"""Screws, nuts, springs, coin-like discs. Label 0, at the origin, on z = 0."""

from __future__ import annotations

import numpy as np

from .part import Part
from .props_finish import Rng, metal, plastic
from .props_shapes import (
    TAU,
    Mesh,
    box,
    circle,
    merge,
    move,
    part,
    place,
    plate,
    prism,
    sheet,
    tube,
    turn,
    turned,
)  # fmt: skip


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
