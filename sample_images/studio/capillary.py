"""Free surfaces of solder between a round conductor and a round lip.

At the size of a joint gravity is weak (capillary length 2.3 to 2.8 mm), so the surface has one
mean curvature everywhere (Young-Laplace). Turned about the conductor that is a Delaunay surface:
with psi the slope angle of the profile against the axis,
    dx/ds = cos psi,  dr/ds = sin psi,  dpsi/ds = cos psi / r - 2H,
started on the conductor at the contact angle. 2H = 0 is the catenoid (concave), positive 2H
swells to an unduloid or a sphere (convex), negative 2H draws the fillet in.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def _slope(state: Array, two_h: Array) -> Array:
    _, r, psi = state
    return np.stack([np.cos(psi), np.sin(psi), np.cos(psi) / np.maximum(r, 1e-6) - two_h])


def meridian(r_start: Array, theta: Array, two_h: Array, length: Array, steps: int) -> Array:
    """Profiles (steps + 1, 3, n) of x, r, psi by fourth-order Runge-Kutta over arc length."""
    state = np.stack([np.zeros_like(r_start), r_start, theta])
    h = length / steps
    out = [state]
    for _ in range(steps):
        k1 = _slope(state, two_h)
        k2 = _slope(state + h / 2 * k1, two_h)
        k3 = _slope(state + h / 2 * k2, two_h)
        k4 = _slope(state + h * k3, two_h)
        state = state + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        out.append(state)
    return np.stack(out)


def fillet(
    r_start: Array,
    r_end: Array,
    theta: Array,
    two_h: Array,
    *,
    bulge: bool,
    points: int = 24,
    steps: int = 140,
) -> Array:
    """Profiles (points, 2, n) of x, r from the conductor (r_start, angle theta) to r_end at x = 0.

    Where a profile cannot reach r_end its 2H is halved until it does. With `bulge` the profile
    runs past its widest place and comes back to r_end, if it has one.
    """
    r_start, r_end, theta, two_h = np.broadcast_arrays(r_start, r_end, theta, two_h)
    r_end = np.maximum(r_end, r_start * 1.002)
    two_h = two_h.copy()
    length = 3.5 * (r_end - r_start) + (5.0 if bulge else 2.5) * r_start
    for _ in range(9):
        path = meridian(r_start, theta, two_h, length, steps)
        above = path[:, 1] >= r_end
        reached = above.any(axis=0)
        if reached.all():
            break
        two_h = np.where(reached, two_h, two_h * 0.5 - 0.02 / r_start)
    stop = np.where(reached, above.argmax(axis=0), steps)
    if bulge:
        back = above & (np.cumsum(~above[::-1], axis=0)[::-1] > 0)  # above now, below later
        last = steps - back[::-1].argmax(axis=0)
        stop = np.where(back.any(axis=0), last, stop)
    stop = np.maximum(stop, 1)
    t = np.linspace(0, 1, points)[:, None] * stop
    low = np.clip(np.floor(t).astype(int), 0, steps - 1)
    part = t - low
    columns = np.arange(path.shape[2])
    xr = (
        path[low, :2, columns] * (1 - part)[..., None]
        + path[low + 1, :2, columns] * part[..., None]
    )
    xr = xr.transpose(0, 2, 1)
    xr[:, 0] -= xr[-1, 0]
    return xr
