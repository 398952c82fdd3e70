"""Probability of conformance: the normal law, and the calibration's tables in its place.

JCGM 106:2012: a measured value and its standard uncertainty stand for a normal distribution of the
true value; the probability of conformance is its part on the right side of the limit.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri

from inspector.model import Limit, Measurement
from inspector.uncertainty import FAR, combine, conformance_of_z

_SURELY = 1e-12  # stands for an uncertainty of 0
# Share of joints without the fault in question on a bench that does poorly; ours, no source.
MOSTLY_SOUND = 0.8


def conformance(
    value: float, standard_uncertainty: float, sense: Literal["max", "min"], limit: float
) -> float:
    """Probability that the true value is on the right side of `limit` (JCGM 106:2012, normal)."""
    return float(ndtr(_z(value, standard_uncertainty, sense, limit)))


def chance(item: Measurement, limit: Limit, *, raw: bool = False) -> float:
    """Probability by the normal law that the joint conforms; what is not there conforms.

    raw: with the uncertainty as the picture gave it, before calibration.
    """
    q = item.quantity
    u = combine(q.parts.values()) if raw and q.parts else q.standard_uncertainty
    if_there = conformance(q.value, u, limit.sense, limit.value)
    return 1.0 - item.presence * (1.0 - if_there)


def probability(check: str, item: Measurement, limit: Limit) -> float:
    """Probability that the joint conforms: from the calibration's table if it has one.

    The table is entered with the uncalibrated uncertainty: a floor that a few gross misses made
    would hide the difference between a faint trace and none. Beside it counts the second opinion.
    """
    z = quantile(chance(item, limit, raw=True))
    fitted = conformance_of_z(f"{check}.{item.name}", z, item.second)
    return chance(item, limit) if fitted is None else fitted


def sent_back(check: str, item: Measurement, limit: Limit) -> float:
    """The probability of conformance that a rework must answer to.

    A table takes it as even odds that the thing is there, which is the careful guess before a
    pass. Before somebody is told to undo a joint the careful guess is the other one: MOSTLY_SOUND.
    The normal law holds no such guess.
    """
    p = probability(check, item, limit)
    if conformance_of_z(f"{check}.{item.name}", 0.0) is None:
        return p
    good, bad = p * MOSTLY_SOUND, (1.0 - p) * (1.0 - MOSTLY_SOUND)
    return good / (good + bad)


def quantile(probability: float) -> float:
    """The normal quantile z of a probability, within -8 to 8."""
    return float(np.clip(ndtri(probability), -FAR, FAR))


def _z(value: float, u: float, sense: Literal["max", "min"], limit: float) -> float:
    """Margin to the limit in standard uncertainties, positive on the right side."""
    margin = limit - value if sense == "max" else value - limit
    return margin / max(u, _SURELY * max(1.0, abs(limit)))
