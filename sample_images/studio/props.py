"""What lies and stands about the joint. Nothing here hides the joint unless asked to.

`clutter` is the usual call; `hand`, `clip`, `vice`, `iron` hold or touch a joint; `cover` hides
one on purpose. All Parts are labelled 0, save wires (1), bare ends (2, 3), empty terminals (4),
empty housings (5) and heat-shrink (7), which are what they are wherever they lie.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .grounds import Look
from .part import Part
from .props_boards import board
from .props_fasteners import disc, nut, screw, spring
from .props_finish import plastic, printed
from .props_hand import fingertip, hand
from .props_jaws import clip, pliers, vice
from .props_shapes import TAU, part, place, sheet, turn, unit
from .props_small import block, crumbs, cut_strands, cylinder, paper_label, solder_wire, sprig, tape
from .props_tools import arm, handle, iron, tweezers
from .props_wires import (
    crossing_wire,
    empty_connector,
    heat_shrink,
    loose_contact,
    offcuts,
    ring_terminal,
    wire_end,
)

__all__ = ["Ball", "blocks", "clip", "clutter", "cover", "fingertip", "hand", "iron", "vice"]

Ball = tuple[ArrayLike, float]  # centre (3,) mm, radius mm
CAMERA_CLEARANCE_MM = 25.0


def blocks(part_: Part, balls: Sequence[Ball], camera: ArrayLike, margin_mm: float = 0.0) -> bool:
    """Whether the part hides or touches one of the balls, seen from `camera`, or is near it.

    Each triangle is projected from the camera onto the plane through the ball's centre that faces
    the camera, and must stay farther from the centre there than the ball's radius.
    """
    eye = np.asarray(camera, float)
    tri = part_.vertices[part_.faces].astype(float)
    if (np.linalg.norm(part_.vertices - eye, axis=1) < CAMERA_CLEARANCE_MM).any():
        return True
    for centre, radius in balls:
        c = np.asarray(centre, float)
        far = float(np.linalg.norm(c - eye))
        w = (c - eye) / far
        depth = (tri - eye) @ w  # (M, 3)
        near = depth.min(1) < far + radius + margin_mm
        ahead = near & (depth.max(1) > 1e-3)
        t, z = tri[ahead], depth[ahead]
        cut = z.min(1) < 1.0  # reaches behind the camera: judged by its part in front
        z = np.maximum(z, 1.0)
        u = unit(np.cross(w, [0, 0, 1] if abs(w[2]) < 0.9 else [1, 0, 0]))
        axes = np.stack([u, np.cross(w, u)], 1)
        q = ((t - eye) @ axes) * (far / z)[..., None]  # (M, 3, 2), about the ball's centre
        if (_distance_to_origin(q) < radius + margin_mm).any():
            return True
        if cut.any() and (np.linalg.norm(t[cut] - c, axis=2).min(1) < radius + margin_mm).any():
            return True
    return False


def _distance_to_origin(q: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance from the origin to each triangle (M, 3, 2); 0 inside."""
    if len(q) == 0:
        return np.zeros(0)
    a, b = q, np.roll(q, -1, axis=1)
    e = b - a
    k = np.clip(-(a * e).sum(2) / np.maximum((e * e).sum(2), 1e-12), 0, 1)
    edge = np.linalg.norm(a + k[..., None] * e, axis=2).min(1)
    side = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    inside = (side > 0).all(1) | (side < 0).all(1)
    return np.where(inside, 0.0, edge)


def _stand(rng: np.random.Generator) -> list[Part]:
    """Arm with a clip over the bench, holding nothing."""
    z = rng.uniform(8, 40)
    lean = unit(rng.normal(0, 1, 3) * [1, 1, 0.3] + [0, 0, 0.3])
    return clip(rng, (0, 0, z), lean) if rng.random() < 0.7 else arm(rng, (0, 0, z), lean)


def _lying_iron(rng: np.random.Generator) -> list[Part]:
    a = rng.uniform(0, TAU)
    return iron(rng, (0, 0, rng.uniform(2, 10)), (np.cos(a), np.sin(a), rng.uniform(0.05, 0.6)))


def _lying_finger(rng: np.random.Generator) -> list[Part]:
    a = rng.uniform(0, TAU)
    return fingertip(rng, (0, 0, rng.uniform(6, 14)), (np.cos(a), np.sin(a), rng.uniform(0.1, 0.7)))


# name: (maker, weight, also in training). The test look adds what training never shows.
KINDS: dict[str, tuple[Callable[..., list[Part]], float, bool]] = {
    "solder-wire": (solder_wire, 3, True),
    "screw": (screw, 2, True),
    "nut": (nut, 2, True),
    "crossing-wire": (crossing_wire, 3, True),
    "wire-end": (wire_end, 2.5, True),
    "board": (board, 2, True),
    "crumbs": (crumbs, 2, True),
    "cut-strands": (cut_strands, 2, True),
    "offcuts": (offcuts, 1.2, True),
    "heat-shrink": (heat_shrink, 1.2, True),
    "ring-terminal": (ring_terminal, 1, True),
    "empty-connector": (empty_connector, 1.5, True),
    "loose-contact": (loose_contact, 1, True),
    "iron": (_lying_iron, 1.5, True),
    "tweezers": (tweezers, 1, True),
    "pliers": (pliers, 1.2, True),
    "handle": (handle, 1, True),
    "stand": (_stand, 1.5, True),
    "finger": (_lying_finger, 1, True),
    "block": (block, 1, True),
    "cylinder": (cylinder, 1, True),
    "tape": (tape, 0.8, True),
    "label": (paper_label, 1, True),
    "spring": (spring, 1, False),
    "disc": (disc, 1, False),
    "sprig": (sprig, 1, False),
}


def make(rng: np.random.Generator, kind: str, look: Look) -> list[Part]:
    """One prop of a kind of KINDS, at the origin, resting on z = 0."""
    maker = KINDS[kind][0]
    made = maker(rng, look) if maker is empty_connector else maker(rng)
    low = min(float(p.vertices[:, 2].min()) for p in made)
    return place(made, None, (0, 0, max(0.0, -low)))


def clutter(
    rng: np.random.Generator,
    look: Look,
    keep_clear: Sequence[Ball],
    camera: ArrayLike,
    count: int | None = None,
) -> list[Part]:
    """Some props round the joint, none of which hides or touches a ball of `keep_clear`.

    keep_clear: balls (centre, radius) mm round what must stay in sight. The first is the target.
    count: how many props, or any number from none to many.
    """
    eye = np.asarray(camera, float)
    target = np.asarray(keep_clear[0][0], float) if keep_clear else np.zeros(3)
    reach = float(np.linalg.norm(eye - target))
    names = [k for k, (_, _, in_train) in KINDS.items() if in_train or look == "test"]
    weights = np.array([KINDS[k][1] for k in names])
    many = (
        int(rng.choice([0, 1, 2, 3, 4, 6, 9], p=[0.12, 0.16, 0.18, 0.18, 0.16, 0.12, 0.08]))
        if count is None
        else count
    )
    out: list[Part] = []
    for k in range(many):
        kind = str(rng.choice(names, p=weights / weights.sum()))
        made = make(rng, kind, look)
        loose = kind in {"crumbs", "cut-strands", "offcuts", "heat-shrink"}
        for attempt in range(6):
            angle, yaw = rng.uniform(0, TAU, 2)
            far = reach * rng.uniform(0.05, 0.3 + 0.12 * attempt)
            shift = np.array(
                [target[0] + far * np.cos(angle), target[1] + far * np.sin(angle), 0.0]
            )
            placed = place(made, turn([0, 0, 1], yaw), shift)
            if loose:
                placed = [q for q in placed if not blocks(q, keep_clear, eye)]
            if placed and not any(blocks(q, keep_clear, eye) for q in placed):
                out += [replace(q, name=f"{q.name}-{k}") for q in placed]
                break
    return out


def cover(
    rng: np.random.Generator, at: ArrayLike, camera: ArrayLike, radius: float = 4.0
) -> list[Part]:
    """A prop that hides a ball of `radius` mm at `at` from the camera: finger, tape or card."""
    p, eye = np.asarray(at, float), np.asarray(camera, float)
    w = unit(eye - p)
    far = float(np.linalg.norm(eye - p))
    side = turn(w, float(rng.uniform(0, TAU))) @ unit(
        np.cross(w, [0, 0, 1] if abs(w[2]) < 0.9 else [1, 0, 0])
    )
    near = p + w * min(radius * 1.5 + rng.uniform(3, 10), 0.45 * far)
    if rng.random() < 0.5:
        more = int(np.ceil(max(radius - 4.0, 0.0) / 9.0))  # fingers to each side of the middle one
        out = []
        for k in range(-more, more + 1):
            offset = np.cross(w, side) * k * 9.0
            out += fingertip(rng, near + offset - side * (radius + 12), side + 0.15 * w)
        return out
    reach = radius * rng.uniform(1.2, 2.0)
    u, v = np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 9), indexing="ij")
    long = rng.uniform(1.2, 4)
    other = np.cross(w, side)
    curl = (rng.uniform(0, 0.15) * reach * u**2)[..., None] * w
    points = near + side * (u * reach * long)[..., None] + other * (v * reach)[..., None] + curl
    skin = printed(rng) if rng.random() < 0.5 else plastic(rng)
    return [part("cover", sheet(points, np.stack([(u + 1) / 2, (v + 1) / 2], -1)), skin)]
