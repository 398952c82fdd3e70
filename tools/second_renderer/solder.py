"""Meshes of solder: of a joint, and of a bridge between two."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .cups import placed
from .fields import Grid, Rng, close_borders, smooth_max, smooth_min, waves
from .joint import Joint
from .meshes import Array, Mesh
from .solder_field import solder_field
from .surface_nets import surface_net

FINEST = 0.0125  # pitch of the grid where small things must show
FINE = 0.0155
COARSE = 0.02  # where the solder reaches far


@dataclass(frozen=True, slots=True)
class _Box:
    """The box that holds a joint's solder: x from left to right, y and z within `half`, z from low.

    pitch: of its grid.
    """

    left: float
    right: float
    half: float
    low: float
    pitch: float

    def grid(self) -> Grid:
        low = (self.left, -self.half, self.low)
        return Grid.over(low, (self.right, self.half, self.half), self.pitch)


def solder_mesh(rng: Rng, joint: Joint) -> Mesh:
    """The joint's solder in the scene, with normals."""
    grid = _box(joint).grid()
    field = solder_field(rng, joint, grid)
    close_borders(field)
    return placed(joint, surface_net(field, grid))


def _box(joint: Joint) -> _Box:
    cup, size = joint.cup, joint.defect_size
    half, pitch = cup.outer + 0.12, FINE
    low = None
    left = -joint.fillet - joint.wick - 0.25
    right = cup.run + 0.06 if cup.scoop else 0.25
    if joint.check == "excess-solder":
        half = max(cup.outer + size, 0.62) + 0.2
        left, right, pitch = -joint.gap - 0.95, max(right, 1.3), COARSE
        left = min(left, -1.0) if joint.variant == "blob" else left
    elif joint.check == "embedded":
        half, left, right = 0.85, -0.95, max(right, 0.4)
    elif joint.check == "spike":
        half = cup.outer + size / joint.overall_mm + 0.1
        left, right, pitch = min(left, -0.9), max(right, 0.5), COARSE
        low = -cup.outer - 0.1  # spikes point up or to a side
    elif joint.variant == "bead":
        left = -0.9
    elif joint.check == "surface":
        half, pitch = half + 0.05, FINEST
    return _Box(left, right, half, -half if low is None else low, pitch)


def bridge_mesh(rng: Rng, pair: tuple[Joint, Joint], at: float) -> Mesh:
    """Solder across from one cup of a pair to the other near x = at, in the scene, with normals."""
    thick = rng.uniform(0.14, 0.26)
    high = rng.uniform(0.0, 0.25)
    low_y, high_y = sorted(joint.y for joint in pair)
    grid = Grid.over((at - 0.75, low_y - 0.45, -0.75), (at + 0.75, high_y + 0.45, 0.8), 0.018)
    x, y, z = grid.x, grid.y, grid.z
    lump = 0.03 * waves(rng, 0.8, 6)(x, y, z)
    bow = rng.uniform(-0.3, 0.3) * ((y - low_y) / (high_y - low_y) - 0.5)
    middle, span = (low_y + high_y) / 2, high_y - low_y
    part = np.abs(y - middle) / (span / 2)
    radius = thick * (0.75 + 0.35 * part**2)
    field = np.maximum(
        np.hypot(x - at - bow, (z - high) * 1.15) - radius, part * span / 2 - span / 2
    )
    for joint in pair:
        field = smooth_min(field, _patch(joint, grid, at, high, middle), 0.22)
    field = field + lump
    for joint in pair:
        if not joint.cup.scoop:  # the bridge lies on closed cups' outsides
            inside = joint.cup.inner + 0.03 - np.hypot(y - joint.y, z)
            field = np.maximum(field, inside)
    close_borders(field)
    return surface_net(field, grid)


def _patch(joint: Joint, grid: Grid, at: float, high: float, middle: float) -> Array:
    """Where a bridge spreads on one cup."""
    off = grid.y - joint.y
    patch = np.maximum(
        np.hypot(off, grid.z) - joint.cup.outer - 0.012,
        np.sqrt((grid.x - at) ** 2 + (grid.z - high) ** 2) - 0.36,
    )
    if not joint.cup.scoop:
        return patch
    inward = np.sign(middle - joint.y)
    return smooth_max(patch, 0.12 - inward * off, 0.1)
