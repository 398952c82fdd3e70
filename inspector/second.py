"""The network's second opinion: what may be wrong with a joint, whatever is measured on it.

The network says for each cell of a coarse grid how likely each fault is there. What it says of the
cells of one joint is pooled as in training, so that one cell that is sure speaks for the joint. Of
a joint that was looked at twice the mean of the two log-odds counts, of a hindrance the larger.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from inspector.model import (
    Check,
    Fault,
    Hindrance,
    Joint,
    Mask,
    Measured,
    Measurement,
    Points,
)
from inspector.regions.capsule import ASIDE_D, BEHIND_D, BEYOND_D
from inspector.uncertainty import key_of

_Asked = TypeVar("_Asked", bound=Fault | Hindrance)
LARGEST_ODDS = 14.0  # of a cell; with _NONE the same as in training, or the figures would differ
_NONE = 1e-9  # keeps the logarithm finite


def log_odds(joint: Joint, fault: Fault | Hindrance) -> float | None:
    """Log-odds that the joint has the fault or hindrance: the log of the mean odds over its cells.

    Its cells are those whose middles lie beside the axis from behind the insulation's end to
    beyond the lip. None where the network gives no second opinion, or where no cell is the joint's.
    """
    return _opinions(joint, (fault,)).get(fault)


def _opinions(joint: Joint, asked_of: Iterable[_Asked]) -> dict[_Asked, float]:
    """The log-odds of several things, lacking those on which there is no opinion.

    The joint's cells are the same for every fault, so they are looked up once.
    """
    looks = _looks(joint)
    if not looks:
        return {}
    known = [one for one in asked_of if all(one < len(cells) for cells in looks)]
    said = {one: [_pooled(cells[one]) for cells in looks] for one in known}
    # what keeps a joint from being judged need show in one look only
    return {
        one: max(values) if isinstance(one, Hindrance) else sum(values) / len(values)
        for one, values in said.items()
    }


def _looks(joint: Joint) -> list[NDArray[np.float32]]:
    """What each look at the joint says of its cells, (OPINIONS, n) each; none without cells."""
    looks = []
    if (faults := joint.patch.faults) is not None:
        ys, xs = np.indices(faults.grid.shape[1:])
        middles = np.stack([xs, ys], axis=-1) * faults.cell_px + np.asarray(faults.corner)
        looks.append(faults.grid[:, _mine(joint, joint.to_frame(middles))])
    if joint.along is not None:
        looks.append(joint.along.grid[:, _mine(joint, joint.along.places)])
    return [cells for cells in looks if cells.shape[1]]


def _mine(joint: Joint, places: Points) -> Mask:
    """Which cells at these (s, t) in D, (h, w, 2), are the joint's."""
    s, t = np.moveaxis(places, -1, 0)
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    return np.asarray((s >= -BEHIND_D) & (s <= lip + BEYOND_D) & (np.abs(t) <= ASIDE_D))


def _pooled(local: NDArray[np.float32]) -> float:
    odds = np.exp(LARGEST_ODDS * np.tanh(local.astype(float) / LARGEST_ODDS))
    return math.log(float(odds.mean()) + _NONE)


def asked(check: Check, measured: tuple[Measured, ...], joint: Joint) -> tuple[Measured, ...]:
    """The measurements, each with the second opinion on its fault where it has one."""
    said = _opinions(joint, set(check.faults.values()))
    return tuple(_with_second(check, item, said) for item in measured)


def _with_second(check: Check, item: Measured, said: Mapping[Fault, float]) -> Measured:
    fault = check.faults.get(key_of(item.name))
    if fault is None or not isinstance(item, Measurement):
        return item
    return replace(item, second=said.get(fault))


def overall(joint: Joint) -> float | None:
    """How much speaks against the joint as a whole: 0 nothing, rising without end.

    Minus the log of the probability that it has none of the faults, each opinion taken for
    independent of the others. None where the network gives no second opinion.
    """
    known = list(_opinions(joint, Fault).values())
    return float(np.logaddexp(0.0, known).sum()) if known else None
