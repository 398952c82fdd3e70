"""The insulated wire: where it runs, and the end of its insulation, cut clean or damaged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .fields import Rng, step, waves
from .joint import Joint
from .meshes import Array, Mesh, frames, grid_faces, ring_points, turns

AROUND = 128
FAR = 26.0  # length of wire that is modelled
FINE = 1.8  # length behind the end that is modelled finely
RADIUS = 0.5
RAGGED = 1.6  # length over which a ragged end fades away
UPWARD = np.pi / 2  # the angle round the wire that the camera sees first


@dataclass(frozen=True, slots=True)
class _End:
    """Radii (n, k) of the tube, how far (k,) its end is melted back, bevel of its end face."""

    radii: Array
    back: Array
    bevel: float


def wire_path(joint: Joint, points: int = 150) -> tuple[Array, Array]:
    """The insulated wire's axis (n, 3) in the scene and the length (n,) from its end."""
    length = FAR * np.linspace(0, 1, points) ** 1.8
    heading = joint.heading * (1 - np.exp(-length / 4))
    heading = heading + joint.bend * np.clip(length - 1, 0, 12) / 10
    pieces = np.diff(length, prepend=0)
    x = -joint.gap - np.cumsum(np.cos(heading) * pieces)
    y = joint.y + np.cumsum(np.sin(heading) * pieces)
    lying = joint.floor + RADIUS
    z = lying * step(length, 0.2, 6) if joint.rests else 0 * length
    return np.stack([x, y, z + joint.lift], 1), length


def insulation_mesh(rng: Rng, joint: Joint) -> Mesh:
    """The tube with its end face and the beginning of its bore, in the scene."""
    coarse, coarse_length = wire_path(joint)
    fine = np.linspace(0, FINE, 130)
    length = np.unique(np.concatenate([coarse_length[coarse_length > FINE], fine]))
    path = _along(length, coarse_length, coarse)
    angle = turns(AROUND)
    end = _end(rng, joint, length, angle)
    # a ragged end shifts the surface back along the path
    shift = end.back * step(length, RAGGED, 0)[:, None]
    place = np.clip(length[:, None] + shift, 0, length[-1])
    _, first, second = frames(path)
    centres = _along(place, length, path)
    body = ring_points(centres, first, second, end.radii, angle)
    face = _end_face(joint, end, centres[0], (first[0], second[0]), angle)
    vertices = np.concatenate([*face, *body])
    vertices[:, 0] -= end.bevel
    return Mesh(vertices, grid_faces(len(face) + len(body), AROUND))


def _along(place: Array, length: Array, path: Array) -> Array:
    """Points (..., 3) of a path (n, 3) at those lengths (...)."""
    return np.stack([np.interp(place, length, path[:, i]) for i in range(3)], -1)


def _end(rng: Rng, joint: Joint, length: Array, angle: Array) -> _End:
    radii = np.full((len(length), AROUND), RADIUS)
    radii += 0.004 * waves(rng, 2.0, 6, 1)(length)[:, None]
    if joint.gap < 0:  # pushed into the cup, it is squeezed to fit
        small = min(RADIUS, joint.cup.inner * 0.97)
        squeezed = small + (RADIUS - small) * step(length, -joint.gap, -joint.gap + 0.5)
        radii *= squeezed[:, None] / RADIUS
    ring = np.stack([np.cos(angle), np.sin(angle)])
    if joint.variant == "melted":
        return _melted(rng, joint, length, ring, radii)
    if joint.variant == "char":
        fine = waves(rng, 0.25, 8, 3)(length[:, None], ring[0] / 2, ring[1] / 2)
        radii += (0.02 * fine - 0.02) * step(length, joint.defect_size, 0.1)[:, None]
        back = 0.1 * (1 + waves(rng, 0.7, 6, 2)(*ring)) / 2
        return _End(radii, back, 0.03)
    slant = rng.normal(0, 0.02, 2)
    back = slant[0] * ring[0] + slant[1] * ring[1]
    back = back - back.min()
    if joint.variant == "cut":
        radii = radii - _cut(rng, joint, length, angle)
    return _End(radii, back, 0.03)


def _melted(rng: Rng, joint: Joint, length: Array, ring: Array, radii: Array) -> _End:
    rough = waves(rng, 1.1, 6, 2)(*ring)
    rough = (rough - rough.min()) / np.ptp(rough)
    fine = waves(rng, 0.35, 8, 3)(length[:, None], ring[0] / 2, ring[1] / 2)
    swollen = radii + (0.05 + 0.035 * fine) * step(length, 0.8, 0.1)[:, None]
    return _End(swollen, joint.defect_size * rough**1.5, 0.11)


def _cut(rng: Rng, joint: Joint, length: Array, angle: Array) -> Array:
    """Depth (n, k) of a cut across the wire's upper side."""
    at = rng.uniform(0.45, 0.9)
    tilt = rng.uniform(-0.5, 0.5)
    top = np.angle(np.exp(1j * (angle - UPWARD - rng.uniform(-0.4, 0.4))))
    line = at + tilt * np.sin(top) * 0.5
    line = line + 0.02 * waves(rng, 0.5, 5, 1)(top)
    deep = np.clip((joint.defect_size - np.abs(top) * 0.5) / 0.12, 0, 1)
    width = 0.016 + 0.03 * deep
    return 0.2 * deep * np.exp(-(((length[:, None] - line) / width) ** 4))


def _end_face(
    joint: Joint, end: _End, front: Array, normals: tuple[Array, Array], angle: Array
) -> list[Array]:
    """Rings (k, 3) from within the bore, over the end face, to the tube's outside."""
    outward = np.array([1.0, 0, 0])
    bevel = end.bevel
    bore = min(joint.conductor_radius + 0.012, end.radii[0].min() - 0.04)
    bores = np.full(AROUND, bore)

    def ring(centre: Array, radius: Array) -> Array:
        way = np.cos(angle)[:, None] * normals[0] + np.sin(angle)[:, None] * normals[1]
        return centre + radius[:, None] * way

    return [
        ring(front - 0.5 * outward, bores),
        ring(front, bores),
        ring(front + bevel * outward, bores + bevel * 0.5),
        ring(front + bevel * outward, end.radii[0] - bevel),
        ring(front + 0.7 * bevel * outward, end.radii[0] - 0.3 * bevel),
    ]
