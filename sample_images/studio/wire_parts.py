"""The wire of a joint as parts: insulation, sleeve, bundle, strands that left it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .bundle import (
    STRAND_MM,
    along_lay,
    birdcage_paths,
    bundle_mesh,
    insulation_mesh,
    strand_mesh,
    stray_path,
    wire_path,
)
from .mesh import Array, merge, noise3, tube
from .part import Material, Part, as_part
from .solder_surfaces import dry_at, level_at
from .spec import JointSpec

SOFT_MM = 0.15  # over which solder between the strands peters out
# of a tinned bundle whose lay shows in full: finer than pixels it takes the shine; ours, no source
LAY_ROUGH = 0.4
TENTH_TO_TENTH = 4.4  # a logistic's way from 10 to 90 %, in its scales: twice the log of nine
FULL = 0.6  # level from which tinned strands count as part of what fills the cup


@dataclass(frozen=True)
class StrandTruth:
    """A stray strand's centre line (n, 3) in mm."""

    path: Array
    tinned: bool


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
    return [as_part("sleeve", merge(outer, inner), pt.SLEEVE, skin)]


def insulation_parts(spec: JointSpec, rng: np.random.Generator, floor: float) -> list[Part]:
    """The insulated wire from its end, with its sleeve; `floor` as in build."""
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
        marks |= np.where(burnt[f].mean(axis=1) > 0.5, pt.CHAR, 0).astype(np.uint16)
    elif spec.ragged_mm > 0.2 * spec.d_mm or spec.flare > 0.18:
        marks |= np.where(along[f].mean(axis=1) < 0.4 * spec.d_mm, pt.CHAR, 0).astype(np.uint16)
    wire = as_part(
        "insulation",
        (v, f),
        pt.INSULATION,
        spec.insulation,
        colors=colors.astype(np.float32),
        marks=marks,
    )
    return [wire, *_sleeve(spec, rng, path)]


TINNED_THROUGH = 0.5  # of the bare length: so far tinned, the wire is tinned in the cup as well


def tinned_mm(spec: JointSpec, x: Array, phi: Array, seed: int) -> Array:
    """How far inside the tinned stretch a place of the bundle lies, mm; negative where bare.

    Solder draws in between strands from where it wets them, the same way out of the cup and into
    it. So strands that show bare in the cup are bare before it too, but for what the fillet
    at the lip has drawn, and where the conductor is dry nothing has drawn in.
    """
    x, phi = np.broadcast_arrays(x, phi)
    wick = spec.tinned * max(spec.gap_mm, 0.01)
    ring = np.stack([np.cos(phi), np.sin(phi), np.zeros_like(phi)], axis=-1)
    wave = 0.25 * spec.core_mm * noise3(ring, seed + 9, 0.5, 3)
    inside = x + wick - wave
    if not spec.supply and spec.tinned <= 0:
        return np.full(x.shape, -np.inf)
    if spec.tinned >= TINNED_THROUGH:
        return inside
    if not spec.cover and spec.cup.cut != "closed":
        reach = wick if spec.tinned >= 0.02 else -np.inf
        inside = np.minimum(inside, reach - x + wave)
    return np.where(dry_at(spec, "conductor", phi), -np.inf, inside)


def conductor_parts(spec: JointSpec, rng: np.random.Generator) -> list[Part]:
    """The bundle from inside the insulation to its tip: bare, tinned, or bowed out.

    Conductor or solder goes by what is seen: where solder fills the valleys between the strands
    they are solder, where the strands show one by one they are conductor, whatever their colour.
    """
    cy, cz = spec.offset
    rc, tip = spec.core_mm, spec.seat * spec.cup.depth - 0.05
    seed = int(rng.integers(1 << 30))
    start = -spec.gap_mm - 1.2
    x = np.unique(np.concatenate([np.linspace(start, tip, 70), [tip - 0.08]]))
    axis = np.column_stack([x, np.full_like(x, cy), np.full_like(x, cz)])

    def filled(at: Array, phi: Array, over_mm: float = SOFT_MM) -> Array:
        inside = np.clip(tinned_mm(spec, at, phi, seed) / over_mm, -30, 30)
        return 1 / (1 + np.exp(-inside))

    radius = np.full(len(x), rc * (0.55 if spec.birdcage > 0 else 1.0))
    if spec.birdcage > 0:
        inside = (x < -spec.gap_mm + 0.2) | (x > -0.1)
        radius = np.where(inside, rc, radius)
    radius[-1] = rc * 0.75
    v, f, row, phi = bundle_mesh(
        axis,
        radius,
        spec.strands,
        lay_mm=spec.lay_mm,
        filled=filled,
        seed=seed,
        relief=spec.relief,
        ropes=spec.ropes,
        clump=spec.clump,
    )
    xv = v[:, 0]
    silver = filled(xv, phi) > 0.5
    is_solder = silver[f].mean(axis=1) > 0.5
    xf = xv[f].mean(axis=1)
    marks = np.where((xf > 0) & ~(is_solder & _proud(spec, xf)), pt.MOUTH, 0).astype(np.uint16)
    streak = along_lay(phi, xv - start, spec.lay_mm, rc, seed + 3)
    shade = np.clip(1 + 0.10 * noise3(v, seed + 2, 0.5, 3) + 0.2 * streak, 0.5, 1.15)[:, None]
    turned = filled(xv, phi, spec.blush_mm / TENTH_TO_TENTH)[:, None] if spec.blush_mm else 0.0
    copper = np.array(spec.copper.rgb) * shade
    blush = np.clip(copper + (np.array(spec.solder.rgb) - copper) * turned, 0, 1)
    bare = as_part(
        "bare strands",
        (v, f[~is_solder]),
        pt.CONDUCTOR,
        spec.copper,
        marks=marks[~is_solder],
        colors=blush.astype(np.float32),
    )
    tinned = as_part(
        "tinned strands",
        (v, f[is_solder]),
        pt.SOLDER,
        replace(spec.solder, roughness=max(spec.solder.roughness, LAY_ROUGH * spec.relief)),
        marks=marks[is_solder],
        colors=blush.astype(np.float32) if spec.blush_mm else None,
    )
    end = v[row == len(x) - 1]
    cap_v = np.concatenate([end, [[tip, cy, cz]]])
    n = len(end)
    k = np.arange(n)
    cap_f = np.stack([k, np.full(n, n), (k + 1) % n], axis=-1).astype(np.uint32)
    covered = spec.supply and silver[row == len(x) - 1].mean() > 0.5
    cap = as_part(
        "conductor tip",
        (cap_v, cap_f),
        pt.SOLDER if covered else pt.CONDUCTOR,
        spec.solder if covered else spec.copper,
        marks=np.full(n, pt.MOUTH, np.uint16),
    )
    parts = [p for p in (bare, tinned, cap) if len(p.faces)]
    if spec.birdcage > 0:
        span = np.linspace(-spec.gap_mm + 0.05, -0.05, 30)
        line = np.column_stack([span, np.full(30, cy), np.full(30, cz)])
        count = int(min(spec.strands, 110, np.pi * rc / STRAND_MM * 1.3))
        paths = birdcage_paths(rng, line, rc, spec.birdcage * spec.d_mm / 2, count)
        parts.append(
            as_part(
                "birdcage",
                merge(*(strand_mesh(p, STRAND_MM * 1.05) for p in paths)),
                pt.CONDUCTOR,
                spec.copper,
            )
        )
    return parts


def _proud(spec: JointSpec, x: Array) -> NDArray[np.bool_]:
    """Where the cup is not full at x, so that tinned strands stand in it and do not fill it."""
    if spec.cup.cut == "closed":
        return x < spec.recess_mm
    return level_at(spec, x) < FULL


def stray_parts(spec: JointSpec, rng: np.random.Generator) -> tuple[list[Part], list[StrandTruth]]:
    """Strands that left the bundle, and their centre lines."""
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
            as_part(
                f"strand {k}",
                strand_mesh(path, STRAND_MM * (1.5 if s.tinned else 1.0)),
                pt.STRAND,
                spec.solder if s.tinned else spec.copper,
            )
        )
        truth.append(StrandTruth(path, s.tinned))
    return parts, truth
