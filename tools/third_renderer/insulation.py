"""The wire's insulation from its end to out of the picture, burnt where that is the fault.

Figures are ours, no source; lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.ndimage import gaussian_filter

from .fields import Array, Rng, step
from .meshes import Mesh, around, bezier, frames, grid_faces, ring_angles
from .pole import Pole

SIDES = 48
STRAIGHT_D = 1.3  # from the end, before the wire may bend


@dataclass(frozen=True, slots=True)
class End:
    """The insulation's end: its middle in the scene (3,), and the wire's way from there (3,)."""

    middle: Array
    way: Array


def insulation_end(pole: Pole) -> End:
    """Where the insulation ends, and the unit vector from there along the wire."""
    y, z = (float(value) for value in pole.axis(-pole.gap))
    y_on, z_on = (float(value) for value in pole.axis(-pole.gap - 1.0))
    way = np.array([-1, y_on - y, z_on - z])
    way /= np.linalg.norm(way)
    return End(np.array([-pole.gap, y + pole.y, z]), way)


def insulation_mesh(rng: Rng, pole: Pole, far: ArrayLike) -> Mesh:
    """The insulation, past the point far (3,); its value `burn` is 0 to 1."""
    end, overall = insulation_end(pole), pole.overall
    line = _line(rng, end, overall, np.array(far))
    count = len(line)
    angles = ring_angles(SIDES)
    radii = np.full((count, SIDES), overall / 2)
    radii *= 1 + 0.012 * np.sin(2 * angles + rng.uniform(0, 6))[None]
    radii[0] *= 0.93  # the cut edge
    radii[1] *= 0.985
    burn = np.zeros((count, SIDES))
    _, normals, binormals = frames(line)
    turns = np.array([1, 2, 3])[:, None]
    size = rng.normal(0, 0.012, 3)[:, None]
    cut = (size * np.sin(turns * angles + rng.uniform(0, 6, 3)[:, None])).sum(0) * overall
    if pole.burn:
        burn = _burn(pole, line, normals, binormals)
        grain = gaussian_filter(
            rng.normal(size=(count, SIDES)), (1.2, 1.6), mode=("nearest", "wrap")
        )
        radii = radii * (1 + burn * (0.10 * (grain * 5) + 0.05) * 0.9)
        ragged = gaussian_filter(rng.normal(size=SIDES), 2.5, mode="wrap")
        cut = cut + 0.16 * overall * ragged * 4
    rings = around(line, radii, normals, binormals)
    rings[:3] += (cut[None, :, None] * np.array([1, 0.8, 0.5])[:, None, None]) * end.way
    across = np.cos(angles)[:, None] * normals[0] + np.sin(angles)[:, None] * binormals[0]
    inside = end.middle + cut[:, None] * end.way + pole.radius * 1.02 * across
    rings = np.concatenate([[inside + end.way * 0.9], [inside], rings])
    burn = np.concatenate([[burn[0]], [burn[0]], burn])
    faces = grid_faces(count + 2, SIDES)
    return Mesh(rings.reshape(-1, 3), faces, values={"burn": burn.ravel()})


def _line(rng: Rng, end: End, overall: float, far: Array) -> Array:
    """The wire's middle line (n, 3): straight at its end, through far, and out of the picture."""
    bend = end.middle + end.way * overall * STRAIGHT_D
    near = bezier([bend, bend + end.way * 1.2 * overall, far + (28, 0, 0), far], 70)
    beyond = [
        far,
        far - (30, 0, 0),
        far - (60, rng.uniform(-60, 60), 0),
        far - (130, rng.uniform(-90, 90), 0),
    ]
    steps = np.concatenate([np.linspace(0, 0.5, 14), np.linspace(0.55, STRAIGHT_D, 14)])[:-1]
    head = end.middle + (steps * overall)[:, None] * end.way
    return np.vstack([head, near, bezier(beyond, 40)[1:]])


def _burn(pole: Pole, line: Array, normals: Array, binormals: Array) -> Array:
    """How burnt each vertex (n, SIDES) is: from the end on, and more on one side."""
    angles = ring_angles(SIDES)
    up = normals[:, 2][:, None] * np.cos(angles) + binormals[:, 2][:, None] * np.sin(angles)
    y = normals[:, 1][:, None] * np.cos(angles) + binormals[:, 1][:, None] * np.sin(angles)
    across = np.sqrt(np.maximum(0, 1 - up**2)) * np.sin(pole.burn_side) * np.sign(y)
    side = step(-0.7, 0.5, up * np.cos(pole.burn_side) + across)
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0], np.cumsum(steps)])[:, None]
    part = np.clip(1.25 - along / (pole.burn * pole.overall), 0, 1.0)
    return np.asarray(part * (0.35 + 0.65 * side))


def sleeve_line(pole: Pole) -> tuple[Array, Array]:
    """Middle line (30, 3) and radii (30,) of a sleeve shrunk over insulation, joint and cup."""
    overall = pole.overall
    x = np.linspace(-pole.gap - 1.3 * overall, pole.length + 0.8, 30)
    y, z = pole.axis(x)
    cup = np.where(x > 0, max(0, pole.bore + pole.wall - 0.5 * overall), 0)
    radii = (0.55 + 0.06 * np.sin(x * 1.1)) * overall + cup
    return np.stack([x, y + pole.y, z], 1), radii
