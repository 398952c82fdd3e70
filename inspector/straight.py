"""A straight line through points of which some do not belong to it.

Tukey's biweight (A. E. Beaton and J. W. Tukey, Technometrics 16, 147, 1974; its constant 4.685 for
95 % efficiency on normal errors: from memory), started from medians so that outliers cannot tilt
it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from inspector.outline import Floats

FEWEST = 4  # points or pixels that anything can be fitted to
SINGULAR = 1e12


class Line(NamedTuple):
    """y = offset + slope * x with the standard uncertainties of both and the residual scatter."""

    offset: float
    slope: float
    u_offset: float
    u_slope: float
    scatter: float

    def at(self, x: Floats) -> Floats:
        """Values of the line at x (n,)."""
        return self.offset + self.slope * x


def robust_line(x: Floats, y: Floats) -> Line | None:
    """Line through (x, y), both (n,), with Tukey weights; None for fewer than four points."""
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    if len(x) < FEWEST or float(np.ptp(x)) == 0.0:
        return None
    middle = float(np.median(x))
    basis = np.stack([np.ones_like(x), x - middle], axis=1)
    half = x > middle
    if half.any() and not half.all():  # start from the two halves' medians: outliers cannot tilt it
        run = float(np.median(x[half]) - np.median(x[~half]))
        slope = float(np.median(y[half]) - np.median(y[~half])) / run if run > 0 else 0.0
    else:
        slope = 0.0
    fit = np.array([np.median(y - slope * (x - middle)), slope])
    weight = np.ones_like(x)
    for _ in range(8):
        rest = y - basis @ fit
        scale = max(1.4826 * float(np.median(np.abs(rest))), 1e-6)
        weight = np.clip(1 - (rest / (4.685 * scale)) ** 2, 0, None) ** 2
        normal = basis.T @ (basis * weight[:, None])
        if np.linalg.cond(normal) > SINGULAR:
            return None
        fit = np.linalg.solve(normal, basis.T @ (weight * y))
    rest = y - basis @ fit
    scatter = float(np.sqrt((weight @ rest**2) / max(weight.sum() - 2, 1.0)))
    covariance = np.linalg.inv(basis.T @ (basis * weight[:, None])) * scatter**2
    u_offset = float(np.sqrt(covariance[0, 0] + middle**2 * covariance[1, 1]))
    offset = float(fit[0] - fit[1] * middle)
    return Line(offset, float(fit[1]), u_offset, float(np.sqrt(covariance[1, 1])), scatter)
