"""From calibration scenes to inspector/calibration.json."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from inspector import checks
from inspector.model import Limit
from inspector.probability import conformance, quantile
from inspector.settings import OVERLOOKED, Settings
from inspector.uncertainty import (
    FAR,
    FEWEST_OF_A_CLASS,
    UNCALIBRATED,
    Calibration,
    fit_calibration,
    fit_conformance,
    score,
    write_calibrations,
)
from inspector.whole import WHOLE, fit_whole, share_by
from sample_images.studio.limits import clearness

from .compare import measured_items, pairs, without_side
from .records import Case, Record, ResultsError, cases, refuse_seeds, seed_of
from .rejudge import hindrances, would_pass

FIRST_SEED = 2_000_000
FOLDS = 5
_SHARES = (0.01, OVERLOOKED, 0.05)
# Where all is wetted the error is mostly 0, which says nothing of the error where something is dry.
ALL_IS_WELL = {"wetting.wetted": 100.0, "wetting.dry-stretch": 0.0}
RIDGE = 1e-3  # on both slopes, so that they stay finite where the classes do not overlap
# Things that are mostly absent or overlooked whole, whose errors follow no normal law. A check may
# judge several; for the true state of one, the others get the value that no limit minds.
ABSENT: dict[str, dict[str, float | Callable[[float], float] | None]] = {
    "insulation-gap.embedded": {"gap_D": 0.0},
    "bridge.bridge": {},
    "excess-solder.outside": {"hidden_contour": False, "surplus_area_D2": 0.0},
    "excess-solder.surplus": {},  # its mark lies on all that is too much, beside the cup too
    "insulation-damage.char": {"ragged_D": 0.0},
    "insulation-damage.ragged": {"char_D": 0.0, "char_kind": None},
    "seating.reach": {},
    "solder-fill.fill": {},  # a short cup overlooked is full: no normal error either
    "spike.height": {},
    "spike.height-in-D": {},
    "stray-strand.length": {},
    "stray-strand.length-in-D": {},
    "surface.hole": {"rough_share": 0.0},
    "surface.rough": {"hole_D": 0.0},
    "wetting.dry-stretch": {"wetted": 1.0},
    # no limit minds a short stretch, but of none at all no share could be bad
    "wetting.wetted": {"dry_stretch_conductor_diameters": lambda true: min(true, 0.75)},
}


def state(case: Case, check: str, name: str) -> str:
    """True state of one thing that may be absent: sound, near, bad or not-seen.

    not-seen too for what the scene leaves open, and for what ABSENT does not list.
    """
    others = ABSENT.get(f"{check}.{name}")
    unclear = case.holds[check] != case.truth["holds"][check]
    if others is None or unclear or case.truth["holds"][check] == "not-seen":
        return "not-seen"
    values = case.truth["values"]
    instead = {k: v(values[k]) if callable(v) else v for k, v in others.items()}
    return clearness({**case.truth, "values": {**values, **instead}})[check]


def calibrate(records: Sequence[Record]) -> tuple[str, list[str]]:
    """The file's text and notes on what was fitted and what was not, a line each."""
    refuse_seeds(records, FIRST_SEED, "calibration")
    if not all(r.get("for_fit") for r in records):
        raise ResultsError(
            "Results of an ordinary look leave out what a finder not yet fitted did not see; "
            "look again with --for-fit."
        )
    joints = list(cases(records))
    failed = sum(bool(r["failed"]) for r in records)
    notes = [f"{len(records)} photos, {failed} failed, {len(joints)} joints in view"]
    found = _uncertainties(joints, notes)
    _conformances(joints, found, notes)
    _whole(joints, found, notes)
    return write_calibrations({name: _rounded(found[name]) for name in sorted(found)}), notes


def _uncertainties(joints: Sequence[Case], notes: list[str]) -> dict[str, Calibration]:
    by_key = defaultdict(list)
    for pair in pairs(joints):
        well = ALL_IS_WELL.get(pair.key)
        if well is None or well not in (pair.value, pair.truth):
            by_key[pair.key].append(pair)
    found = {}
    for key, these in sorted(by_key.items()):
        try:
            found[key] = fit_calibration([(p.value, p.raw, p.truth) for p in these], these[0].unit)
        except ValueError as error:
            notes.append(f"{key}: not fitted, {error}")
            continue
        fit = found[key]
        notes.append(
            f"{key}: factor {fit.factor:.3g}, floor {fit.floor:.3g} {fit.unit},"
            f" covers {100 * fit.covers:.1f} % of {fit.scenes}"
        )
    return found


def _conformances(joints: Sequence[Case], found: dict[str, Calibration], notes: list[str]) -> None:
    """Add the tables from score to probability of conformance; near-limit cases are left out."""
    by_key: dict[str, list[tuple[float, float | None, bool]]] = defaultdict(list)
    for case in joints:
        for check, item in measured_items(case):
            key = f"{check}.{without_side(item['name'])}"
            true = state(case, check, item["name"])
            if true in ("sound", "bad"):
                limits = [m for m in checks.registry()[check].limits if m.name == item["name"]]
                by_key[key].append((z_of(item, limits), item.get("second"), true == "sound"))
    for key, these in sorted(by_key.items()):
        good = sum(conforms for _, _, conforms in these)
        share = share_of_second(these)
        try:
            table = fit_conformance([(score(z, said, share), ok) for z, said, ok in these])
        except ValueError as error:
            notes.append(f"{key}: no table, {error}")
            continue
        found[key] = replace(found.get(key, UNCALIBRATED), conformance=table, second=share)
        notes.append(
            f"{key}: table of {len(table)} from {good} sound, {len(these) - good} bad,"
            f" second opinion {share:g}"
        )


def _whole(joints: Sequence[Case], found: dict[str, Calibration], notes: list[str]) -> None:
    """Add how many clearly bad joints would pass, by what speaks against them.

    Of those that were judged. Each is judged by tables that other scenes gave, or else the tables
    would know it.
    """
    bad = [case for case in joints if case.clear == "bad"]
    sound = [case for case in joints if case.clear == "sound"]
    would = _would_pass(joints, [*bad, *sound])
    bad_ones, sound_ones = ([c for c in would if c.clear == kind] for kind in ("bad", "sound"))
    try:
        found[WHOLE] = fit_whole([*map(_against, bad_ones)], sum(map(_judged, bad)))
        tables = [
            fit_whole(
                [_against(case) for case in bad_ones if _fold(case) != fold],
                sum(_judged(case) and _fold(case) != fold for case in bad),
            )
            for fold in range(FOLDS)
        ]
    except ValueError as error:
        notes.append(f"{WHOLE}: not fitted, {error}")
        return
    known = np.array([share_by(found[WHOLE], _against(case)) for case in sound_ones])
    count = len(sound) or 1
    shares = [f"{100 * np.sum(known < s) / count:.0f} % at {100 * s:g} %" for s in _SHARES]
    passed = [
        sum(share_by(tables[_fold(case)], _against(case)) < OVERLOOKED for case in these)
        for these in (bad_ones, sound_ones)
    ]
    notes.append(
        f"{WHOLE}: {len(bad_ones)} of {len(bad)} bad joints would pass if vouched for, and"
        f" {len(sound_ones)} of {len(sound)} sound ones; sound ones that pass: {', '.join(shares)}"
    )
    notes.append(
        f"{WHOLE}: at {100 * OVERLOOKED:g} %, each fifth judged by the other four, {passed[0]} of"
        f" {len(bad)} bad joints pass and {passed[1]} of {len(sound)} sound ones"
    )


def _fold(case: Case) -> int:
    return seed_of(case.record) % FOLDS


def _would_pass(joints: Sequence[Case], these: Sequence[Case]) -> list[Case]:
    """Those of `these` that would pass if vouched for, each by tables from the other folds."""
    out: list[Case] = []
    for fold in range(FOLDS):
        others = [case for case in joints if _fold(case) != fold]
        tables = _uncertainties(others, [])
        _conformances(others, tables, [])
        mine = [case for case in these if _fold(case) == fold and _judged(case)]
        out += [case for case in mine if would_pass(case, tables, Settings())]
    return out


def _against(case: Case) -> float:
    """What speaks against a joint that was judged."""
    return float(case.found["against"]) if case.found else math.inf


def _judged(case: Case) -> bool:
    """Whether the joint was found and measured, with a second opinion on it.

    Not one that a gate on hindrances sends back now, whatever the look's gates did.
    """
    found = case.found
    if found is None or found.get("against") is None or hindrances(found):
        return False
    return any(finding["measured"] for finding in found["findings"])


def share_of_second(these: Sequence[tuple[float, float | None, bool]]) -> float:
    """Share of the second opinion in a table's score, 0 to 1, two digits.

    these: z, log-odds of the fault (None: not given), whether it truly conforms. From a logistic
    regression in which sound and bad weigh the same and neither slope is negative: what tells
    nothing gets no weight, and no opinion counts against itself. 0 with fewer than 10 of a class,
    or where a second opinion is missing.
    """
    said = [second for _, second, _ in these if second is not None]
    good = np.array([conforms for _, _, conforms in these], bool)
    if len(said) < len(these) or min(good.sum(), (~good).sum()) < FEWEST_OF_A_CLASS:
        return 0.0
    x = np.array([[z for z, _, _ in these], -np.clip(said, -FAR, FAR), np.ones(len(said))])
    weight = np.where(good, 0.5 / good.sum(), 0.5 / (~good).sum())
    sign = np.where(good, 1.0, -1.0)

    def loss(slopes: np.ndarray) -> tuple[float, np.ndarray]:
        margin = sign * (slopes @ x)
        pull = np.array([*slopes[:2], 0.0])
        value = weight @ np.logaddexp(0.0, -margin) + RIDGE * pull @ pull
        return float(value), -x @ (weight * sign * expit(-margin)) + 2 * RIDGE * pull

    bounds = [(0.0, None), (0.0, None), (None, None)]
    a, b, _ = minimize(loss, np.zeros(3), jac=True, method="L-BFGS-B", bounds=bounds).x
    return round(float(b / (a + b)), 2) if a + b > 0 else 0.0


def z_of(item: Record, limits: Sequence[Limit]) -> float:
    """Normal quantile of the probability by the normal law with the raw uncertainty."""
    chances = [
        1 - item["presence"] * (1 - conformance(item["value"], item["raw"], m.sense, m.value))
        for m in limits
    ]
    return quantile(min(chances))


def _rounded(fit: Calibration) -> Calibration:
    """Five significant digits: more would only change from machine to machine."""
    table = tuple((float(f"{z:.5g}"), float(f"{p:.5g}")) for z, p in fit.conformance)
    return replace(
        fit,
        factor=float(f"{fit.factor:.5g}"),
        floor=float(f"{fit.floor:.5g}"),
        covers=float(f"{fit.covers:.5g}"),
        conformance=table,
    )
