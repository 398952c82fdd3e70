"""Stated uncertainty: parts, their combination, and the calibration against known truth.

A check estimates the parts of its standard uncertainty from the picture; `quantity` combines them
(root sum of squares, JCGM 100) and corrects the sum by what the calibration scenes showed:
u = sqrt((factor * raw)^2 + floor^2). Two numbers per measurement are enough: the factor mends
parts that were judged too big or too small, the floor holds what does not show in the picture.

Whether something is there at all ("none allowed": strand, spike, char) is no normal law: most
joints measure 0 and a few overlooked ones are far off. For those the calibration adds a monotone
table from z to the probability of conformance, by isotonic regression; z is the normal quantile of
the probability by the normal law. It already holds size, photo resolution and the network's
certainty, so that one form of table serves every check. Sound and bad scenes weigh the
same in the fit (an even prior), or else a set with few bad joints would teach that seeing nothing
is enough. Where the network has a second opinion on the fault, the table is entered with a mixture
of both, see `score`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from scipy.special import ndtr

from inspector.model import Quantity, Unit

COVERAGE = 0.95
FAR = 8.0  # z and log-odds beyond it say no more
# Below 20 pairs 95 % of them cannot be told from all of them, so the fit then covers all; with 10
# that still means 10 in 11 of new ones.
FEWEST_PAIRS = 10
FEWEST_OF_A_CLASS = 10  # fewer sound or bad cases give no table
EVEN_PRIOR = 0.5
_ALMOST = 0.5  # cases added to each side (Jeffreys' rule): 0 of 15 missed is not "never missed"
_FACTORS = np.geomspace(0.05, 50.0, 400)


@dataclass(frozen=True, slots=True)
class Calibration:
    """What the calibration scenes say about one measurement, named "check.measurement".

    `floor` is in `unit`; `covers` is the share of scenes with |error| <= 2 u after the fit;
    `conformance` holds (score, probability) pairs, score rising, or nothing if the normal law
    holds; `second` is the share of the second opinion in the score, 0 to 1.
    """

    factor: float = 1.0
    floor: float = 0.0
    unit: str = ""
    scenes: int = 0
    covers: float = 0.0
    conformance: tuple[tuple[float, float], ...] = ()
    second: float = 0.0


UNCALIBRATED = Calibration()


def read_calibrations(text: str) -> Mapping[str, Calibration]:
    """Calibrations by name from JSON text; ValueError or TypeError if no fit gives such ones."""
    found = {}
    for name, entry in json.loads(text).items():
        pairs = tuple((float(z), float(p)) for z, p in entry.pop("conformance", ()))
        found[name] = Calibration(**entry, conformance=pairs)
        if not _is_meaningful(found[name]):
            raise ValueError(f"the calibration of {name} holds what no fit gives")
    return MappingProxyType(found)


def _is_meaningful(entry: Calibration) -> bool:
    """Whether the numbers are such as a fit gives; a wrong one would let bad joints pass unseen."""
    scores = [score for score, _ in entry.conformance]
    worth = [p for _, p in entry.conformance]
    shares, numbers = (entry.covers, entry.second, *worth), (entry.factor, entry.floor, *scores)
    return (
        all(math.isfinite(number) for number in numbers)
        and entry.factor > 0.0
        and entry.floor >= 0.0
        and all(0.0 <= share <= 1.0 for share in shares)
        and all(low <= high for rising in (scores, worth) for low, high in pairwise(rising))
    )


def write_calibrations(calibrations: Mapping[str, Calibration]) -> str:
    """JSON text of calibrations, one measurement a line, for inspector/calibration.json."""
    lines = [f"  {json.dumps(n)}: {json.dumps(asdict(c))}" for n, c in sorted(calibrations.items())]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def key_of(name: str) -> str:
    """The name under which a measurement is calibrated: both sides of a joint are one."""
    return name.removesuffix("-left").removesuffix("-right")


@cache
def calibrations() -> Mapping[str, Calibration]:
    """The committed calibrations, by "check.measurement"."""
    return read_calibrations(files("inspector").joinpath("calibration.json").read_text("utf-8"))


def calibrated(name: str, raw_standard_uncertainty: float) -> float:
    """The standard uncertainty (k = 1) that the calibration scenes support, in the same unit."""
    entry = calibrations().get(key_of(name), UNCALIBRATED)
    return math.hypot(entry.factor * raw_standard_uncertainty, entry.floor)


def combine(parts: Iterable[float]) -> float:
    """Root sum of squares of independent standard uncertainties in one unit."""
    return math.sqrt(math.fsum(part * part for part in parts))


def quantity(name: str, value: float, unit: Unit, parts: Mapping[str, float]) -> Quantity:
    """A value whose standard uncertainty is the calibrated sum of `parts` (k = 1, in `unit`)."""
    u = calibrated(name, combine(parts.values()))
    return Quantity(float(value), u, unit, MappingProxyType(dict(parts)))


def score(z: float, second: float | None, share: float) -> float:
    """What a table is entered with: z, and by its share the log-odds that there is no fault.

    `second` is the second opinion's log-odds of the fault, clipped to -8..8. None is taken as 0:
    nothing is known.
    """
    return (1.0 - share) * z - share * min(max(second or 0.0, -FAR), FAR)


def conformance_of_z(name: str, z: float, second: float | None = None) -> float | None:
    """Calibrated probability of conformance at z; None if the normal law holds.

    `name` is "check.measurement", with or without the side; `second` the log-odds of the fault.
    """
    entry = calibrations().get(key_of(name), UNCALIBRATED)
    if not entry.conformance:
        return None
    knots = np.array(entry.conformance)
    return float(np.interp(score(z, second, entry.second), knots[:, 0], knots[:, 1]))


def fit_calibration(pairs: Sequence[tuple[float, float, float]], unit: str) -> Calibration:
    """Factor and floor from (measured, raw standard uncertainty, truth), all in `unit`.

    For each of a range of floors the smallest factor is found with which |error| <= 2 u in 95 %
    of the scenes (rank rounded up as in conformal prediction, so that new scenes are covered
    too); of these the pair with the highest normal likelihood wins, since that is the one whose
    uncertainty is large where the errors are. ValueError below 10 pairs.
    """
    if len(pairs) < FEWEST_PAIRS:
        raise ValueError(f"{len(pairs)} scenes are too few; {FEWEST_PAIRS} are needed")
    measured, raw, truth = np.asarray(pairs, float).T
    error = np.abs(measured - truth)
    rank = min(math.ceil((len(pairs) + 1) * COVERAGE), len(pairs))
    widest = float(np.sort(error)[rank - 1]) / 2.0
    best, best_likelihood = None, -math.inf
    for floor in np.linspace(0.0, widest, 25):
        u = np.hypot(np.outer(_FACTORS, raw), floor)
        enough = np.count_nonzero(error <= 2.0 * u + 1e-12, axis=1) >= rank
        if not enough.any():
            continue
        row = int(np.argmax(enough))
        spread = np.maximum(u[row], 1e-9)
        likelihood = float(-np.sum(np.log(spread) + 0.5 * np.minimum(error / spread, 4.0) ** 2))
        if likelihood > best_likelihood:
            covers = float(np.mean(error <= 2.0 * u[row] + 1e-12))
            best = Calibration(float(_FACTORS[row]), float(floor), unit, len(pairs), covers)
            best_likelihood = likelihood
    if best is None:
        raise ValueError("the raw uncertainty is 0 where the errors are not")
    return best


def fit_conformance(
    cases: Sequence[tuple[float, bool]], prior: float = EVEN_PRIOR
) -> tuple[tuple[float, float], ...]:
    """Monotone table from (score, truly conforms) to the probability of conformance.

    `prior` is the share of sound joints assumed. ValueError with fewer than 10 sound or bad
    cases. z in the score (see `score`) must come from the uncertainties before calibration, as
    `probability` takes them.
    """
    z, good = (np.array(column, float) for column in zip(*sorted(cases), strict=True))
    n_good, n_bad = float(good.sum()), float(len(good) - good.sum())
    if min(n_good, n_bad) < FEWEST_OF_A_CLASS:
        raise ValueError(
            f"{n_good:g} sound and {n_bad:g} bad cases; {FEWEST_OF_A_CLASS} are needed"
        )
    weight = np.where(good > 0, prior / n_good, (1.0 - prior) / n_bad)
    starts = np.append(isotonic_blocks(good, weight, z), len(z))
    table: list[tuple[float, float]] = []
    for first, last in pairwise(starts):
        hits = float(good[first:last].sum())
        like_good = prior * (hits + _ALMOST) / (n_good + 2 * _ALMOST)
        like_bad = (1 - prior) * (last - first - hits + _ALMOST) / (n_bad + 2 * _ALMOST)
        p = like_good / (like_good + like_bad)
        p = max(p, table[-1][1] if table else 0.0)
        table += [(float(end), p) for end in np.unique(z[[first, last - 1]])]
    return tuple(table)


def isotonic_blocks(y: np.ndarray, weight: np.ndarray, x: np.ndarray) -> np.ndarray:
    """First index of each level of the rising least-squares fit to y (pool adjacent violators).

    y, weight, x: (N,), sorted by x; equal x stay in one block.
    """
    blocks: list[list[float]] = []  # sum of weights, weighted sum of y, first index, last x
    for i in range(len(y)):
        blocks.append([weight[i], weight[i] * y[i], i, x[i]])
        while len(blocks) > 1 and (
            blocks[-2][1] / blocks[-2][0] >= blocks[-1][1] / blocks[-1][0]
            or blocks[-2][3] == x[int(blocks[-1][2])]
        ):
            last = blocks.pop()
            blocks[-1][0] += last[0]
            blocks[-1][1] += last[1]
            blocks[-1][3] = last[3]
    return np.array([int(block[2]) for block in blocks])


def rectified(value: float, u: float) -> tuple[float, float]:
    """What stands out, and its standard uncertainty, of a normal value that may be negative.

    Of x ~ N(value, u) only max(0, x) counts: the root mean square of max(0, x) about max(0, value).
    """
    if u <= 0.0:
        return max(0.0, value), 0.0
    z, best = value / u, max(0.0, value)
    part, density = float(ndtr(z)), math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    mean = value * part + u * density
    square = (value * value + u * u) * part + value * u * density
    return best, math.sqrt(max(square - 2 * best * mean + best * best, 0.0))
