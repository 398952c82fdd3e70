"""The solder at the mouth of a cup: the fillet that stands out, or a ring that stopped short."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .capillary import fillet
from .mesh import Array, grid_faces, noise3
from .solder_surfaces import (
    PHI,
    ContactLine,
    Sheet,
    dry_at,
    level_at,
    lumps,
    pool_heights,
    strands_under,
)
from .spec import JointSpec


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
    cup, rc = spec.cup, spec.core_mm
    cy, cz = spec.offset
    r_lip, walled = lip_radius(spec)
    lip_points = np.column_stack(
        [np.zeros_like(PHI), cy + r_lip * np.sin(PHI), cz + r_lip * np.cos(PHI)]
    )
    level0 = float(level_at(spec, np.array([0.0]))[0])
    if cup.cut == "closed":
        level0 = 0.0 if spec.recess_mm > 0 else 1.0
    if not spec.supply or level0 < 0.5:  # the solder stops short inside and has no line here
        return None
    dry_wire, dry_cup = dry_at(spec, "conductor", PHI), dry_at(spec, "cup", PHI) & walled
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
    r = np.where(bare[None], rc - 0.15, r)  # below the lowest of the strands
    points = np.stack([x, cy + r * np.sin(PHI), cz + r * np.cos(PHI)], axis=-1)
    fade = np.sin(np.linspace(0.25, 0.85, x.shape[0]) * np.pi)[:, None]
    bump = lumps(spec, points, seed + 7) * fade * ~bare
    bump = bump + strands_under(spec, points, seed + 13) * ~bare
    points = points + bump[..., None] * np.stack(
        [np.zeros_like(PHI), np.sin(PHI), np.cos(PHI)], axis=-1
    )
    faces = grid_faces(x.shape[0], len(PHI), wrap=True)
    column = faces[:, 0] % len(PHI)
    marks = np.zeros(len(faces), np.uint16)
    if spec.rough > 0:
        marks |= np.uint16(pt.ROUGH)
    r_face = r.reshape(-1)[faces].mean(axis=1)
    if cup.cut == "closed":
        marks |= np.where(r_face < np.maximum(r_lip, rc)[column], pt.MOUTH, 0).astype(np.uint16)
    over = r_face > np.maximum(r_lip[column], cup.outer) + 0.1 * spec.d_mm
    marks |= np.where(over, pt.SURPLUS, 0).astype(np.uint16)
    on_wire = ~bare
    lips = [
        ContactLine(points[0][on_wire], ~dry_wire[on_wire], "conductor"),
        ContactLine(lip_points[walled], ~dry_cup[walled], "cup"),
    ]
    # where the wire stands out of the solder, the solder's flank comes down on it
    for side in (1, -1):
        for k in np.flatnonzero(on_wire & np.roll(bare, side)):
            at = PHI[(k - side) % len(PHI)]
            foot = np.broadcast_to([cy + rc * np.sin(at), cz + rc * np.cos(at)], (len(x), 2))
            flank = np.column_stack([x[:, k], foot])
            lips += [ContactLine(flank, np.full(len(x), not dry_wire[k]), "conductor")]
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
    mark = pt.MOUTH | (pt.SHORT if spec.recess_mm > 0.5 * cup.inner else 0)
    return Sheet(points.reshape(-1, 3), faces, np.full(len(faces), mark, np.uint16))
