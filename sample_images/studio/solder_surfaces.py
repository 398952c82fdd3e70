"""The solder of one cup joint: pool in the cup, fillet at its mouth, and what went wrong.

All in joint coordinates (mm). Contact lines come with a flag for wetting at each point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .bundle import SMOOTH, STRAND_MM, along_lay
from .mesh import Array, grid_faces, noise3
from .spec import JointSpec

PHI = np.linspace(0, 2 * np.pi, 120, endpoint=False)
FURROW = 0.3  # of a strand: depth between two strands under a thin coat of solder; ours, no source


@dataclass(frozen=True)
class Sheet:
    """One surface: marks are per face, `lip` flags nothing but is kept for outlines."""

    vertices: Array
    faces: NDArray[np.uint32]
    marks: NDArray[np.uint16]


@dataclass(frozen=True)
class ContactLine:
    """Where solder ends on another metal: points (n, 3), wet (n,), on what."""

    points: Array
    wet: NDArray[np.bool_]
    on: str


def dry_at(spec: JointSpec, place: str, phi: Array) -> NDArray[np.bool_]:
    """Which directions phi (radians) have no wetting on the conductor or the cup."""
    dry = np.zeros(phi.shape, bool)
    for d in spec.dry:
        if d.at == place:
            away = np.abs((np.degrees(phi) - d.middle_deg + 180) % 360 - 180)
            dry |= away <= d.width_deg / 2
    return dry


def level_at(spec: JointSpec, x: Array) -> Array:
    """Fill level of the cup along x: 1 to the rim, 0 empty."""
    u = x / spec.cup.depth
    soft = 0.06
    rise = np.clip((u - spec.fill_from) / soft + 0.5, 0, 1) if spec.fill_from > 0 else 1.0
    fall = np.clip((spec.fill_to - u) / soft + 0.5, 0, 1) if spec.fill_to < 1 else 1.0
    return spec.level * rise * fall * np.ones_like(u)


def pool_heights(spec: JointSpec, x: Array, v: Array) -> tuple[Array, Array, Array, Array]:
    """Free surface of the pool: y, z (rows, columns), wall and conductor contacts (rows, 2, 2).

    Contacts are (y, z) at -y and +y; NaN where the pool does not touch the conductor.
    """
    cup, rc = spec.cup, spec.core_mm
    cy, cz = spec.offset
    level = level_at(spec, x)
    angle = cup.opening(x) + (1 - level) * (np.pi - cup.opening(x)) * 0.85
    w, z_wall = cup.inner * np.sin(angle), cup.inner * np.cos(angle)
    lift = spec.climb * rc * np.minimum(1, w / cup.inner * 1.2) * np.minimum(1, level * 1.5)
    inside_wire = x <= spec.seat * cup.depth
    z_k = np.clip(z_wall + lift, None, cz + rc * 0.999)
    reach2 = rc**2 - (z_k - cz) ** 2
    touches = (reach2 > 0) & inside_wire & (z_k < cz + rc * 0.995)
    half = np.sqrt(np.maximum(reach2, 0))
    y = np.linspace(-1, 1, len(v))[None] * w[:, None]
    z = np.empty_like(y)
    contacts = np.full((len(x), 2, 2), np.nan)
    walls = np.stack([np.stack([-w, z_wall], -1), np.stack([w, z_wall], -1)], axis=1)
    seam = 0.1 + 0.12 * rc  # solder that does not wet draws back into a rounded edge
    phi_sides = (np.arctan2(-half, z_k - cz) % (2 * np.pi), np.arctan2(half, z_k - cz))
    for k, sign in enumerate((-1.0, 1.0)):
        y_k = cy + sign * half
        span = np.maximum(sign * (sign * w - y_k), 1e-3)
        q = np.clip((w[:, None] - sign * y) / span[:, None], 0, None)
        chord = np.hypot(span, z_k - z_wall)
        sag = 0.5 * chord * np.tan(np.radians(max(0.0, 80 - spec.theta_deg)) / 4)
        inner = np.clip(q, 0, 1)
        surface = (
            z_wall[:, None]
            + (z_k - z_wall)[:, None] * inner
            - (4 * sag)[:, None] * inner * (1 - inner)
        )
        groove = (
            np.exp(-(((1 - inner) * span[:, None] / seam) ** 2))
            * dry_at(spec, "conductor", phi_sides[k])[:, None]
        )
        groove += (
            np.exp(-((inner * span[:, None] / seam) ** 2))
            * dry_at(spec, "cup", phi_sides[k])[:, None]
        )
        surface -= groove * np.minimum(0.45 * rc, 0.5 * span)[:, None]
        open_pool = z_wall[:, None] - (
            0.25 * w * np.tan(np.radians(max(0.0, 80 - spec.theta_deg)) / 4)
        )[:, None] * (1 - (y / np.maximum(w, 1e-3)[:, None]) ** 2)
        side = sign * y >= 0 if k else y < 0
        z = np.where(side, np.where(touches[:, None], surface, open_pool), z)
        contacts[:, k, 0] = np.where(touches, y_k, np.nan)
        contacts[:, k, 1] = np.where(touches, z_k, np.nan)
    if spec.dome_mm > 0:
        dome = z_wall[:, None] + (spec.dome_mm * np.minimum(1, w / cup.inner))[:, None] * np.sqrt(
            np.clip(1 - (y / np.maximum(w, 1e-3)[:, None]) ** 2, 0, 1)
        )
        z = np.maximum(z, dome)
    return y, z, walls, contacts


def lumps(spec: JointSpec, points: Array, seed: int) -> Array:
    """Displacement of the surface (mm): almost none when sound, lumps or grain when not."""
    rc = spec.core_mm
    calm = 0.012 * rc * noise3(points, seed, 0.5 * rc, 2)
    height, scale = spec.ripple
    if height > 0:
        calm = calm + height * rc * noise3(points, seed + 4, scale * rc, 2)
    if spec.rough <= 0:
        return calm
    if spec.rough_kind == "grainy":
        return calm + spec.rough * 0.06 * rc * noise3(points, seed + 1, 0.14 * rc, 3)
    if spec.rough_kind == "wrinkled":
        bend = noise3(points, seed + 2, 1.2 * rc, 2)
        return calm + spec.rough * 0.07 * rc * np.sin((points[..., 0] / rc + 0.6 * bend) * 9)
    return calm + spec.rough * 0.22 * rc * (np.abs(noise3(points, seed + 3, 0.45 * rc, 3)) - 0.35)


def strands_under(spec: JointSpec, points: Array, seed: int, *, singly: bool = False) -> Array:
    """Relief (mm) of strands under a thin coat of solder, at points (..., 3) of its surface.

    Nothing where the coat is thick, or where there is no wire beneath. singly: not only the groups
    that strands lie in but each strand, which needs points closer together than strands are.
    """
    cy, cz = spec.offset
    x, y, z = np.moveaxis(points, -1, 0)
    thick = np.hypot(y - cy, z - cz) - spec.core_mm
    shows = np.clip(1 - thick / (2 * STRAND_MM), 0, 1) * (x <= spec.seat * spec.cup.depth)
    phi = np.arctan2(y - cy, z - cz)
    ropes = along_lay(phi, x, spec.lay_mm, spec.core_mm, seed)
    height = 0.6 * spec.ropes * ropes
    if singly:
        many = round(2 * np.pi * spec.core_mm / (spec.clump * STRAND_MM))  # lie round the bundle
        ridge = np.abs(np.cos(many * (phi + 2 * np.pi * x / spec.lay_mm) / 2))
        height = height + FURROW * spec.clump * (ridge - 2 / np.pi)
    return (spec.relief - SMOOTH) * STRAND_MM * shows * height


COARSE, FINE = (60, 49), (200, 201)  # rows and columns; a fine one has two points to most strands


def pool(
    spec: JointSpec, seed: int, *, singly: bool = False
) -> tuple[Sheet, list[ContactLine]] | None:
    """The free surface inside the cup, or None for a closed cup; singly: FINE, with each strand."""
    cup = spec.cup
    if cup.cut == "closed" or not spec.supply:
        return None
    x = np.linspace(0.0, cup.depth * 0.995, 640)  # fine, for a cup may close all at once
    keep = cup.opening(x) > 0.02
    if keep.sum() < 40:
        return None
    first, last = np.flatnonzero(keep)[[0, -1]]
    rows, columns = FINE if singly else COARSE
    x, v = np.linspace(x[first], x[last], rows), np.linspace(-1, 1, columns)
    y, z, walls, contacts = pool_heights(spec, x, v)
    points = np.stack([np.broadcast_to(x[:, None], y.shape), y, z], axis=-1)
    level = level_at(spec, x)
    bumps = lumps(spec, points, seed) + strands_under(spec, points, seed + 13, singly=singly)
    z = z + bumps * np.clip(1 - np.abs(v) ** 6, 0, 1)
    z = np.where(level[:, None] < 0.04, z - 0.15, z)
    points[..., 2] = z
    faces = grid_faces(len(x), len(v))
    rim = (cup.inner * np.cos(cup.opening(x)))[:, None]
    deep = (rim - z > 0.5 * cup.inner) | (level[:, None] < 0.3)
    face_row = faces // len(v)
    face_deep = deep.reshape(-1)[faces].mean(axis=1) > 0.5
    marks = np.full(len(faces), pt.MOUTH, np.uint16)
    marks |= np.where(face_deep, pt.SHORT, 0).astype(np.uint16)
    if spec.rough > 0:
        marks |= np.uint16(pt.ROUGH)
    if spec.dome_mm > 0:
        top = z - np.maximum(rim, spec.offset[1] + spec.core_mm) > 0.05 * spec.d_mm
        marks |= np.where(top.reshape(-1)[faces].mean(axis=1) > 0.5, pt.SURPLUS, 0).astype(
            np.uint16
        )
    del face_row
    lines = []
    filled = level > 0.3
    cy, cz = spec.offset
    for k in range(2):
        wall_phi = np.arctan2(walls[:, k, 0] - cy, walls[:, k, 1] - cz)
        wet = filled & ~dry_at(spec, "cup", wall_phi)
        rim_points = np.column_stack(
            [
                x,
                cup.inner * np.sin(cup.opening(x)) * (1 if k else -1),
                cup.inner * np.cos(cup.opening(x)),
            ]
        )
        lines.append(
            ContactLine(
                np.where(filled[:, None], np.column_stack([x, walls[:, k]]), rim_points), wet, "cup"
            )
        )
        on_wire = np.isfinite(contacts[:, k, 0])
        if on_wire.sum() > 2 and spec.dome_mm <= 0:
            c = contacts[on_wire, k]
            phi = np.arctan2(c[:, 0] - cy, c[:, 1] - cz)
            lines.append(
                ContactLine(
                    np.column_stack([x[on_wire], c]),
                    filled[on_wire] & ~dry_at(spec, "conductor", phi),
                    "conductor",
                )
            )
    return Sheet(points.reshape(-1, 3), faces, marks), lines
