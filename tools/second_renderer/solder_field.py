"""The solder of a joint as a field: the film on the strands, the filling of the cup, the fillet.

Everything is in the cup's own frame. What a defect changes while solder and cup are put together
stands here; what it adds to the finished solder or takes from it stands in `solder_defects`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .cups import conductor_at, opening
from .fields import Grid, Rng, smooth_max, smooth_min, step, waves
from .joint import Joint
from .meshes import Array
from .solder_defects import CHANGES

HELD = 0.45  # how far into the wall of a cut-away cup its filling reaches: it must cut the wall


@dataclass(frozen=True, slots=True)
class _Bundle:
    """A grid seen from the conductor: off y, distance, angle round it, length of the fillet."""

    off_y: Array
    distance: Array
    angle: Array
    fillet: Array


def solder_field(rng: Rng, joint: Joint, grid: Grid) -> Array:
    """Field (nx, ny, nz) of the joint's solder."""
    bundle = _seen_from_conductor(joint, grid)
    film = _film(joint, grid, bundle)
    filling = _filling(joint, grid)
    if joint.variant in ("front", "back"):
        limit = _filled_part(rng, joint, grid)
        filling = smooth_max(filling, limit, 0.12)
        film = smooth_max(film, limit, 0.12)
    filling = _drawn_out(joint, grid, bundle, filling)
    if joint.check == "seating":
        floor = -joint.cup.inner + 0.35 * joint.cup.inner
        depth = step(grid.x, joint.reach + 0.25, 0) * 0.5
        filling = np.maximum(filling, grid.z - floor - depth)
    if joint.variant == "one-side":
        wavy = 0.03 * waves(rng, 0.6, 5)(grid.x, grid.y, grid.z)
        away = -joint.side * (grid.y - bundle.off_y * 0.5) - 0.05 + wavy
        filling = smooth_max(filling, away, 0.1)
    if joint.variant == "bead":
        return _bead(rng, joint, grid, film)
    field = smooth_min(film, filling, 0.11 if joint.cup.scoop else 0.05)
    field = field + 0.004 * waves(rng, 0.8, 6)(grid.x, grid.y, grid.z)
    change = CHANGES.get(joint.variant)
    return field if change is None else change(rng, joint, grid, field)


def _seen_from_conductor(joint: Joint, grid: Grid) -> _Bundle:
    off_y, off_z = conductor_at(joint, grid.x)
    y, z = grid.y - off_y, grid.z - off_z
    angle = np.arctan2(z, y)
    fillet = joint.fillet * (1 + 0.2 * np.sin(angle + joint.seed % 7))
    return _Bundle(off_y, np.hypot(y, z), angle, fillet)


def _film(joint: Joint, grid: Grid, bundle: _Bundle) -> Array:
    """A thin film on the strands that shows their grooves and thins out where it ends."""
    lobes = joint.cup.lobes
    around = bundle.angle - joint.twist * grid.x
    groove = joint.groove * (
        0.006 * np.cos(lobes * around) + 0.004 * np.cos((lobes // 2 + 1) * around + 1.3)
    )
    begin = -bundle.fillet - 0.02
    thick = joint.film - (joint.film + 0.035) * step(grid.x, begin, begin - joint.wick)
    beyond = np.maximum(grid.x - joint.reach - 0.01, 0)
    distance = bundle.distance + groove * 1.3
    capped = np.hypot(np.maximum(distance, 0), beyond) - joint.conductor_radius - thick
    return np.where(beyond > 0, capped, distance - joint.conductor_radius - thick)


def _rim(joint: Joint) -> float:
    """Radius to which solder reaches at the cup's edge."""
    part = HELD if joint.cup.scoop else joint.lip
    return joint.cup.inner + part * (joint.cup.outer - joint.cup.inner)


def _filling(joint: Joint, grid: Grid) -> Array:
    """What fills the hollow: all of a closed cup, a cut-away one up to a surface near its edge."""
    cup = joint.cup
    held = np.hypot(grid.y, grid.z) - _rim(joint)
    if not cup.scoop:
        return held
    if joint.variant == "low":
        top = -cup.inner + 2 * cup.inner * joint.share * 0.8 + 0 * grid.x
        return np.maximum(held, grid.z - top)
    edge = cup.inner * np.cos(opening(cup, np.clip(grid.x, 0, cup.run * 0.999)))
    flat = cup.inner * np.cos(cup.half_opening) + joint.level
    rise = step(grid.x, cup.run - 0.35, cup.run) ** 2
    top = flat + rise * (0.85 * cup.inner - flat) * 0.8
    top = np.minimum(top, edge + joint.level + 0.05)
    top = top - joint.dip * (1 - np.clip(np.abs(grid.y) / cup.inner, 0, 1) ** 2)
    return np.maximum(held, grid.z - top)


def _filled_part(rng: Rng, joint: Joint, grid: Grid) -> Array:
    """The part of the hollow, before or behind a cut across it, that alone was filled."""
    wavy = 0.06 * waves(rng, 0.5, 5)(grid.x, grid.y, grid.z)
    cut = joint.share * joint.cup.run
    return (grid.x - cut if joint.variant == "front" else joint.cup.run - cut - grid.x) + wavy


def _drawn_out(joint: Joint, grid: Grid, bundle: _Bundle, filling: Array) -> Array:
    """The filling, before the cup drawn down from the rim to the strands: the fillet."""
    part = np.clip(1 + np.minimum(grid.x, 0) / bundle.fillet, 0, 1)
    shrink = (_rim(joint) - joint.conductor_radius + 0.02) * (1 - part**joint.power)
    if joint.cup.scoop:
        shrink = shrink * step(grid.x, 0.03, -0.16)
    return filling + shrink + 0.5 * np.maximum(-grid.x - bundle.fillet, 0)


def _bead(rng: Rng, joint: Joint, grid: Grid, film: Array) -> Array:
    """Solder balled up on the conductor, clear of the cup."""
    x, y, z = grid.x, grid.y, grid.z
    lump = 0.025 * waves(rng, 0.9, 5)(x, y, z)
    radius = joint.cup.inner - joint.space
    if joint.cup.scoop:
        begin, end = -0.15, joint.cup.run * 0.7
        beyond = np.maximum(np.maximum(begin - x, x - end), 0)
        ball = np.hypot(np.hypot(y, z - 0.05), beyond * 1.2) - radius
    else:
        ball = np.hypot(np.hypot(y, z), (x + 0.28) * 1.5) - radius - 0.06
    near = (x > -0.6) & (x < 0.2)
    return smooth_min(ball + lump, np.where(near, film, film + 0.1), 0.03)
