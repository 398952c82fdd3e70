"""The contact: a solder cup with its cut, and what is behind it. Joint coordinates, mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .mesh import Array, grid_faces, merge, revolve, tube


@dataclass(frozen=True)
class Cup:
    """inner and outer radius and depth in mm; `cut` is the shape of the opening."""

    inner: float
    outer: float
    depth: float
    cut: Literal["half", "scoop", "window", "closed"]
    width_deg: float  # half-angle of the missing wall at its widest
    reach: float  # share of the depth at which the wall closes again
    body: Literal["pin", "socket", "tail", "post"]
    body_radius: float
    body_length: float
    closing: float = 0.3  # of a half-open cup: share of its opening over which it closes; ours
    sweep: float = 0.8  # of a scooped one: over 1 it narrows fast at first, under 1 at last

    def opening(self, x: Array) -> Array:
        """Half-angle (radians, from +z) of the missing wall at x."""
        full = np.radians(self.width_deg)
        u = np.clip(np.asarray(x, float) / (self.reach * self.depth), 0, 1)
        if self.cut == "closed":
            return np.zeros_like(u)
        if self.cut == "half":
            late = np.clip((u - 1 + self.closing) / self.closing, 0, 1)
            return full * np.sqrt(np.clip(1 - late**2, 0, 1))
        if self.cut == "scoop":
            return full * (1 - u) ** self.sweep
        return full * np.clip(np.sin(np.pi * np.clip((u - 0.18) / 0.82, 0, 1)), 0, 1) ** 0.5


def wall(
    cup: Cup, rows: int = 56, columns: int = 40
) -> tuple[Array, NDArray[np.uint32], NDArray[np.bool_]]:
    """The cup's wall as a closed ribbon. Returns vertices, faces, and which faces are inside."""
    # rows gather where the cut changes fast
    ends = cup.reach * cup.depth * np.linspace(1 - cup.closing, 1, 7)
    x = np.unique(np.concatenate([np.linspace(0, cup.depth, rows), [0.02, 0.06], ends]))
    alpha = np.maximum(cup.opening(x), 1e-3)
    v = np.linspace(0, 1, columns)
    phi = alpha[:, None] + (2 * np.pi - 2 * alpha)[:, None] * v
    edge = 0.25 * (cup.outer - cup.inner)
    near_lip = edge * np.exp(-x / (0.6 * edge))
    outer = (cup.outer - near_lip)[:, None] * np.ones_like(phi)
    inner = (cup.inner + near_lip)[:, None] * np.ones_like(phi)
    phi_loop = np.concatenate([phi, phi[:, ::-1]], axis=1)
    r_loop = np.concatenate([outer, inner], axis=1)
    vertices = np.stack(
        [
            np.broadcast_to(x[:, None], phi_loop.shape),
            r_loop * np.sin(phi_loop),
            r_loop * np.cos(phi_loop),
        ],
        axis=-1,
    )
    n = 2 * columns
    faces = grid_faces(len(x), n, wrap=True)
    quad_column = np.repeat(np.tile(np.arange(n), len(x) - 1), 2)
    inside = (quad_column >= columns) & (quad_column < n - 1)
    k = np.arange(columns - 1)
    lip = (
        np.stack([k, k + 1, n - 1 - k, k + 1, n - 2 - k, n - 1 - k], axis=-1)
        .reshape(-1, 3)
        .astype(np.uint32)
    )
    return (
        vertices.reshape(-1, 3),
        np.concatenate([faces, lip]),
        np.concatenate([inside, np.zeros(len(lip), bool)]),
    )


def floor_disc(cup: Cup) -> tuple[Array, NDArray[np.uint32]]:
    """The cup's back wall, slightly coned."""
    r = np.linspace(1e-3, cup.inner * 1.02, 5)
    return revolve(cup.depth - 0.15 * cup.inner * (r / cup.inner) ** 2, r)


def body(cup: Cup, rng: np.random.Generator) -> tuple[Array, NDArray[np.uint32]]:
    """What follows the cup: shoulder, then a pin, a socket, a springy tail or a plain post."""
    x0, shoulder = cup.depth, cup.outer * rng.uniform(1.05, 1.3)
    width = rng.uniform(0.5, 1.4)
    rb, end = cup.body_radius, cup.depth + cup.body_length
    x = [x0 - 0.02, x0 + 0.02, x0 + 0.1, x0 + width, x0 + width + 0.1]
    r = [1e-3, cup.outer * 0.98, shoulder, shoulder, rb]
    if cup.body == "tail":  # slotted springs that bow out
        u = np.linspace(0, 1, 14)
        x += list(x0 + width + 0.15 + u * (end - x0 - width - 0.3))
        r += list(rb * (0.86 + 0.22 * np.sin(np.pi * u)))
        blades = []
        for phi in np.linspace(0, 2 * np.pi, int(rng.integers(4, 9)), endpoint=False):
            bx = x0 + width + 0.2 + u * (end - x0 - width - 0.3)
            br = rb * (0.92 + 0.24 * np.sin(np.pi * u))
            path = np.stack([bx, br * np.sin(phi), br * np.cos(phi)], axis=-1)
            blades.append(tube(path, 0.16 * rb, 8))
        x.append(end)
        r.append(1e-3)
        return merge(revolve(np.array(x), np.array(r)), *blades)
    if cup.body == "socket":
        x += [end - 0.1, end, end, end - 0.6 * cup.body_length]
        r += [rb, rb - 0.1, 0.75 * rb, 0.72 * rb]
    else:
        x += [end - 0.4 * rb, end - 0.1 * rb, end]
        r += [rb, 0.75 * rb, 1e-3]
    return revolve(np.array(x), np.array(r))
