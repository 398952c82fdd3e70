"""The cup, where the conductor lies in it, and the sleeve that hides both."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .fields import Rng, step, waves
from .joint import Cup, Joint
from .meshes import Array, Mesh, grid_faces, join, lathe, sweep, turns

CLOSED = 1e-3  # half angle, or radius, of what is meant to be shut: faces need some area
ACROSS_WALL = 40  # points of a cup's section, on its outside and on its inside each


def opening(cup: Cup, x: ArrayLike) -> Array:
    """Half the angle that is cut away of a cup at x; next to 0 where it is closed."""
    part = np.clip(x / cup.run, 0, 1)
    return np.maximum(cup.half_opening * np.sqrt(1 - part**cup.curve), CLOSED)


def rolled(cup: Cup, points: Array) -> Array:
    """Directions, or points about the axis, (n, 3), from the cup's own frame into the scene's."""
    cosine, sine = np.cos(cup.roll), np.sin(cup.roll)
    out = np.array(points, float)
    out[:, 1] = cosine * points[:, 1] - sine * points[:, 2]
    out[:, 2] = sine * points[:, 1] + cosine * points[:, 2]
    return out


def placed(joint: Joint, mesh: Mesh) -> Mesh:
    """A mesh of the cup's own frame in the scene: rolled, and moved to the joint's pole."""
    vertices = rolled(joint.cup, mesh.vertices)
    vertices[:, 1] += joint.y
    normals = None if mesh.normals is None else rolled(joint.cup, mesh.normals)
    return Mesh(vertices, mesh.faces, normals)


def conductor_at(joint: Joint, x: Array) -> tuple[Array, Array]:
    """Offset along y and z of the conductor's axis at x, in the cup's frame."""
    part = step(x, -max(joint.gap, 0.3), 0.02)
    return joint.aside * part, joint.drop * part


def cup_mesh(joint: Joint) -> Mesh:
    """The cup in the scene, closed or cut away along its top."""
    cup = joint.cup
    return placed(joint, _cut_away_cup(cup) if cup.scoop else _closed_cup(cup))


def _closed_cup(cup: Cup) -> Mesh:
    edge = 0.25 * (cup.outer - cup.inner)
    profile = [
        (cup.run, CLOSED),
        (cup.run, cup.inner),
        (edge, cup.inner),
        (0, cup.inner + edge),
        (0, cup.outer - edge),
        (edge, cup.outer),
        (cup.depth, cup.outer),
        (cup.depth + 0.02, CLOSED),
    ]
    return lathe(profile, 72)


def _cut_away_cup(cup: Cup) -> Mesh:
    run, depth = cup.run, cup.depth
    x = np.concatenate(
        [
            [0, 0],
            np.linspace(0, 0.7 * run, 14),
            run - 0.3 * run * np.linspace(1, 0, 26)[1:] ** 2,  # dense where the cut closes
            [run + 0.001, depth],
        ]
    )
    shell = np.concatenate([_section(cup, row, float(here)) for row, here in enumerate(x)])
    wall = Mesh(shell, grid_faces(len(x), 2 * ACROSS_WALL))
    middle = (cup.inner + cup.outer) / 2
    profile = [
        (run + 0.01, CLOSED),
        (run + 0.01, middle),
        (depth, middle),
        (depth, cup.outer),
        (depth + 0.02, CLOSED),
    ]
    return join([wall, lathe(profile)])


def _section(cup: Cup, row: int, x: float) -> Array:
    """Section (80, 3) of a cut-away cup's wall: row 0 is the edge's middle, row 1 its bevel."""
    edge = 0.25 * (cup.outer - cup.inner)
    half = opening(cup, x) if x <= cup.run else CLOSED
    around = np.linspace(half, 2 * np.pi - half, ACROSS_WALL)
    if row == 0:
        outer = inner = (cup.outer + cup.inner) / 2
    else:
        outer = cup.outer - edge * (row == 1)
        inner = cup.inner + edge * (row == 1)
    angle = np.concatenate([around, around[::-1]])
    radius = np.concatenate([np.full(ACROSS_WALL, outer), np.full(ACROSS_WALL, inner)])
    at = x + (edge if row > 1 and x == 0 else 0)
    return np.stack(
        [np.full(2 * ACROSS_WALL, at), radius * np.sin(angle), radius * np.cos(angle)], 1
    )


def sleeve_mesh(rng: Rng, joint: Joint) -> Mesh:
    """A shrunk sleeve over the whole joint, in the scene."""
    x = np.linspace(-joint.gap - 1.2, joint.cup.depth * 0.9, 70)
    angle = turns(64)
    along = 0.54 + (joint.cup.outer - 0.47) * step(x, -0.3, 0.1)
    along = along - 0.08 * np.exp(-(((x + joint.gap / 2) / 0.35) ** 2))
    radii = along[:, None] + 0.015 * waves(rng, 0.8, 8)(
        x[:, None], np.cos(angle)[None] * 0.5, np.sin(angle)[None] * 0.5
    )
    radii[0] -= 0.04
    radii[-1] -= 0.04
    path = np.stack([x, 0 * x + joint.y, 0 * x], 1)
    return sweep(path, radii, angle)
