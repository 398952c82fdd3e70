"""The wire's strands: three layers with their lay, birdcaged where that is the fault, and strays.

Figures are ours, no source; lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from .fields import Array, Rng, step
from .meshes import Mesh, bezier, joined, sweep
from .pole import Pole, Stray

STRAND = 0.057  # radius
STRAY_RADIUS = 0.062
STRIPPED = 1.2  # how far the strands are modelled into the insulation
LEAST_LAYER = 0.12  # radius under which a layer is left out
SIDES = 6
CAGED = (1, 0.75, 0.4)  # how far the layers of a birdcage bulge
STRAY_POINTS = 40


def strand_end(pole: Pole) -> float:
    """The x where the strands end; under blow holes they are left out, to lie deeper."""
    return 0.3 if pole.holes else pole.seat


def strand_mesh(rng: Rng, pole: Pole) -> Mesh:
    """All strands of a pole; their value `tin` is 0 where the copper is bare, 1 under solder."""
    meshes, tins = [], []
    for mesh, tin in _strands(rng, pole):
        meshes.append(mesh)
        tins.append(tin)
    for stray in pole.strays:
        mesh = _stray(stray)
        meshes.append(mesh)
        tins.append(np.full(len(mesh.vertices), stray.tin))
    whole = joined(meshes)
    whole.vertices[:, 1] += pole.y
    return replace(whole, values={"tin": np.concatenate(tins)})


def _strands(rng: Rng, pole: Pole) -> Iterator[tuple[Mesh, Array]]:
    layers = (
        (pole.radius - STRAND, pole.ring),
        (pole.radius - 3 * STRAND, max(8, pole.ring - 8)),
        (pole.radius - 5 * STRAND, max(6, pole.ring - 16)),
    )
    for layer, (radius, count) in enumerate(layers):
        if radius < LEAST_LAYER:
            continue
        for i in range(count):
            angle = 2 * np.pi * (i + rng.uniform(-0.22, 0.22)) / count
            line = _line(rng, pole, layer, radius, angle)
            if line is None:
                continue
            mesh = sweep(line, np.full(len(line), STRAND), SIDES)
            if not pole.tinned:
                yield mesh, np.zeros(len(mesh.vertices))
                continue
            x = np.concatenate([np.repeat(line[:, 0], SIDES), line[[0, -1], 0]])
            bare, tinned = -pole.wick * 1.15 - 0.5, -pole.wick * 0.8 - 0.05
            yield mesh, step(bare, tinned, x + rng.normal(0, 0.12))


def _line(rng: Rng, pole: Pole, layer: int, radius: float, angle: float) -> Array | None:
    """The middle line (n, 3) of a strand, or None for one that a birdcage has lost."""
    start, end = -pole.gap - STRIPPED, strand_end(pole)
    x = np.linspace(start, end - rng.uniform(0, 0.25), max(8, int((end - start) / 0.28)))
    wander = rng.normal(0, 0.03, 4)
    part = (x - start) / (end - start)
    slow = wander[0] * np.sin(2.2 * np.pi * part + wander[1] * 99)
    quick = wander[2] * np.sin(5 * np.pi * part + wander[3] * 99)
    angles = angle + pole.twist * x + 0.25 * (slow + quick)
    wave = 0.025 * np.sin(7 * part + wander[3] * 200) * (layer == 0)
    radii = np.minimum(radius + wave + rng.normal(0, 0.012), pole.radius + 0.02)
    if pole.cage:
        free = np.clip((x + pole.gap) / pole.gap, 0, 1)
        bulge = np.sin(np.pi * np.clip(free * 1.05, 0, 1)) ** 1.3
        bulge = bulge * (pole.cage * pole.overall / 2 - pole.radius)
        bulge = bulge * rng.uniform(0.75, 1.08) * CAGED[layer]
        angles = angles + rng.normal(0, 0.12) * np.sin(np.pi * free)
        radii = radii + bulge
        if layer == 1 and rng.random() < 0.4:
            return None
    y, z = pole.axis(x)
    return np.stack([x, y + radii * np.sin(angles), z + radii * np.cos(angles)], 1)


def _stray(stray: Stray) -> Mesh:
    line = bezier(stray.points, STRAY_POINTS)
    turn = np.linspace(0, stray.curl, STRAY_POINTS)
    curl = np.stack([0 * turn, 0.06 * np.sin(turn), 0.06 * np.cos(turn)], 1)
    return sweep(line + curl, np.full(STRAY_POINTS, STRAY_RADIUS), SIDES)


def core_mesh(pole: Pole) -> Mesh:
    """What is seen between the strands: a rod under them, with their value `tin`."""
    count, sides = 30, 16
    x = np.linspace(-pole.gap - STRIPPED, strand_end(pole) - 0.05, count)
    y, z = pole.axis(x)
    radius = pole.radius - 4.6 * STRAND if pole.radius > 0.35 else pole.radius * 0.5
    mesh = sweep(np.stack([x, y + pole.y, z], 1), np.full(count, radius), sides)
    tin = np.zeros(len(mesh.vertices))
    if pole.tinned:
        along = np.concatenate([np.repeat(x, sides), [0, 0]])
        tin = step(-pole.wick - 0.4, -pole.wick, along)
    return Mesh(mesh.vertices, mesh.faces, values={"tin": tin})
