"""One joint as meshes, with what the truth needs: its points, contact lines and strands."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from . import part as P
from .bundle import (
    STRAND_MM,
    birdcage_paths,
    bundle_mesh,
    insulation_mesh,
    strand_mesh,
    stray_path,
    wire_path,
)
from .extras import blob, flux_cap, pit, spike_mesh
from .materials import insulation
from .mesh import Array, grid_faces, merge, noise3, tube
from .part import Material, Part
from .solder_surfaces import ContactLine, mouth_fillet, pool, pool_heights, recessed_ring
from .spec import JointSpec
from .terminal import body, floor_disc, wall


@dataclass(frozen=True)
class StrandTruth:
    """A stray strand's centre line (n, 3) in mm."""

    path: Array
    tinned: bool


@dataclass(frozen=True)
class JointModel:
    """Parts and features of one joint, in the same coordinates."""

    spec: JointSpec
    parts: tuple[Part, ...]
    end: Array
    lip: Array
    toe: Array
    lines: tuple[ContactLine, ...]
    strands: tuple[StrandTruth, ...]
    spikes: tuple[Array, ...]  # (2, 3): base and tip
    fillet: Array | None  # (points, angles, 3)
    up: Array  # direction of the cup's opening
    axis: Array
    more_ends: tuple[Array, ...] = ()  # of other wires in the same cup

    def moved(self, m: NDArray[np.float64]) -> JointModel:
        """The model under a rigid motion (4, 4)."""

        def go(p: Array) -> Array:
            return p @ m[:3, :3].T + m[:3, 3]

        return replace(
            self,
            parts=tuple(p.moved(m) for p in self.parts),
            end=go(self.end), lip=go(self.lip), toe=go(self.toe),
            lines=tuple(replace(c, points=go(c.points)) for c in self.lines),
            more_ends=tuple(go(p) for p in self.more_ends),
            strands=tuple(replace(s, path=go(s.path)) for s in self.strands),
            spikes=tuple(go(s) for s in self.spikes),
            fillet=None if self.fillet is None else go(self.fillet),
            up=self.up @ m[:3, :3].T, axis=self.axis @ m[:3, :3].T,
        )  # fmt: skip


def _part(name: str, mesh: tuple, label: int, material: Material, **more: object) -> Part:
    vertices, faces = mesh[:2]
    return Part(name, vertices.astype(np.float32), faces.astype(np.uint32), label, material, **more)  # type: ignore[arg-type]


SLEEVES = (
    (0.012, 0.012, 0.012),
    (0.45, 0.01, 0.01),
    (0.02, 0.08, 0.35),
    (0.6, 0.45, 0.02),
    (0.02, 0.2, 0.05),
    (0.6, 0.58, 0.55),
)


def _sleeve(spec: JointSpec, rng: np.random.Generator, path: Array) -> list[Part]:
    """Heat-shrink on the wire: slid back, or (at a negative distance) over the joint."""
    if spec.sleeve_mm is None:
        return []
    at, long = spec.sleeve_mm
    ahead = path[:1] + np.linspace(60, 0.5, 60)[:, None] * np.array([1.0, 0, 0])
    line = np.concatenate([ahead, path])
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]) - 60
    want = np.linspace(at, at + long, 40)
    middle = np.stack([np.interp(want, s, line[:, k]) for k in range(3)], -1)
    thick = max(spec.d_mm / 2, spec.cup.outer if at < 0 else 0.0)
    r = (
        thick
        * rng.uniform(1.05, 1.4)
        * (1 + 0.02 * noise3(middle, int(rng.integers(1 << 30)), 4.0))
    )
    if at < 0 and rng.random() < 0.6:  # shrunk: it follows what is under it
        r = np.where(
            want > 0, spec.d_mm / 2 * 1.06, np.maximum(spec.cup.outer, spec.core_mm) * 1.08
        )
    rgb = np.array(SLEEVES[rng.integers(len(SLEEVES))]) * rng.lognormal(0, 0.2)
    skin = Material(
        "sleeve", "plastic", tuple(float(k) for k in rgb), float(rng.uniform(0.25, 0.6))
    )  # type: ignore[arg-type]
    outer = tube(middle, r, 40, caps=False)
    inner = tube(middle, r * 0.93, 40, caps=False)
    return [_part("sleeve", merge(outer, inner), P.SLEEVE, skin)]


def _insulation(spec: JointSpec, rng: np.random.Generator, floor: float) -> list[Part]:
    cy, cz = spec.offset
    path = wire_path(rng, np.array([-spec.gap_mm, cy, cz]), spec.wire_length_mm, spec.bend, floor)
    seed = int(rng.integers(1 << 30))
    v, f, along = insulation_mesh(
        path,
        spec.d_mm / 2,
        spec.core_mm * 0.98,
        ragged=spec.ragged_mm,
        flare=spec.flare,
        tilt=spec.cut_tilt,
        seed=seed,
    )
    base = np.array(spec.insulation.rgb)
    speckle = 1 + 0.05 * noise3(v, seed, spec.d_mm * 0.8, 3)[:, None]
    colors = np.clip(base * speckle, 0.002, 0.95)
    marks = np.zeros(len(f), np.uint16)
    if spec.char_d > 0:
        reach = spec.char_d * spec.d_mm
        patchy = noise3(v, seed + 3, 0.45 * spec.d_mm, 3)
        burnt = np.clip((reach * (1 + 0.4 * patchy) - along) / (0.25 * reach) + 0.5, 0, 1)
        dark = (
            np.array([0.012, 0.010, 0.009])
            if spec.char_kind == "burnt"
            else base * 0.45 + np.array([0.05, 0.03, 0.015])
        )
        colors = colors * (1 - burnt[:, None]) + dark * burnt[:, None]
        v = v + (0.05 * spec.d_mm * burnt * patchy)[:, None] * rng.normal(0, 1, (1, 3)) * 0.3
        marks |= np.where(burnt[f].mean(axis=1) > 0.5, P.CHAR, 0).astype(np.uint16)
    elif spec.ragged_mm > 0.2 * spec.d_mm or spec.flare > 0.18:
        marks |= np.where(along[f].mean(axis=1) < 0.4 * spec.d_mm, P.CHAR, 0).astype(np.uint16)
    wire = _part(
        "insulation",
        (v, f),
        P.INSULATION,
        spec.insulation,
        colors=colors.astype(np.float32),
        marks=marks,
    )
    return [wire, *_sleeve(spec, rng, path)]


def _conductor(spec: JointSpec, rng: np.random.Generator) -> list[Part]:
    cy, cz = spec.offset
    rc, tip = spec.core_mm, spec.seat * spec.cup.depth - 0.05
    seed = int(rng.integers(1 << 30))
    start = -spec.gap_mm - 1.2
    x = np.unique(np.concatenate([np.linspace(start, tip, 70), [tip - 0.08]]))
    axis = np.column_stack([x, np.full_like(x, cy), np.full_like(x, cz)])
    wick = -spec.tinned * max(spec.gap_mm, 0.01)
    solid = (
        1 / (1 + np.exp(-(x - wick) / 0.15)) if spec.supply or spec.tinned > 0 else np.zeros_like(x)
    )
    radius = np.full(len(x), rc * (0.55 if spec.birdcage > 0 else 1.0))
    if spec.birdcage > 0:
        inside = (x < -spec.gap_mm + 0.2) | (x > -0.1)
        radius = np.where(inside, rc, radius)
    radius[-1] = rc * 0.75
    v, f, row, phi = bundle_mesh(
        axis, radius, spec.strands, lay_mm=spec.lay_mm, solid=solid, seed=seed
    )
    edge = wick + 0.25 * rc * noise3(
        np.column_stack([np.cos(phi), np.sin(phi), np.zeros_like(phi)]), seed + 9, 0.5, 3
    )
    xv = v[:, 0]
    silver = xv > edge
    if not spec.cover and spec.cup.cut != "closed":
        silver &= xv < -0.02  # bare copper shows in the cup
        if spec.tinned < 0.02:
            silver[:] = False
    in_mouth = xv >= 0
    marks = np.where(in_mouth[f].mean(axis=1) > 0.5, P.MOUTH, 0).astype(np.uint16)
    is_solder = silver[f].mean(axis=1) > 0.5
    if spec.rough > 0:
        marks |= np.where(is_solder & (xv[f].mean(axis=1) > -0.5), P.ROUGH, 0).astype(np.uint16)
    shade = np.clip(1 + 0.10 * noise3(v, seed + 2, 0.5, 3), 0.6, 1.15)[:, None]
    bare = _part("bare strands", (v, f[~is_solder]), P.CONDUCTOR, spec.copper, marks=marks[~is_solder],
                 colors=np.clip(np.array(spec.copper.rgb) * shade, 0, 1).astype(np.float32))  # fmt: skip
    tinned = _part(
        "tinned strands", (v, f[is_solder]), P.SOLDER, spec.solder, marks=marks[is_solder]
    )
    end = v[row == len(x) - 1]
    cap_v = np.concatenate([end, [[tip, cy, cz]]])
    n = len(end)
    k = np.arange(n)
    cap_f = np.stack([k, np.full(n, n), (k + 1) % n], axis=-1).astype(np.uint32)
    cap = _part("conductor tip", (cap_v, cap_f), P.SOLDER if spec.cover and spec.supply else P.CONDUCTOR,
                spec.solder if spec.cover and spec.supply else spec.copper, marks=np.full(n, P.MOUTH, np.uint16))  # fmt: skip
    parts = [p for p in (bare, tinned, cap) if len(p.faces)]
    if spec.birdcage > 0:
        span = np.linspace(-spec.gap_mm + 0.05, -0.05, 30)
        line = np.column_stack([span, np.full(30, cy), np.full(30, cz)])
        count = int(min(spec.strands, 110, np.pi * rc / STRAND_MM * 1.3))
        paths = birdcage_paths(rng, line, rc, spec.birdcage * spec.d_mm / 2, count)
        parts.append(
            _part(
                "birdcage",
                merge(*(strand_mesh(p, STRAND_MM * 1.05) for p in paths)),
                P.CONDUCTOR,
                spec.copper,
            )
        )
    return parts


def _strays(spec: JointSpec, rng: np.random.Generator) -> tuple[list[Part], list[StrandTruth]]:
    parts, truth = [], []
    cy, cz = spec.offset
    for k, s in enumerate(spec.strays):
        phi = np.radians(s.angle_deg)
        x = -spec.gap_mm + s.start * (spec.gap_mm + 0.4 * spec.cup.depth)
        r = spec.core_mm * 0.97 if x < 0 else max(spec.core_mm * 0.9, spec.cup.outer * 0.98)
        start = np.array([x, cy + r * np.sin(phi), cz + r * np.cos(phi)])
        out = np.array([rng.normal(0, 0.6), np.sin(phi), np.cos(phi)]) + np.array(s.toward)
        path = stray_path(rng, start, out, s.length_mm, s.curl)
        parts.append(
            _part(
                f"strand {k}",
                strand_mesh(path, STRAND_MM * (1.5 if s.tinned else 1.0)),
                P.STRAND,
                spec.solder if s.tinned else spec.copper,
            )
        )
        truth.append(StrandTruth(path, s.tinned))
    return parts, truth


def _solder(
    spec: JointSpec, rng: np.random.Generator
) -> tuple[list[Part], list[ContactLine], Array | None, list[Array]]:
    """Solder parts, contact lines, fillet grid, spikes."""
    parts: list[Part] = []
    lines: list[ContactLine] = []
    seed = int(rng.integers(1 << 30))
    fillet_grid = None
    anchors = []  # points on solder to hang extras on, with normals
    cy, cz = spec.offset
    made = mouth_fillet(spec, seed)
    if made:
        sheet, found = made
        lines += found
        if len(sheet.faces):
            parts.append(
                _part(
                    "fillet",
                    (sheet.vertices, sheet.faces),
                    P.SOLDER,
                    spec.solder,
                    marks=sheet.marks,
                )
            )
            fillet_grid = sheet.vertices.reshape(30, -1, 3)
            mid = fillet_grid[18]
            out = mid - np.array([0, cy, cz]) * [0, 1, 1]
            anchors.append((mid, out * [0, 1, 1] + [-0.3, 0, 0]))
    in_cup = pool(spec, seed + 11)
    if in_cup:
        sheet, found = in_cup
        lines += found
        parts.append(
            _part("pool", (sheet.vertices, sheet.faces), P.SOLDER, spec.solder, marks=sheet.marks)
        )
        g = sheet.vertices.reshape(60, 49, 3)
        pts = g[6:54:4, 6:43:4].reshape(-1, 3)
        anchors.append((pts, np.tile([0.0, 0.0, 1.0], (len(pts), 1))))
    if spec.cup.cut == "closed" and spec.supply and spec.recess_mm > 0:
        sheet = recessed_ring(spec, seed + 5)
        parts.append(
            _part(
                "recessed solder",
                (sheet.vertices, sheet.faces),
                P.SOLDER,
                spec.solder,
                marks=sheet.marks,
            )
        )
    spikes: list[Array] = []
    if not anchors:
        return parts, lines, fillet_grid, spikes
    points = np.concatenate([a for a, _ in anchors])
    normals = np.concatenate([n for _, n in anchors])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-9
    up = normals[:, 2] > -0.3

    def pick(prefer_up: bool) -> tuple[Array, Array]:
        pool_idx = np.flatnonzero(up) if prefer_up and up.any() else np.arange(len(points))
        k = int(rng.choice(pool_idx))
        return points[k], normals[k]

    for s in spec.spikes:
        at, normal = pick(True)
        mesh, tip = spike_mesh(
            rng,
            at,
            normal + 0.5 * np.array(s.lean),
            s.size_mm,
            0.18 * spec.core_mm + 0.15 * s.size_mm,
        )
        parts.append(
            _part(
                "spike",
                mesh,
                P.SOLDER,
                spec.solder,
                marks=np.full(len(mesh[1]), P.SPIKE, np.uint16),
            )
        )
        spikes.append(np.stack([at, tip]))
    for s in spec.holes:
        at, normal = pick(True)
        dark = Material("hole", "plastic", (0.01, 0.009, 0.008), 0.9)
        mesh = pit(rng, at, normal, s.size_mm, crack=s.kind == "crack")
        parts.append(
            _part("hole", mesh, P.SOLDER, dark, marks=np.full(len(mesh[1]), P.HOLE, np.uint16))
        )
    for s in spec.blobs:
        if s.kind == "collar":
            continue
        if s.kind == "outer":  # a run on the outside of the cup
            phi = np.radians(s.angle_deg)
            normal = np.array([0, np.sin(phi), np.cos(phi)])
            at = np.array([s.x * spec.cup.depth, 0, 0]) + normal * spec.cup.outer
        else:
            at, normal = pick(True)
        mesh = blob(rng, at, normal, s.size_mm, float(rng.uniform(0.45, 1.1)))
        mark = P.SURPLUS if 0.8 * s.size_mm > 0.1 * spec.d_mm else 0
        parts.append(
            _part("blob", mesh, P.SOLDER, spec.solder, marks=np.full(len(mesh[1]), mark, np.uint16))
        )
    if spec.flux > 0:
        for _ in range(int(1 + 4 * spec.flux)):
            at, normal = pick(True)
            amber = Material(
                "flux",
                "glass",
                tuple(np.array([0.35, 0.16, 0.03]) * rng.uniform(0.15, 1.2)),
                float(rng.uniform(0.03, 0.3)),
            )  # type: ignore[arg-type]
            mesh = flux_cap(rng, at, normal, float(rng.uniform(0.2, 0.7) * spec.core_mm))
            parts.append(_part("flux", mesh, P.SOLDER, amber))
    return parts, lines, fillet_grid, spikes


def _collar(spec: JointSpec, rng: np.random.Generator) -> Part | None:
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
    mark = np.where(x_face < -spec.gap_mm + 0.25 * spec.d_mm, P.EMBED, 0) | P.SURPLUS
    return _part("collar", (points, faces), P.SOLDER, spec.solder, marks=mark.astype(np.uint16))


def build(spec: JointSpec, rng: np.random.Generator, floor: float) -> JointModel:
    """Everything of one joint. `floor` is the lowest z of the wire's axis, in joint coordinates."""
    cy, cz = spec.offset
    wv, wf, inside = wall(spec.cup)
    back = floor_disc(spec.cup)
    metal = spec.metal
    parts = [
        _part(
            "cup",
            (wv, wf),
            P.TERMINAL,
            metal,
            marks=np.where(inside, P.MOUTH | P.SHORT, 0).astype(np.uint16),
        ),
        _part(
            "cup floor",
            back,
            P.TERMINAL,
            metal,
            marks=np.full(len(back[1]), P.MOUTH | P.SHORT, np.uint16),
        ),
        _part("contact", body(spec.cup, rng), P.TERMINAL, metal),
        *_insulation(spec, rng, floor),
        *_conductor(spec, rng),
    ]
    more_ends: tuple[Array, ...] = ()
    if spec.twin:
        apart = spec.d_mm * 0.98
        beside = replace(spec, offset=(cy + apart * (1 if rng.random() < 0.5 else -1), cz), strays=(), sleeve_mm=None,
                         insulation=insulation(rng), birdcage=0.0)  # fmt: skip
        lean = np.eye(
            4
        )  # the second wire comes in at an angle, so that both bundles meet in the cup
        angle = np.arctan2(beside.offset[0] - cy, spec.gap_mm + 0.5 * spec.cup.depth) * 0.8
        lean[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
        lean[:3, 3] = np.array([0.3 * spec.cup.depth, cy, 0]) - lean[:3, :3] @ np.array(
            [0.3 * spec.cup.depth, beside.offset[0], 0]
        )
        more_ends = (lean[:3, :3] @ np.array([-spec.gap_mm, *beside.offset]) + lean[:3, 3],)
        parts += [p.moved(lean) for p in _insulation(beside, rng, floor) + _conductor(beside, rng)]
    strays, strand_truth = _strays(spec, rng)
    solder_parts, lines, fillet_grid, spikes = _solder(spec, rng)
    parts += strays + solder_parts
    collar = _collar(spec, rng)
    if collar:
        parts.append(collar)
    parts = _mark_dry(spec, parts, lines)
    tip = np.array([spec.seat * spec.cup.depth, cy, cz])
    model = JointModel(
        spec, tuple(parts), np.array([-spec.gap_mm, cy, cz]), np.zeros(3), tip, tuple(lines), tuple(strand_truth),
        tuple(spikes), fillet_grid, np.array([0.0, 0, 1]), np.array([1.0, 0, 0]), more_ends,
    )  # fmt: skip
    return model if spec.lean == (0.0, 0.0) else _askew(model)


def _askew(model: JointModel) -> JointModel:
    """The wire comes in at an angle: all that lies before the lip is sheared, smoothly from there."""

    def go(p: Array) -> Array:
        before = np.maximum(-p[..., 0], 0.0)
        reach = before**2 / (before + 0.5)
        moved = np.array(p, dtype=float)
        moved[..., 1] += model.spec.lean[0] * reach
        moved[..., 2] += model.spec.lean[1] * reach
        return moved

    end = go(model.end)
    axis = (
        model.lip - end
        if model.spec.gap_mm > 0.3 * model.spec.d_mm
        else np.array([1.0, *(-np.array(model.spec.lean))])
    )
    return replace(
        model, end=end, axis=axis / np.linalg.norm(axis),
        parts=tuple(p if p.label == P.TERMINAL else replace(p, vertices=go(p.vertices).astype(np.float32)) for p in model.parts),
        lines=tuple(replace(c, points=go(c.points)) for c in model.lines),
        strands=tuple(replace(t, path=go(t.path)) for t in model.strands),
        spikes=tuple(go(k) for k in model.spikes),
        fillet=None if model.fillet is None else go(model.fillet),
        more_ends=tuple(go(e) for e in model.more_ends),
    )  # fmt: skip


def _mark_dry(spec: JointSpec, parts: list[Part], lines: list[ContactLine]) -> list[Part]:
    """Mark faces near a contact line that did not wet."""
    dry = [c.points[~c.wet] for c in lines if (~c.wet).any()]
    if not dry:
        return parts
    tree = cKDTree(np.concatenate(dry))
    out = []
    for p in parts:
        if p.label in (P.SOLDER, P.CONDUCTOR, P.TERMINAL) and p.name != "contact":
            centre = p.vertices[p.faces].mean(axis=1)
            near = tree.query(centre, distance_upper_bound=0.07 * spec.d_mm)[0] < np.inf
            marks = (
                p.marks if p.marks is not None else np.zeros(len(p.faces), np.uint16)
            ) | np.where(near, P.DRY, 0).astype(np.uint16)
            p = replace(p, marks=marks)
        out.append(p)
    return out


__all__ = ["JointModel", "StrandTruth", "build", "pool_heights"]
