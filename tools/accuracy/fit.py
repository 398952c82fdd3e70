"""From calibration scenes to inspector/calibration.json."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace

from inspector import checks
from inspector.model import Limit
from inspector.uncertainty import (
    UNCALIBRATED,
    Calibration,
    fit_calibration,
    fit_conformance,
    write_calibrations,
)
from inspector.verdict import conformance, quantile

from .compare import longest_strand_mm, measured_items, pairs, without_side
from .records import Case, Record, cases, refuse_seeds

FIRST_SEED = 2_000_000
# Lengths in D stand for lengths in mm of a wire whose size is not known; what their uncertainty
# is about is that size, which no comparison in D can show.
NOT_FITTED = ("spike.height-in-D", "stray-strand.length-in-D")

State = Callable[[Record], str]


def _none_of(size: Callable[[Record], float | None], counts: float) -> State:
    """None allowed, `counts` the smallest size that counts: criteria's clear cases."""

    def state(joint: Record) -> str:
        value = size(joint)
        if value is None:
            return "not-seen"
        return "bad" if value >= 2 * counts else "sound" if value <= 0.05 * counts else "near"

    return state


def _value(name: str) -> Callable[[Record], float | None]:
    return lambda joint: joint["values"].get(name)


def _strand(joint: Record) -> str:
    longest = longest_strand_mm(joint)
    if joint["strands"] and longest < 0.05:  # noqa: PLR2004 - hidden in this view
        return "not-seen"
    return _none_of(longest_strand_mm, 0.5)(joint)


def _rough(joint: Record) -> str:
    share, size = joint["values"]["rough_share"], joint["values"]["rough_size"]
    if share < 0.02:  # noqa: PLR2004 - as the studio's limits have it
        return "sound"
    return "bad" if share > 0.25 and size > 0.5 else "near"  # noqa: PLR2004 - the same


def _surplus(joint: Record) -> str:
    if not joint["values"]["hidden_contour"]:
        return "sound"
    return "bad" if joint["values"]["surplus_share"] > 0.2 else "near"  # noqa: PLR2004 - the same


def _dry(joint: Record) -> str:
    value = joint["values"]["dry_stretch_conductor_diameters"]
    if value is None:
        return "not-seen"
    return "bad" if value >= 1.3 else "sound" if value <= 1 / 1.3 else "near"  # noqa: PLR2004


# Things that are mostly absent, whose errors follow no normal law: true state by measurement.
ABSENT: dict[str, State] = {
    "insulation-gap.embedded": _none_of(_value("embed_D"), 0.1),
    "bridge.bridge": _none_of(_value("bridge_D"), 0.05),
    "excess-solder.surplus": _surplus,
    "insulation-damage.char": _none_of(_value("char_D"), 0.125),
    "spike.height": _none_of(_value("spike_mm"), 0.5),
    "spike.height-in-D": _none_of(_value("spike_mm"), 0.5),
    "stray-strand.length": _strand,
    "stray-strand.length-in-D": _strand,
    "surface.hole": _none_of(_value("hole_D"), 0.04),
    "surface.rough": _rough,
    "wetting.dry-stretch": _dry,
}


def calibrate(records: Sequence[Record]) -> tuple[str, list[str]]:
    """The file's text and notes on what was fitted and what was not, a line each."""
    refuse_seeds(records, FIRST_SEED, "calibration")
    joints = list(cases(records))
    failed = sum(bool(r["failed"]) for r in records)
    notes = [f"{len(records)} photos, {failed} failed, {len(joints)} joints in view"]
    found = _uncertainties(joints, notes)
    _conformances(joints, found, notes)
    return write_calibrations({name: _rounded(found[name]) for name in sorted(found)}), notes


def _uncertainties(joints: Sequence[Case], notes: list[str]) -> dict[str, Calibration]:
    by_key = defaultdict(list)
    for pair in pairs(joints):
        by_key[pair.key].append(pair)
    found = {}
    for key, these in sorted(by_key.items()):
        if key in NOT_FITTED:
            continue
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
    """Add the tables from z to the probability of conformance; near-limit cases are left out."""
    by_key: dict[str, list[tuple[float, bool]]] = defaultdict(list)
    for case in joints:
        for check, item in measured_items(case):
            key = f"{check}.{item['name']}"
            state = ABSENT[key](case.truth) if key in ABSENT else ""
            if state in ("sound", "bad"):
                fit = found.get(f"{check}.{without_side(item['name'])}", UNCALIBRATED)
                limits = [m for m in checks.registry()[check].limits if m.name == item["name"]]
                by_key[key].append((z_of(item, fit, limits), state == "sound"))
    for key, these in sorted(by_key.items()):
        good = sum(conforms for _, conforms in these)
        try:
            table = fit_conformance(these)
        except ValueError as error:
            notes.append(f"{key}: no table, {error}")
            continue
        found[key] = replace(found.get(key, UNCALIBRATED), conformance=table)
        notes.append(f"{key}: table of {len(table)} from {good} sound, {len(these) - good} bad")


def z_of(item: Record, fit: Calibration, limits: Sequence[Limit]) -> float:
    """Normal quantile of the probability that the decision would use, without a table.

    The uncertainty is the raw one with the fit just made, not the one of the look.
    """
    u = (fit.factor**2 * item["raw"] ** 2 + fit.floor**2) ** 0.5
    chances = [
        1 - item["presence"] * (1 - conformance(item["value"], u, limit.sense, limit.value))
        for limit in limits
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
