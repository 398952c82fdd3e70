"""The solder of a joint as parts, with what hangs on it: spikes, holes, blobs, flux, a collar."""

from __future__ import annotations

import numpy as np

from . import part as pt
from .blemishes import Ground, ground, pit
from .bundle import SMOOTH
from .extras import Mesh, blob, flux_cap, spike_mesh
from .mesh import Array, grid_faces, noise3
from .part import Material, Part, as_part
from .solder_bead import ROWS as BEAD_ROWS, loose_bead
from .solder_mouth import mouth_fillet, recessed_ring
from .solder_surfaces import COARSE, ContactLine, Sheet, pool
from .spec import JointSpec
from .terminal import Cup

EDGE_RAD = 0.1  # how far from a cup's cut a run of solder hangs on its wall; ours, no source


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
    grids: list[tuple[Sheet, int, int]] = []  # solder to hang extras on
    if spec.bead > 0:
        sheet, lines = loose_bead(spec, seed)
        solid = ground(spec, [(sheet, BEAD_ROWS, len(sheet.vertices) // BEAD_ROWS)])
        hung, spikes = ([], []) if solid is None else _hung(spec, rng, solid)
        return [_sheet_part("pool", spec, sheet), *hung], lines, None, spikes
    made = mouth_fillet(spec, seed)
    if made:
        sheet, found = made
        lines += found
        if len(sheet.faces):
            parts.append(_sheet_part("fillet", spec, sheet))
            fillet_grid = sheet.vertices.reshape(30, -1, 3)
            grids.append((sheet, 30, fillet_grid.shape[1]))
    in_cup = pool(spec, seed + 11)
    if in_cup:
        sheet, found = in_cup
        lines += found
        # truth and what hangs on the solder are those of the coarse grid; a finer one is only drawn
        grids.append((sheet, *COARSE))
        if spec.relief > SMOOTH and (fine := pool(spec, seed + 11, singly=True)):
            sheet = fine[0]
        parts.append(_sheet_part("pool", spec, sheet))
    if spec.cup.cut == "closed" and spec.supply and spec.recess_mm > 0:
        parts.append(_sheet_part("recessed solder", spec, recessed_ring(spec, seed + 5)))
    solid = ground(spec, grids)
    if solid is None:
        return parts, lines, fillet_grid, []
    hung, spikes = _hung(spec, rng, solid)
    return parts + hung, lines, fillet_grid, spikes


def _hung(
    spec: JointSpec, rng: np.random.Generator, solid: Ground
) -> tuple[list[Part], list[Array]]:
    """Spikes, holes, blobs and flux on the solder, and each spike's base and tip."""
    parts: list[Part] = []
    spikes: list[Array] = []
    for s in spec.spikes:
        at, normal = solid.pick(rng)
        base = 0.18 * spec.core_mm + 0.15 * s.size_mm
        mesh, tip = spike_mesh(rng, at, normal + 0.5 * np.array(s.lean), s.size_mm, base)
        parts.append(_marked("spike", mesh, spec.solder, pt.SPIKE))
        spikes.append(np.stack([at, tip]))
    for s in spec.holes:
        at, normal = solid.pick(rng)
        black = np.array([0.010, 0.009, 0.008]) * rng.uniform(0.6, 4.0)
        dark = Material("hole", "plastic", tuple(map(float, black)), 0.9)  # type: ignore[arg-type]
        opening, rim = pit(rng, solid, at, normal, s.size_mm, crack=s.kind == "crack")
        parts.append(_marked("hole", opening, dark, pt.HOLE))
        parts.append(_marked("hole's rim", rim, spec.solder, 0))
    for s in spec.blobs:
        if s.kind == "outer":  # a run on the outside of the cup
            at, normal = on_wall(spec.cup, s.x * spec.cup.depth, np.radians(s.angle_deg))
        else:
            at, normal = solid.pick(rng)
        mesh = blob(rng, at, normal, s.size_mm, float(rng.uniform(0.45, 1.1)))
        mark = pt.SURPLUS if 0.8 * s.size_mm > 0.1 * spec.d_mm else 0
        parts.append(_marked("blob", mesh, spec.solder, mark))
    for _ in range(int(1 + 4 * spec.flux) if spec.flux > 0 else 0):
        at, normal = solid.pick(rng)
        r, g, b = np.array([0.35, 0.16, 0.03]) * rng.uniform(0.15, 1.2)
        amber = Material(
            "flux", "glass", (float(r), float(g), float(b)), float(rng.uniform(0.03, 0.3))
        )
        mesh = flux_cap(rng, at, normal, float(rng.uniform(0.2, 0.7) * spec.core_mm))
        parts.append(as_part("flux", mesh, pt.SOLDER, amber))
    return parts, spikes


def on_wall(cup: Cup, x_mm: float, phi: float) -> tuple[Array, Array]:
    """Place on the cup's outside at x and near phi (radians from +z), and the normal there.

    Where the cup is open it is the wall's edge: nothing hangs in the air.
    """
    least = float(cup.opening(np.array(x_mm))) + EDGE_RAD
    phi = float(np.copysign(max(abs(phi), least), phi))
    normal = np.array([0.0, np.sin(phi), np.cos(phi)])
    return np.array([x_mm, 0.0, 0.0]) + normal * cup.outer, normal


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
