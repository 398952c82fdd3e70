"""How many bad joints look as sound as this one, whatever may be wrong with them.

One finder for each fault needs proof of its own, and there are many faults. But a joint against
which nothing speaks at all is a rare sight among bad ones. How rare, the calibration scenes say:
their clearly bad joints, each with what the second opinion says against it.

See docs/decisions/0012-the-joint-as-a-whole.md.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.stats import beta

from inspector.uncertainty import (
    COVERAGE,
    FEWEST_OF_A_CLASS,
    UNCALIBRATED,
    Calibration,
    calibrations,
)

WHOLE = "joint.whole"  # its entry among the calibrations
_BEYOND = 1e-6  # more sound than the most sound of the bad ones


def share_of_bad(against: float) -> float | None:
    """Of clearly bad joints the share that look at least as sound as one with `against`.

    `against` is what `second.overall` gives. The share is an upper bound (95 %, one-sided), or
    None without calibration.
    """
    entry = calibrations().get(WHOLE, UNCALIBRATED)
    if not entry.conformance:
        return None
    knots = np.array(entry.conformance)
    return 1.0 - float(np.interp(-against, knots[:, 0], knots[:, 1]))


def fit_whole(bad: Sequence[float]) -> Calibration:
    """Table for `share_of_bad` from what speaks against each clearly bad calibration joint.

    The bound is that of Clopper and Pearson (Biometrika 26, 404, 1934). ValueError below 10.
    """
    count = len(bad)
    if count < FEWEST_OF_A_CLASS:
        raise ValueError(f"{count} bad joints; {FEWEST_OF_A_CLASS} are needed")
    scores = np.unique(-np.asarray(bad, float))
    as_sound = np.array([np.count_nonzero(-np.asarray(bad) >= s) for s in scores])
    knots = [*zip(scores, as_sound, strict=True), (scores[-1] + _BEYOND, 0)]
    bound = [
        (s, float(beta.ppf(COVERAGE, k + 1, count - k)) if k < count else 1.0) for s, k in knots
    ]
    return Calibration(scenes=count, conformance=tuple((float(s), 1.0 - b) for s, b in bound))
