"""How many bad joints would pass with as little against them as this one, whatever is wrong.

One finder for each fault needs proof of its own, and there are many faults. But a joint against
which nothing speaks at all is a rare sight among bad ones, and most of those that the second
opinion takes for sound are caught by what is measured on them. How rare one is that neither
catches, the calibration scenes say.

See docs/decisions/0012-the-joint-as-a-whole.md.
"""

from __future__ import annotations

import math
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
LEANS_TO_BAD = math.log(2.0)  # what an opinion of even odds speaks against a joint
_BEYOND = 1e-6  # more sound than the most sound of the bad ones


def share_of_bad(against: float) -> float | None:
    """Of clearly bad joints the share that would pass with no more against them than `against`.

    `against` is what `second.overall` gives. The share is an upper bound (95 %, one-sided), or
    None without calibration; 1 where a single opinion may lean to bad.
    """
    entry = calibrations().get(WHOLE, UNCALIBRATED)
    return share_by(entry, against) if entry.conformance else None


def share_by(table: Calibration, against: float) -> float:
    """The same by a table of `fit_whole`."""
    if against >= LEANS_TO_BAD:
        return 1.0
    knots = np.array(table.conformance)
    return 1.0 - float(np.interp(-against, knots[:, 0], knots[:, 1]))


def fit_whole(passing: Sequence[float], count: int) -> Calibration:
    """Table for `share_of_bad` from `count` clearly bad calibration joints that were judged.

    `passing` is what speaks against each of those that would pass if they were vouched for. The
    bound is that of Clopper and Pearson (Biometrika 26, 404, 1934). ValueError below 10 joints.
    """
    if count < FEWEST_OF_A_CLASS:
        raise ValueError(f"{count} bad joints; {FEWEST_OF_A_CLASS} are needed")
    scores = np.unique(-np.asarray(passing, float))
    as_sound = np.array([np.count_nonzero(-np.asarray(passing) >= s) for s in scores], int)
    soundest = float(scores[-1]) if len(scores) else 0.0
    knots = [*zip(scores, as_sound, strict=True), (soundest + _BEYOND, 0)]
    bound = [
        (s, float(beta.ppf(COVERAGE, k + 1, count - k)) if k < count else 1.0) for s, k in knots
    ]
    return Calibration(scenes=count, conformance=tuple((float(s), 1.0 - b) for s, b in bound))
