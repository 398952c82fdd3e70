"""A bead: solder that took to the wire alone and stands free in the cup, or before it.

The classical cold joint. The wire was hot and the cup was not, so the solder drew itself together
round the strands; between it and the cup's wall there is a gap all round.
"""

from __future__ import annotations

import numpy as np

from . import part as pt
from .mesh import Array, grid_faces, noise3
from .solder_surfaces import PHI, ContactLine, Sheet, lumps
from .spec import JointSpec

ROWS = 48
BLUNT = 3.0  # exponent of the bead's outline along the wire: 2 is an ellipse, more is blunter
LEAST_MM = 0.06  # of solder on the strands, however narrow the cup
CLEAR = 0.04  # of the cup's inner radius: the narrowest gap to its wall
SWELL = 0.35  # of the wire's radius: how far it may swell out of an open cup


def loose_bead(spec: JointSpec, seed: int) -> tuple[Sheet, list[ContactLine]]:
    """The bead's surface, and its contact line on the wire."""
    cup, rc = spec.cup, spec.core_mm
    cy, cz = spec.offset
    closed = cup.cut == "closed"
    length = min(cup.depth, 3.0 * cup.inner)
    front = -min(0.7 * max(spec.gap_mm, 0.3), 0.5 * length)
    back = -0.03 if closed else spec.seat * cup.depth + 0.15 * rc
    if closed:  # it cannot go in, and stands at the mouth
        front = min(front, -0.5 * cup.inner)
    u = np.linspace(0.0, 1.0, ROWS)[:, None]
    plump = np.clip(1 - np.abs(2 * u - 1) ** BLUNT, 0, 1) ** (1 / BLUNT)
    room = cup.outer - rc if closed else cup.inner - np.hypot(cy, cz) - rc
    thick = np.full((1, len(PHI)), max(spec.bead * room, LEAST_MM))
    if not closed:
        thick = thick + SWELL * rc * np.maximum(np.cos(PHI), 0.0)[None] ** 2
    ring = np.stack([np.cos(PHI), np.sin(PHI), np.zeros_like(PHI)], axis=-1)
    wave = 1 + 0.12 * noise3(ring, seed, 0.9, 2)[None]
    tip = 0.0 if spec.seat * cup.depth < back else 1.0  # beyond the strands it closes
    bare = rc * np.where(u > 0.9, tip + (1 - tip) * np.sqrt(np.clip((1 - u) / 0.1, 0, 1)), 1.0)
    r = bare + plump * thick * wave
    x = np.broadcast_to(front + u * (back - front), r.shape)
    points = _round(x, r, cy, cz)
    r = r + lumps(spec, points, seed + 3) * np.sin(np.pi * u)
    points = _clear(_round(x, r, cy, cz), spec)
    faces = grid_faces(ROWS, len(PHI), wrap=True)
    inside = points.reshape(-1, 3)[faces, 0].mean(axis=1) > 0
    marks = np.where(inside, pt.MOUTH, 0).astype(np.uint16)
    if spec.rough > 0:
        marks |= np.uint16(pt.ROUGH)
    # its edge toward the cup is taken from the picture: see contact_truth
    lines = [ContactLine(points[0], np.ones(len(PHI), bool), "conductor")]
    return Sheet(points.reshape(-1, 3), faces, marks), lines


def _clear(points: Array, spec: JointSpec) -> Array:
    """The points (..., 3), those inside the cup drawn in until they clear its wall."""
    x, y, z = np.moveaxis(points, -1, 0)
    far = np.hypot(y, z)
    walled = (x > 0) & (x < spec.cup.depth) & (np.abs(np.arctan2(y, z)) >= spec.cup.opening(x))
    most = (1 - CLEAR) * spec.cup.inner
    scale = np.where(walled & (far > most), most / np.maximum(far, 1e-9), 1.0)
    return np.stack([x, y * scale, z * scale], axis=-1)


def _round(x: Array, r: Array, cy: float, cz: float) -> Array:
    return np.stack([x, cy + r * np.sin(PHI), cz + r * np.cos(PHI)], axis=-1)
