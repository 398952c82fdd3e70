"""One pole's solder as a field on a grid: film on the wire, pool in the cup, and its faults.

Figures are ours, no source; lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .fields import Array, Grid, Rng, smooth_max, smooth_min, step
from .pole import Hole, Pole

STRAND_ROUND = 0.045  # by which the strands stand out of the conductor's nominal radius
OUTSIDE = 9.0  # farther out than anything


@dataclass(frozen=True, slots=True)
class Solder:
    """Arrays like the grid's: the field; the way from the wire's axis; how it looks, 0 to 1.

    lay: how far the strands' lay shows through; dark: the depth of holes.
    """

    field: Array
    across: Array
    up: Array
    lay: Array
    dark: Array


@dataclass(frozen=True, slots=True)
class _Space:
    """The grid as one pole has it, and the unevenness that all parts share.

    y: from the pole's axis; across, up and off: from the wire's; out: from the cup's.
    """

    grid: Grid
    y: Array
    across: Array
    up: Array
    off: Array
    out: Array
    fine: Array
    coarse: Array


def solder_field(rng: Rng, pole: Pole, grid: Grid) -> Solder:
    """The solder of one pole, clipped to its cup but for what its fault puts beyond."""
    space = _space(rng, pole, grid)
    field = _beads(rng, pole, space) if pole.fault == "wetting" else _sound(pole, space)
    for bulge in pole.bulges:
        (x, y, z), axes = bulge.centre, bulge.axes
        ways = ((grid.x - x) / axes[0], (space.y - y) / axes[1], (grid.z - z) / axes[2])
        off = np.sqrt(ways[0] ** 2 + ways[1] ** 2 + ways[2] ** 2)
        blob = (off - 1) * min(axes) + 0.04 * space.coarse
        field = smooth_min(field, blob, 0.25 * pole.bore)
    for spike in pole.spikes:
        part, *way = grid.along(np.array(spike.root), np.array(spike.tip), space.y)
        off = np.sqrt(way[0] ** 2 + way[1] ** 2 + way[2] ** 2)
        peak = off - (spike.radius * (1 - part) ** 1.3 + 0.07)
        field = smooth_min(field, peak, 0.35 * pole.bore)
    if pole.lump:
        field = _lumps(rng, pole, space, field)
    dark = np.zeros_like(grid.x)
    for hole in pole.holes:
        field, dark = _hole(hole, space, field, dark)
    return Solder(field, space.across, space.up, _lay(pole, space), dark)


def _space(rng: Rng, pole: Pole, grid: Grid) -> _Space:
    y = grid.y - pole.y
    axis_y, axis_z = pole.axis(grid.x)
    across, up = y - axis_y, grid.z - axis_z
    fine, coarse = grid.noise(rng, 0.45), grid.noise(rng, 1.0)
    off, out = np.hypot(across, up), np.hypot(y, grid.z)
    return _Space(grid, y, across, up, off, out, fine, coarse)


def _film(pole: Pole, space: _Space) -> Array:
    """Solder that covers the wire's strands in the cup and sinks between them along the wick."""
    x = space.grid.x
    thick = 0.015 + 0.03 * min(pole.radius, 1.2)
    sinking = 0.03 - 0.13 * np.clip(-x / max(pole.wick, 0.05), 0, 2)
    film = np.where(x > 0, thick, sinking) + 0.022 * space.fine
    if pole.filled_to:
        end = pole.filled_to * pole.length
        film = film - 0.10 * step(end, end * 0.6, x) * (x > -0.2)
    angle = np.arctan2(space.across, space.up) - pole.twist * x
    groove = 0.02 * np.abs(np.sin(pole.ring / 12 * angle + 0.5 * space.coarse))
    thickness = space.off - (pole.radius + STRAND_ROUND + film) + groove
    return np.maximum(thickness, x - pole.seat - 0.05)


def _pool(pole: Pole, space: _Space) -> Array:
    """Solder that stands in the cup."""
    grid, bore = space.grid, pole.bore
    level = pole.edge - pole.fill * bore + 0.03 * space.coarse
    level = level + pole.meniscus * bore * np.clip(np.abs(space.y) / bore, 0, 1) ** 4
    level = level + 0.12 * bore * step(0.75, 1.0, grid.x / pole.length)
    pool = grid.z - level
    if pole.closed:
        pool = np.where(grid.x > pole.cut, np.minimum(pool, -0.3), pool)
    start = pole.start * bore + 0.06 * space.coarse
    front = -(grid.x - start) + 0.25 * (grid.z - pole.sag) * pole.slope
    pool = smooth_max(pool, front, 0.35 * bore + 0.05)
    if pole.filled_to:
        back = -(grid.x - pole.filled_to * pole.length) + 0.5 * (grid.z - pole.sag)
        pool = smooth_max(pool, back, 0.5 * bore)
    return pool


def _sound(pole: Pole, space: _Space) -> Array:
    """Film and pool with the fillets between them and up the cup's wall."""
    grid, bore = space.grid, pole.bore
    field = smooth_min(_film(pole, space), _pool(pole, space), pole.blend * bore)
    if not pole.filled_to:
        mouth = -(grid.x - 0.1 - 0.1 * space.coarse.clip(-1, 1))
        wetted = np.maximum(bore - space.out - 0.03, mouth)
        field = smooth_min(field, np.maximum(wetted, grid.z - pole.edge + 0.02), 0.35 * bore)
    beyond = space.out - bore
    side = np.abs(space.y) - (bore + 0.35 * pole.wall)
    above = smooth_max(beyond - 0.4 * pole.wall, side, 0.1)
    limit = np.where((grid.z < pole.edge) | (grid.x > pole.cut + 0.5), beyond, above)
    # before the lip it may reach a little round it
    limit = np.where(grid.x < -0.02, beyond - 0.15 * np.exp(grid.x), limit)
    field = np.maximum(field, limit - 0.012)
    return np.maximum(field, grid.x - pole.length - 0.02)


def _beads(rng: Rng, pole: Pole, space: _Space) -> Array:
    """Beads that lie in the cup and took to nothing."""
    grid = space.grid
    field: Array = np.full(grid.x.shape, OUTSIDE)
    for ball in pole.balls:
        x, y, z = ball.centre
        flat = (grid.z - z) / ball.squash
        off = np.sqrt((grid.x - x) ** 2 + (space.y - y) ** 2 + flat**2) - ball.radius
        if rng.random() < 0.5:
            field = np.minimum(field, off * 0.9 + 0.02 * space.fine)
        else:
            field = smooth_min(field, off + 0.02 * space.fine, 0.08)
    field = np.maximum(field, -(space.off - pole.radius - 0.1))
    inside = (grid.z < pole.edge) & (grid.x > 0)
    return np.where(inside, np.maximum(field, space.out - pole.bore + 0.06), field)


def _lumps(rng: Rng, pole: Pole, space: _Space, field: Array) -> Array:
    grid = space.grid
    noise = grid.noise(rng, 0.22 * pole.bore)
    near = np.exp(-np.maximum(space.off - pole.radius * 1.6, 0))
    behind = grid.x > -0.6 * pole.overall
    field = field + pole.lump * (np.abs(noise) - 0.6) * near * behind
    inside = (grid.z < pole.edge) & (grid.x > 0)
    return np.where(inside, np.maximum(field, space.out - pole.bore - 0.01), field)


def _hole(hole: Hole, space: _Space, field: Array, dark: Array) -> tuple[Array, Array]:
    grid, radius = space.grid, hole.radius
    x, y, z = hole.centre
    deep = (grid.z - z) / 2.2
    off = np.sqrt((grid.x - x) ** 2 + (space.y - y) ** 2 + deep**2)
    off = off + 0.05 * radius * space.fine
    angle = np.arctan2(space.y - y, grid.x - x)
    off = off + 0.09 * radius * np.sin(3 * angle + x * 9)
    dark = np.maximum(dark, step(1.22, 1.0, off / radius))
    return smooth_max(field, radius - off, 0.04), dark


def _lay(pole: Pole, space: _Space) -> Array:
    if pole.fault == "excess-solder":
        return np.zeros_like(space.fine)
    over = np.maximum(space.off - pole.radius - 0.05, 0)
    near = np.exp(-over / (0.012 + 0.045 * pole.bore)) * (space.grid.x < pole.seat)
    patches = 0.12 + 0.75 * step(-0.6, 1.2, space.coarse)
    return near * pole.lay * np.where(space.grid.x > -0.1, patches, 1.0)
