"""The solder of one cup joint: pool in the cup, fillet at its mouth, and what went wrong.

All in joint coordinates (mm). Contact lines come with a flag for wetting at each point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import part as P
from .capillary import fillet
from .mesh import Array, grid_faces, noise3
from .spec import JointSpec

PHI = np.linspace(0, 2 * np.pi, 120, endpoint=False)


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


def _dry_at(spec: JointSpec, place: str, phi: Array) -> NDArray[np.bool_]:
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
            np.exp(-(((1 - inner) * span[:, None] / 0.12) ** 2))
            * _dry_at(spec, "conductor", phi_sides[k])[:, None]
        )
        groove += (
            np.exp(-((inner * span[:, None] / 0.12) ** 2))
            * _dry_at(spec, "cup", phi_sides[k])[:, None]
        )
        surface -= groove * np.minimum(0.3 * rc, 0.4 * span)[:, None]
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


def _lumps(spec: JointSpec, points: Array, seed: int) -> Array:
    """Displacement of the surface (mm): almost none when sound, lumps or grain when not."""
    rc = spec.core_mm
    calm = 0.012 * rc * noise3(points, seed, 0.5 * rc, 2)
    if spec.rough <= 0:
        return calm
    if spec.rough_kind == "grainy":
        return calm + spec.rough * 0.06 * rc * noise3(points, seed + 1, 0.14 * rc, 3)
    if spec.rough_kind == "wrinkled":
        bend = noise3(points, seed + 2, 1.2 * rc, 2)
        return calm + spec.rough * 0.07 * rc * np.sin((points[..., 0] / rc + 0.6 * bend) * 9)
    return calm + spec.rough * 0.22 * rc * (np.abs(noise3(points, seed + 3, 0.45 * rc, 3)) - 0.35)


def pool(spec: JointSpec, seed: int) -> tuple[Sheet, list[ContactLine]] | None:
    """The free surface inside the cup, or None for a closed cup."""
    cup = spec.cup
    if cup.cut == "closed" or not spec.supply:
        return None
    x = np.linspace(0.0, cup.depth * 0.995, 64)
    keep = cup.opening(x) > 0.02
    if keep.sum() < 4:
        return None
    first, last = np.flatnonzero(keep)[[0, -1]]
    x = np.linspace(x[first], x[last], 60)
    v = np.linspace(-1, 1, 49)
    y, z, walls, contacts = pool_heights(spec, x, v)
    points = np.stack([np.broadcast_to(x[:, None], y.shape), y, z], axis=-1)
    level = level_at(spec, x)
    z = z + _lumps(spec, points, seed) * np.clip(1 - np.abs(v) ** 6, 0, 1)
    z = np.where(level[:, None] < 0.04, z - 0.15, z)
    points[..., 2] = z
    faces = grid_faces(len(x), len(v))
    rim = (cup.inner * np.cos(cup.opening(x)))[:, None]
    deep = (rim - z > 0.5 * cup.inner) | (level[:, None] < 0.3)
    face_row = faces // len(v)
    face_deep = deep.reshape(-1)[faces].mean(axis=1) > 0.5
    marks = np.full(len(faces), P.MOUTH, np.uint16)
    marks |= np.where(face_deep, P.SHORT, 0).astype(np.uint16)
    if spec.rough > 0:
        marks |= np.uint16(P.ROUGH)
    if spec.dome_mm > 0:
        top = z - np.maximum(rim, spec.offset[1] + spec.core_mm) > 0.05 * spec.d_mm
        marks |= np.where(top.reshape(-1)[faces].mean(axis=1) > 0.5, P.SURPLUS, 0).astype(np.uint16)
    del face_row
    lines = []
    filled = level > 0.3
    cy, cz = spec.offset
    for k in range(2):
        wall_phi = np.arctan2(walls[:, k, 0] - cy, walls[:, k, 1] - cz)
        wet = filled & ~_dry_at(spec, "cup", wall_phi)
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
                    filled[on_wire] & ~_dry_at(spec, "conductor", phi),
                    "conductor",
                )
            )
    return Sheet(points.reshape(-1, 3), faces, marks), lines


def lip_radius(spec: JointSpec) -> tuple[Array, NDArray[np.bool_]]:
    """Distance from the conductor's axis to where solder stands at the lip, over PHI.

    Second array: directions in which the cup has a wall at the lip.
    """
    cup, rc = spec.cup, spec.core_mm
    cy, cz = spec.offset
    edge = cup.inner + spec.attach * (cup.outer - cup.inner)
    sine, cosine = np.sin(PHI), np.cos(PHI)
    along = -(cy * sine + cz * cosine)
    r_wall = along + np.sqrt(np.maximum(along**2 - (cy**2 + cz**2 - edge**2), 0))
    hit_y, hit_z = cy + r_wall * sine, cz + r_wall * cosine
    alpha = float(cup.opening(np.array([0.0]))[0])
    walled = np.abs(np.arctan2(hit_y, hit_z)) >= alpha
    if cup.cut == "closed" or alpha < 0.02:
        return r_wall, np.ones(len(PHI), bool)
    y, z, _, _ = pool_heights(spec, np.array([0.0]), np.linspace(-1, 1, 181))
    polar = np.arctan2(y[0] - cy, z[0] - cz)
    radius = np.hypot(y[0] - cy, z[0] - cz)
    order = np.argsort(polar)
    wrapped = (PHI + np.pi) % (2 * np.pi) - np.pi
    r_open = np.maximum(np.interp(wrapped, polar[order], radius[order]), rc)
    return np.where(walled, r_wall, r_open), walled


def mouth_fillet(spec: JointSpec, seed: int) -> tuple[Sheet, list[ContactLine]] | None:
    """The fillet that stands out of the cup along the conductor."""
    lips: list[ContactLine] = []
    cup, rc = spec.cup, spec.core_mm
    cy, cz = spec.offset
    r_lip, walled = lip_radius(spec)
    lip_points = np.column_stack(
        [np.zeros_like(PHI), cy + r_lip * np.sin(PHI), cz + r_lip * np.cos(PHI)]
    )
    level0 = float(level_at(spec, np.array([0.0]))[0])
    if cup.cut == "closed":
        level0 = 0.0 if spec.recess_mm > 0 else 1.0
    if not spec.supply or level0 < 0.5:
        lips.append(ContactLine(lip_points[walled], np.zeros(int(walled.sum()), bool), "cup"))
        return (
            None
            if not spec.supply
            else (
                Sheet(np.zeros((0, 3)), np.zeros((0, 3), np.uint32), np.zeros(0, np.uint16)),
                lips,
            )
        )
    dry_wire, dry_cup = _dry_at(spec, "conductor", PHI), _dry_at(spec, "cup", PHI) & walled
    wobble = noise3(np.column_stack([np.cos(PHI), np.sin(PHI), np.zeros_like(PHI)]), seed, 0.8, 2)
    theta = np.radians(np.clip(spec.theta_deg + 3 * wobble, 2, 150))
    theta = np.where(dry_wire, np.radians(np.clip(115 + 20 * wobble, 95, 150)), theta)
    r_top = np.where(dry_cup, rc + 0.55 * (r_lip - rc), r_lip)
    smooth = np.array([1, 2, 1]) / 4
    for _ in range(2):  # no sharper change round the wire than surface tension allows
        theta = np.convolve(np.concatenate([theta[-1:], theta, theta[:1]]), smooth, "valid")
        r_top = np.convolve(np.concatenate([r_top[-1:], r_top, r_top[:1]]), smooth, "valid")
    two_h = np.full_like(PHI, spec.pressure / rc)
    if spec.bulge:  # a bead of 1.05 to 1.7 times the lip's radius
        two_h = 2 / ((1.7 - 0.65 * min(spec.pressure, 1.0)) * r_lip)
    xr = fillet(
        np.full_like(PHI, rc),
        np.maximum(r_top, rc * 1.004),
        theta,
        two_h,
        bulge=spec.bulge,
        points=30,
    )
    limit = -(spec.gap_mm + 0.3) if spec.gap_mm > 0 else -0.3
    shrink = np.minimum(1, limit / np.minimum(xr[:, 0].min(axis=0), -1e-6))
    x, r = xr[:, 0] * shrink, xr[:, 1]
    bare = (r_top - rc) < 0.02
    r = np.where(bare[None], rc - 0.06, r)
    points = np.stack([x, cy + r * np.sin(PHI), cz + r * np.cos(PHI)], axis=-1)
    fade = np.sin(np.linspace(0.25, 0.85, x.shape[0]) * np.pi)[:, None]
    bump = _lumps(spec, points, seed + 7) * fade * ~bare
    points = points + bump[..., None] * np.stack(
        [np.zeros_like(PHI), np.sin(PHI), np.cos(PHI)], axis=-1
    )
    faces = grid_faces(x.shape[0], len(PHI), wrap=True)
    column = faces[:, 0] % len(PHI)
    marks = np.zeros(len(faces), np.uint16)
    if spec.rough > 0:
        marks |= np.uint16(P.ROUGH)
    r_face = r.reshape(-1)[faces].mean(axis=1)
    if cup.cut == "closed":
        marks |= np.where(r_face < np.maximum(r_lip, rc)[column], P.MOUTH, 0).astype(np.uint16)
    over = r_face > np.maximum(r_lip[column], cup.outer) + 0.1 * spec.d_mm
    marks |= np.where(over, P.SURPLUS, 0).astype(np.uint16)
    on_wire = ~bare
    lips.append(ContactLine(points[0][on_wire], ~dry_wire[on_wire], "conductor"))
    lips.append(ContactLine(lip_points[walled], ~dry_cup[walled], "cup"))
    return Sheet(points.reshape(-1, 3), faces, marks), lips


def recessed_ring(spec: JointSpec, seed: int) -> Sheet:
    """Solder that stopped short inside a closed cup: a ring between wire and wall."""
    cup, rc = spec.cup, spec.core_mm
    u = np.linspace(0, 1, 14)[:, None]
    r_lip = np.maximum(lip_radius(spec)[0] - spec.attach * (cup.outer - cup.inner), rc * 1.01)
    r = rc + (r_lip - rc) * u
    x = (
        spec.recess_mm
        - 1.2 * (u - 0.5) ** 2 * np.maximum(r_lip - rc, 0.1)
        + 0.03
        * noise3(
            np.stack(
                [
                    np.broadcast_to(u, r.shape),
                    np.broadcast_to(np.cos(PHI), r.shape),
                    np.broadcast_to(np.sin(PHI), r.shape),
                ],
                -1,
            ),
            seed,
            0.7,
        )
    )
    cy, cz = spec.offset
    points = np.stack([x, cy + r * np.sin(PHI), cz + r * np.cos(PHI)], axis=-1)
    faces = grid_faces(14, len(PHI), wrap=True)
    mark = P.MOUTH | (P.SHORT if spec.recess_mm > 0.5 * cup.inner else 0)
    return Sheet(points.reshape(-1, 3), faces, np.full(len(faces), mark, np.uint16))
