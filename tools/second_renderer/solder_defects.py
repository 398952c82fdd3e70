"""Defects that add to a joint's finished solder, or take from it.

CHANGES has them by variant. Each takes and returns a field (nx, ny, nz) in the cup's frame.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .cups import conductor_at
from .fields import Grid, Rng, smooth_max, smooth_min, step, waves
from .joint import Joint
from .meshes import Array

INSULATION_RADIUS = 0.5


def _blob(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """A lump wider than the cup."""
    lump = 0.05 * waves(rng, 1.0, 6)(grid.x, grid.y, grid.z)
    half = joint.cup.outer + joint.defect_size
    length = rng.uniform(0.55, 0.8)
    middle = rng.uniform(-0.1, 0.25)
    high = half * rng.uniform(0.85, 1.0)
    away = np.sqrt(
        ((grid.x - middle) / length) ** 2 + (grid.y / half) ** 2 + ((grid.z - 0.05) / high) ** 2
    )
    return smooth_min(field, (away - 1) * min(half, length) + lump, 0.18)


def _over_insulation(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """Solder that ran over the insulation's end."""
    end = -joint.gap - joint.defect_size
    part = np.clip((grid.x - end) / (-end + 0.25), 0, 1)
    radius = INSULATION_RADIUS + 0.09 * np.sqrt(np.clip(part * 6, 0, 1)) - 0.06
    radius = radius + 0.07 * np.sin(np.pi * part)
    return _coated(rng, joint, grid, field, end, radius)


def _embedded(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """Solder that holds the insulation pushed into the cup."""
    end = -joint.climb
    small = min(INSULATION_RADIUS, joint.cup.inner * 0.97)
    wire = small + (INSULATION_RADIUS - small) * step(grid.x, 0, -0.5)
    part = np.clip((grid.x - end) / (-end), 0, 1)
    radius = wire + 0.1 * np.sqrt(np.clip(part * 4, 0, 1)) - 0.02
    return _coated(rng, joint, grid, field, end, radius)


def _coated(rng: Rng, joint: Joint, grid: Grid, field: Array, end: float, radius: Array) -> Array:
    """The field with solder round the wire to that radius, from `end` to the cup."""
    lump = 0.03 * waves(rng, 0.7, 6)(grid.x, grid.y, grid.z)
    around = _angle(joint, grid)
    wavy = 0.12 * waves(rng, 0.8, 5, 2)(np.cos(around), np.sin(around))
    coat = smooth_max(
        np.hypot(grid.y, grid.z - joint.lift) - radius + lump,
        np.maximum(end + wavy - grid.x, grid.x - 0.3),
        0.14,
    )
    return smooth_min(field, coat, 0.12)


def _spike(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """A spike out of the solder to one side, its tip the size beyond the cup's outside."""
    size = joint.defect_size / joint.overall_mm
    base_x = rng.uniform(-0.5 * joint.fillet, 0.3 * joint.cup.run)
    side = rng.choice([-1, 1])
    lift = np.radians(rng.uniform(0, 20))
    lean = rng.uniform(-0.5, 0.5)
    if not joint.cup.scoop:
        base_x = -0.1 * joint.fillet
    way = np.array([lean, side * np.cos(lift), np.sin(lift)])
    way /= np.linalg.norm(way)
    x, y, z = grid.x - base_x, grid.y, grid.z - (0.12 if joint.cup.scoop else 0.0)
    start = joint.cup.outer
    full = start + size
    part = np.clip((x * way[0] + y * way[1] + z * way[2]) / full, 0, 1)
    away = np.sqrt(
        (x - part * full * way[0]) ** 2
        + (y - part * full * way[1]) ** 2
        + (z - part * full * way[2]) ** 2
    )
    out = np.clip((part * full - 0.6 * start) / (full - 0.6 * start), 0, 1)
    return smooth_min(field, away - (0.018 + 0.15 * (1 - out) ** 2), 0.14)


def _lumpy(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """A rough, lumpy surface."""
    rough = waves(rng, 0.32, 12)(grid.x, grid.y, grid.z)
    rough = rough + 0.5 * waves(rng, 0.14, 12)(grid.x, grid.y, grid.z)
    near = step(grid.x, -joint.fillet - 0.15, -joint.fillet + 0.1)
    return field - joint.defect_size * (0.3 + 0.7 * rough) * near


def _hole(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """A hole down into the solder, in the middle of a cut-away cup."""
    at = _top_of_body(field, grid, 0.45 * joint.cup.run, 0.0)
    radius = joint.defect_size / 2
    jagged = 0.1 * radius * waves(rng, 0.2, 6)(grid.x, grid.y, grid.z)
    away = np.sqrt(
        (grid.x - at[0]) ** 2 + (grid.y - at[1]) ** 2 + ((grid.z - at[2] + 0.05) / 2.8) ** 2
    )
    return np.maximum(field, -(away - radius + jagged))


def _crack(rng: Rng, joint: Joint, grid: Grid, field: Array) -> Array:
    """A crack along the solder between the conductor and the cup."""
    path = waves(rng, 0.45, 8, 2)
    half = joint.defect_size / 2
    side = rng.choice([-1, 1])
    middle = side * (0.5 * (joint.conductor_radius + joint.cup.inner) - 0.05)
    line = grid.y - middle - 0.05 * path(grid.x, 0 * grid.x)
    beyond = np.abs(grid.x - 0.4 * joint.cup.run) - half
    width = 0.032 * np.clip(-beyond / 0.2, 0.1, 1)
    slab = np.maximum(np.abs(line) - width, beyond)
    return np.maximum(field, -np.maximum(slab, -grid.z - 0.35))


def _angle(joint: Joint, grid: Grid) -> Array:
    off_y, off_z = conductor_at(joint, grid.x)
    return np.arctan2(grid.z - off_z, grid.y - off_y)


def _top_of_body(field: Array, grid: Grid, x: float, y: float) -> tuple[float, float, float]:
    """The grid's highest point within the body over (x, y)."""
    i = np.abs(grid.axes[0] - x).argmin()
    k = np.abs(grid.axes[1] - y).argmin()
    inside = np.nonzero(field[i, k] < 0)[0]
    top = inside.max() if len(inside) else field.shape[2] // 2
    return grid.axes[0][i], grid.axes[1][k], grid.axes[2][top]


CHANGES: dict[str, Callable[[Rng, Joint, Grid, Array], Array]] = {
    "blob": _blob,
    "over": _over_insulation,
    "embedded": _embedded,
    "spike": _spike,
    "lumpy": _lumpy,
    "hole": _hole,
    "crack": _crack,
}
