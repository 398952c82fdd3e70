"""The solder of a joint as parts, with what hangs on it: spikes, holes, blobs, flux, a collar."""

from __future__ import annotations

import numpy as np

from . import part as pt
from .extras import Mesh, blob, flux_cap, pit, spike_mesh
from .mesh import Array, grid_faces, noise3
from .part import Material, Part, as_part
from .solder_mouth import mouth_fillet, recessed_ring
from .solder_surfaces import ContactLine, Sheet, pool
from .spec import JointSpec


def _sheet_part(name: str, spec: JointSpec, sheet: Sheet) -> Part:
    mesh = (sheet.vertices, sheet.faces)
    return as_part(name, mesh, pt.SOLDER, spec.solder, marks=sheet.marks)


def _marked(name: str, mesh: Mesh, material: Material, mark: int) -> Part:
    """A part of solder with one mark all over."""
    return as_part(name, mesh, pt.SOLDER, material, marks=np.full(len(mesh[1]), mark, np.uint16))


def solder_parts(
    spec: JointSpec, rng: np.random.Generator
) -> tuple[list[Part], list[ContactLine], Array | None, list[Array]]:
    """Solder parts, contact lines, fillet grid, spikes."""
    parts: list[Part] = []
    lines: list[ContactLine] = []
    seed = int(rng.integers(1 << 30))
    fillet_grid = None
    anchors: list[tuple[Array, Array]] = []  # points on solder to hang extras on, with normals
    cy, cz = spec.offset
    made = mouth_fillet(spec, seed)
    if made:
        sheet, found = made
        lines += found
        if len(sheet.faces):
            parts.append(_sheet_part("fillet", spec, sheet))
            fillet_grid = sheet.vertices.reshape(30, -1, 3)
            mid = fillet_grid[18]
            out = mid - np.array([0, cy, cz]) * [0, 1, 1]
            anchors.append((mid, out * [0, 1, 1] + [-0.3, 0, 0]))
    in_cup = pool(spec, seed + 11)
    if in_cup:
        sheet, found = in_cup
        lines += found
        parts.append(_sheet_part("pool", spec, sheet))
        g = sheet.vertices.reshape(60, 49, 3)
        pts = g[6:54:4, 6:43:4].reshape(-1, 3)
        anchors.append((pts, np.tile([0.0, 0.0, 1.0], (len(pts), 1))))
    if spec.cup.cut == "closed" and spec.supply and spec.recess_mm > 0:
        parts.append(_sheet_part("recessed solder", spec, recessed_ring(spec, seed + 5)))
    if not anchors:
        return parts, lines, fillet_grid, []
    hung, spikes = _hung(spec, rng, anchors)
    return parts + hung, lines, fillet_grid, spikes


def _hung(
    spec: JointSpec, rng: np.random.Generator, anchors: list[tuple[Array, Array]]
) -> tuple[list[Part], list[Array]]:
    """Spikes, holes, blobs and flux on the solder, and each spike's base and tip."""
    points = np.concatenate([a for a, _ in anchors])
    normals = np.concatenate([n for _, n in anchors])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-9
    up = normals[:, 2] > -0.3
    places = np.flatnonzero(up) if up.any() else np.arange(len(points))

    def pick() -> tuple[Array, Array]:
        k = int(rng.choice(places))
        return points[k], normals[k]

    parts: list[Part] = []
    spikes: list[Array] = []
    for s in spec.spikes:
        at, normal = pick()
        base = 0.18 * spec.core_mm + 0.15 * s.size_mm
        mesh, tip = spike_mesh(rng, at, normal + 0.5 * np.array(s.lean), s.size_mm, base)
        parts.append(_marked("spike", mesh, spec.solder, pt.SPIKE))
        spikes.append(np.stack([at, tip]))
    for s in spec.holes:
        at, normal = pick()
        dark = Material("hole", "plastic", (0.01, 0.009, 0.008), 0.9)
        mesh = pit(rng, at, normal, s.size_mm, crack=s.kind == "crack")
        parts.append(_marked("hole", mesh, dark, pt.HOLE))
    for s in spec.blobs:
        if s.kind == "outer":  # a run on the outside of the cup
            phi = np.radians(s.angle_deg)
            normal = np.array([0, np.sin(phi), np.cos(phi)])
            at = np.array([s.x * spec.cup.depth, 0, 0]) + normal * spec.cup.outer
        else:
            at, normal = pick()
        mesh = blob(rng, at, normal, s.size_mm, float(rng.uniform(0.45, 1.1)))
        mark = pt.SURPLUS if 0.8 * s.size_mm > 0.1 * spec.d_mm else 0
        parts.append(_marked("blob", mesh, spec.solder, mark))
    for _ in range(int(1 + 4 * spec.flux) if spec.flux > 0 else 0):
        at, normal = pick()
        r, g, b = np.array([0.35, 0.16, 0.03]) * rng.uniform(0.15, 1.2)
        amber = Material(
            "flux", "glass", (float(r), float(g), float(b)), float(rng.uniform(0.03, 0.3))
        )
        mesh = flux_cap(rng, at, normal, float(rng.uniform(0.2, 0.7) * spec.core_mm))
        parts.append(as_part("flux", mesh, pt.SOLDER, amber))
    return parts, spikes


def collar_part(spec: JointSpec, rng: np.random.Generator) -> Part | None:
    """Solder that climbed over the insulation's end."""
    if spec.embed_deg <= 0:
        return None
    rows, sides = 26, 90
    u = np.linspace(0, 1, rows)[:, None]
    phi = np.linspace(0, 2 * np.pi, sides, endpoint=False)[None]
    cy, cz = spec.offset
    over = rng.uniform(0.15, 0.5) * spec.d_mm
    x = -spec.gap_mm - over + u * (over + max(spec.gap_mm, 0) + 0.1 * spec.cup.depth)
    centre = np.radians(rng.uniform(-60, 60))
    away = np.abs((phi - centre + np.pi) % (2 * np.pi) - np.pi)
    there = np.clip((np.radians(spec.embed_deg) / 2 - away) / 0.25, 0, 1)
    thick = rng.uniform(0.05, 0.14) * spec.d_mm
    r_over = spec.d_mm / 2 + thick * np.sin(np.pi * np.clip(u * 1.6, 0, 1)) ** 0.5
    r = r_over * (1 - u**2) + max(spec.cup.outer * 0.9, spec.core_mm) * u**2
    r = r * there + (spec.core_mm * 0.8) * (1 - there)
    r = r * (
        1
        + 0.04
        * noise3(
            np.stack(np.broadcast_arrays(u * 2, np.cos(phi), np.sin(phi)), -1),
            int(rng.integers(1 << 30)),
            0.8,
        )
    )
    points = np.stack(
        [np.broadcast_to(x, r.shape), cy + r * np.sin(phi), cz + r * np.cos(phi)], -1
    ).reshape(-1, 3)
    faces = grid_faces(rows, sides, wrap=True)
    x_face = points[faces, 0].mean(axis=1)
    mark = np.where(x_face < -spec.gap_mm + 0.25 * spec.d_mm, pt.EMBED, 0) | pt.SURPLUS
    return as_part("collar", (points, faces), pt.SOLDER, spec.solder, marks=mark.astype(np.uint16))
