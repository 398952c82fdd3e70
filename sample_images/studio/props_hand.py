"""Fingers that hold a wire. Label 0."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from .part import Material, Part
from .props_shapes import (
    TAU,
    Floats,
    across,
    frames as path_frames,
    part,
    sheet,
    spline,
    toward,
    tube,
    turn,
    unit,
)

Rng = np.random.Generator
# linear reflectance of skin, light to dark; from memory of published skin colour ranges
SKINS = (
    (0.60, 0.40, 0.31),
    (0.50, 0.31, 0.22),
    (0.40, 0.23, 0.15),
    (0.28, 0.145, 0.085),
    (0.15, 0.07, 0.04),
    (0.07, 0.032, 0.02),
)


@cache
def _creases() -> tuple[NDArray[np.float32], ...]:
    """Fixed fields: fine skin lines, ridges of the fingertip, blotches."""
    rng = np.random.default_rng(3)
    fine = cv2.GaussianBlur(rng.standard_normal((512, 256)).astype(np.float32), (0, 0), 1.2)
    wide = cv2.GaussianBlur(
        rng.standard_normal((512, 256)).astype(np.float32), (0, 0), 3, sigmaY=1.0
    )
    blotch = cv2.GaussianBlur(rng.standard_normal((512, 256)).astype(np.float32), (0, 0), 28)
    return tuple(k / k.std() for k in (fine, wide, blotch))


def skin(rng: Rng) -> tuple[Material, NDArray[np.float64]]:
    """Skin with creases at the joints of the finger; v of uv runs from the tip (0) to the palm."""
    i = rng.uniform(0, len(SKINS) - 1)
    a, b = np.array(SKINS[int(i)]), np.array(SKINS[min(int(i) + 1, len(SKINS) - 1)])
    rgb = (a + (b - a) * (i % 1)) * rng.uniform(0.85, 1.15) * rng.normal(1, 0.04, 3)
    fine, wide, blotch = (np.roll(k, int(rng.integers(0, 256)), 1) for k in _creases())
    v = np.linspace(0, 1, 512, dtype=np.float32)[:, None]
    u = np.linspace(0, TAU, 256, dtype=np.float32)[None]
    ridges = np.sin(420 * v + 6 * np.sin(u) + 2 * blotch) * np.clip(0.2 - v, 0, 0.2) * 0.3
    tone = 1 + 0.035 * fine + 0.03 * wide + 0.05 * blotch + ridges
    for centre in (0.27, 0.56):
        for k in range(-2, 3):
            line = np.exp(-(((v - centre - 0.012 * k - 0.004 * np.sin(3 * u + k)) / 0.0025) ** 2))
            tone = tone - 0.22 * line * rng.uniform(0.3, 1)
    pink = np.exp(-(((v - 0.02) / 0.12) ** 2)) + 0.5 * np.exp(-(((v - 0.27) / 0.04) ** 2))
    texture = rgb * tone[..., None] * (1 + pink[..., None] * np.array([0.10, -0.10, -0.10]))
    if rng.random() < 0.25:  # flux and dirt of the day
        dirt = np.clip(wide - 1.0, 0, 1)[..., None] * rng.uniform(0.2, 0.8)
        texture = texture * (1 - dirt) + np.array([0.03, 0.025, 0.02]) * dirt
    texture = np.clip(texture, 0.01, 0.9).astype(np.float32)
    r, g, b_ = (float(k) for k in rgb)
    return Material("skin", "skin", (r, g, b_), float(rng.uniform(0.35, 0.6)), 0.0, texture), rgb


def _finger(rng: Rng, knots: Floats, radius: float, pad: Floats) -> tuple[Part, Part] | None:
    """One finger along `knots` from tip to palm; `pad` is the way its soft side faces."""
    path = spline(knots, 64)
    s = np.linspace(0, 1, 64)
    bulge = sum(h * np.exp(-(((s - c) / 0.05) ** 2)) for c, h in ((0.27, 0.07), (0.56, 0.09)))
    r = radius * (0.80 + 0.28 * s**0.7 + bulge)
    r[:10] *= np.sqrt(np.clip(1 - (1 - np.linspace(0.35, 1, 10)) ** 2, 0, 1))
    _, u, b = path_frames(path)
    soft = unit(pad)
    angle = np.arctan2(b[4] @ soft, u[4] @ soft)
    phi = np.linspace(0, TAU, 29)
    swell = 1 - 0.06 * np.cos(2 * (phi - angle))[None] * np.exp(-s / 0.3)[:, None]
    material, rgb = skin(rng)
    body = part("finger", tube(path, r, 28, swell=swell), material)
    rows, cols = np.linspace(2, 11, 10), np.linspace(-0.75, 0.75, 11)
    wide = np.sqrt(np.clip(1 - ((rows - 8.0) / 7.5) ** 2, 0.05, 1))
    a = angle + np.pi + cols[None] * wide[:, None]
    at = rows.astype(int)
    ring = u[at][:, None] * np.cos(a)[..., None] + b[at][:, None] * np.sin(a)[..., None]
    lift = (r[at] * 0.97 + 0.25)[:, None] * (1 - 0.02 * cols[None] ** 2)
    nail_points = path[at][:, None] + ring * lift[..., None]
    paint = (
        rng.dirichlet([1, 1, 1]) * 1.2 if rng.random() < 0.08 else rgb * [1.08, 0.98, 0.95] + 0.04
    )
    tone = tuple(float(k) for k in np.clip(paint, 0.02, 0.85))
    nail = part(
        "nail", sheet(nail_points), Material("nail", "skin", tone, float(rng.uniform(0.12, 0.35)))
    )  # type: ignore[arg-type]
    return body, nail


def hand(
    rng: Rng, at: ArrayLike, direction: ArrayLike, radius: float, camera: ArrayLike | None = None
) -> list[Part]:
    """Thumb and fingers that grip a wire of `radius` mm at `at`.

    direction runs along the wire from the joint to the hand. With `camera` the fingers come from
    the sides as that camera sees it, so that the palm stays off the line of sight.
    """
    p, d = np.asarray(at, float), unit(direction)
    side = across(d)[0] if camera is None else unit(np.cross(d, np.asarray(camera, float) - p))
    side = turn(d, float(rng.uniform(-0.7, 0.7))) @ side
    up = np.cross(side, d)
    if up[2] < 0:
        up = -up
    size = float(rng.uniform(6.3, 9.5))
    out: list[Part] = []
    count = int(rng.choice([1, 2, 3]))
    for k in range(1 + count):  # k = 0 is the thumb
        sign = 1.0 if k == 0 else -1.0
        r = size * (1.18 if k == 0 else 1.0 - 0.06 * (k - 1))
        back = 0.0 if k == 0 else (k - 1) * 1.75 * size
        touch = p + side * sign * (radius + 0.80 * r) + d * (back + rng.uniform(0, 3))
        out_way = side * sign
        lean = rng.uniform(0.2, 0.9)
        tip = touch - d * r * rng.uniform(0.4, 0.9) - out_way * r * 0.05
        bend = rng.uniform(0.3, 1.0)
        knots = np.array(
            [
                tip,
                touch + d * r,
                touch + d * 3.0 * r + out_way * bend * 0.8 * r + up * lean * r * 0.5,
                touch + d * 6 * r + out_way * bend * 2.0 * r + up * lean * r,
                touch + d * 10.5 * r + out_way * bend * 1.5 * r + up * lean * 1.6 * r,
            ]
        )
        made = _finger(rng, knots, r, -out_way)
        if made:
            out += list(made)
    material = out[0].material
    return [part_with(q, material) if q.name == "finger" else q for q in out]


def part_with(q: Part, material: Material) -> Part:
    """The same mesh in another material: all fingers of a hand share one skin."""
    return Part(q.name, q.vertices, q.faces, q.label, material, q.uv, q.colors, q.marks, q.smooth)


def fingertip(rng: Rng, at: ArrayLike, direction: ArrayLike) -> list[Part]:
    """One finger whose tip is at `at`, its length along `direction`: points, or covers."""
    r = float(rng.uniform(6, 10))
    d = unit(direction)
    u, _ = across(d)
    knots = np.asarray(at, float) + d * np.array([0, 1, 3, 6, 11])[:, None] * r
    knots[2:] += u * rng.normal(0, 0.5 * r, (3, 1))
    spin = toward(d, float(rng.uniform(0, TAU)))[:, 0]
    made = _finger(rng, knots, r, spin)
    return list(made) if made else []
