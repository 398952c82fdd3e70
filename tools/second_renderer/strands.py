"""The conductor: the strands of the bundle, its core, and strands that stray from it."""

from __future__ import annotations

import numpy as np

from .cups import conductor_at
from .fields import Rng, step, waves
from .joint import Joint
from .meshes import Array, Mesh, sweep, turns

SHEATHED = 0.4  # length of bundle inside the insulation
STRAND_MM = 0.055  # radius that the bundle's strands would have; kept within what D allows
STRAND_RANGE = (0.011, 0.022)
POINTS = 56  # of a strand's line
STRAY_POINTS = 40
CORE_POINTS = 40


def extent(joint: Joint) -> tuple[float, float]:
    """Where the bundle begins and ends, along x."""
    return -max(joint.gap, 0) - SHEATHED, joint.reach


def strand_radius(joint: Joint) -> float:
    """Radius of a strand of the bundle."""
    return float(np.clip(STRAND_MM / joint.overall_mm, *STRAND_RANGE))


def strand_lines(rng: Rng, joint: Joint) -> Array:
    """Centre lines (m, n, 3) of the bundle's outer strands, in the cup's frame."""
    strand = strand_radius(joint)
    x = np.linspace(*extent(joint), POINTS)
    off_y, off_z = conductor_at(joint, x)
    lines = []
    for layer in range(4 if joint.check == "birdcage" else 2):
        radius = joint.conductor_radius - strand * (1 + 1.8 * layer)
        count = int(2 * np.pi * radius / (2 * strand) * 0.93)
        for i in range(count):
            wander = waves(rng, 2.5, 3, 1)
            shake = waves(rng, 0.9, 3, 1)
            leads = layer == 0 and i % 5 == 0
            bulge = _bulge(rng, joint, x, leads=leads) if joint.check == "birdcage" else 0
            angle = 2 * np.pi * i / count + joint.twist * x + rng.normal(0, 0.02) + 0.05 * wander(x)
            away = radius + strand * 0.35 * shake(x) + bulge
            lines.append(
                np.stack([x, off_y + away * np.cos(angle), off_z + away * np.sin(angle)], 1)
            )
    return np.array(lines)


def _bulge(rng: Rng, joint: Joint, x: Array, *, leads: bool) -> Array:
    """How far a birdcage's strand stands out at x; one that leads has the whole size."""
    middle = -0.5 * (joint.gap + joint.fillet)
    wide = 0.42 * (joint.gap - joint.fillet)
    part = 1 if leads else rng.uniform(0.2, 1)
    amount = (joint.defect_size / 2 - joint.conductor_radius) * part
    shift = rng.uniform(-0.1, 0.1)
    return amount * np.exp(-(((x - middle - shift) / wide) ** 2) * 1.6)


def core_mesh(joint: Joint) -> Mesh:
    """What fills the bundle within its outer strands, in the cup's frame."""
    x = np.linspace(*extent(joint), CORE_POINTS)
    off_y, off_z = conductor_at(joint, x)
    axis = np.stack([x, off_y, off_z], 1)
    # the last ring closes the end
    axis[-1] = axis[-2] + np.array([0.001, 0, 0])
    strand = strand_radius(joint)
    radius = joint.conductor_radius - strand * (1.0 if joint.tinned else 1.7)
    if joint.check == "birdcage":
        radius = 0.55 * joint.conductor_radius
    radii = np.full((CORE_POINTS, 32), radius)
    radii[-1] = 0.001
    return sweep(axis, radii, turns(32))


def stray_lines(rng: Rng, joint: Joint) -> Array:
    """Centre lines (m, n, 3) of the strands that stand out of the bundle, in the cup's frame."""
    lead = rng.choice([-1, 1])
    return np.array(
        [
            _stray_line(rng, joint, length_mm / joint.overall_mm, lead * (1 if i % 3 < 2 else -1))
            for i, length_mm in enumerate(joint.strays_mm)
        ]
    )


def _stray_line(rng: Rng, joint: Joint, length: float, side: int) -> Array:
    """One straying strand (n, 3): along the bundle first, then out of it on that side."""
    start = -rng.uniform(0.35, 0.75) * joint.gap
    angle = np.pi / 2 - side * np.radians(rng.uniform(50, 95))
    along_strand = np.linspace(-0.35, length, STRAY_POINTS)
    lift = np.radians(rng.uniform(60, 105))
    direction = rng.choice([-1, 1])
    bend = rng.normal(0, 0.35)
    outside = np.clip(along_strand, 0, 9)
    slope = lift * step(along_strand, -0.3, 0.25) + bend * outside
    twist = rng.normal(0, 0.4) * outside
    pitch = along_strand[1] - along_strand[0]
    x = start + direction * np.cumsum(np.cos(slope)) * pitch
    close = joint.conductor_radius + 0.02
    away = joint.conductor_radius + np.cumsum(np.sin(slope)) * pitch
    away = away - away[np.searchsorted(along_strand, 0)] + joint.conductor_radius + 0.02
    away[along_strand < 0] = np.minimum(away[along_strand < 0], close)
    # over the cup and over the insulation it stays outside of them
    clear = (joint.cup.outer + 0.05) * step(x, -0.25, -0.02)
    clear = clear + 0.56 * step(x, -joint.gap + 0.3, -joint.gap + 0.02)
    away = np.where(along_strand > 0.05, np.maximum(away, clear), away)
    off_y, off_z = conductor_at(joint, x)
    around = angle + twist
    return np.stack([x, off_y + away * np.cos(around), off_z + away * np.sin(around)], 1)
