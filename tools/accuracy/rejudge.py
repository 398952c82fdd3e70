"""Joints judged anew from what was recorded as measured, under calibrations of one's choice.

So a look may come before the calibration that its results are reported with, or that they give.
The gates on what the network says of hindrances are asked anew too: one that is narrower now sends
a joint back that the look let through. One that the look sent back stays so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from types import MappingProxyType

from inspector import checks, kinds, uncertainty
from inspector.model import (
    Finding,
    Hindrance,
    Measured,
    Measurement,
    NotMeasured,
    Outcome,
    Quantity,
    Verdict,
)
from inspector.one_check import judge_check
from inspector.probability import probability
from inspector.quality import hindered
from inspector.settings import Settings
from inspector.uncertainty import Calibration
from inspector.verdict import concluded, settled, worst_of
from inspector.whole import WHOLE, share_by
from inspector.wording import in_picture

from .records import Case, Record, ResultsError, not_measured

_MADE_ANEW = "unproven"  # the finding that calibration alone decides on
_ACROSS = (1.0, 0.0)  # for a record from before axes were written down; only texts need one


def judged_anew(record: Record, table: Mapping[str, Calibration], settings: Settings) -> Record:
    """The record that an ordinary look under these calibrations gives, from one --for-fit.

    ResultsError for another look's record: it leaves out what an unproven finder did not see.
    """
    if not record.get("for_fit"):
        raise ResultsError("Only results of a look --for-fit can be judged anew.")
    if record["failed"]:
        return {**record, "for_fit": False}
    with _calibrated(table):
        joints = [
            _joint_anew(found, len(record["joints"]), table, settings) for found in record["joints"]
        ]
    trouble = any(outcome != Outcome.FINE.value for _, outcome in record["photo_findings"])
    verdict = worst_of((Verdict(joint["verdict"]) for joint in joints), trouble=trouble)
    return {**record, "for_fit": False, "verdict": verdict.value, "joints": joints}


def would_pass(case: Case, table: Mapping[str, Calibration], settings: Settings) -> bool:
    """Whether the joint would pass under these calibrations, were it vouched for as a whole.

    One that was not found, or that the quality gate sent back, does not.
    """
    if case.found is None:
        return False
    with _calibrated(table):
        needed = _needed(len(case.record["joints"]))
        if hindrances(case.found):
            return False
        findings = _findings(case.found, needed, table, settings)
        if not any(finding.check in checks.registry() for finding in findings):
            return False
        return settled(findings, checks.registry(), needed, settings, 0.0)[1] is Verdict.PASS


def _joint_anew(
    found: Record,
    joints: int,
    table: Mapping[str, Calibration],
    settings: Settings,
) -> Record:
    known, needed = checks.registry(), _needed(joints)
    findings, axis = _findings(found, needed, table, settings), _axis(found)
    if not any(finding.check in known for finding in findings):
        return found  # the quality gate sent it back
    if trouble := hindrances(found):
        told = [_recorded(finding, {}) for finding in trouble]
        return {**found, "verdict": Verdict.RETAKE.value, "findings": told}
    whole, against = table.get(WHOLE, uncertainty.UNCALIBRATED), found["against"]
    share = share_by(whole, against) if whole.conformance and against is not None else None
    told, verdict = concluded(findings, known, needed, settings, share, axis)
    items = {f["check"]: {m["name"]: m for m in f["measured"]} for f in found["findings"]}
    return {
        **found,
        "verdict": verdict.value,
        "findings": [_recorded(finding, items.get(finding.check, {})) for finding in told],
    }


def hindrances(found: Record) -> tuple[Finding, ...]:
    """The gates on what the network says of hindrances that a found joint does not pass."""
    said = found.get("hindrances", {})
    return hindered({one: said.get(one.name.lower()) for one in Hindrance}, 1)


def _axis(found: Record) -> tuple[float, float]:
    x, y = found.get("axis", _ACROSS)
    return float(x), float(y)


def _needed(joints: int) -> frozenset[str]:
    return kinds.registry()["cup"].needs(poles=max(1, joints))


def _findings(
    found: Record, needed: frozenset[str], table: Mapping[str, Calibration], settings: Settings
) -> list[Finding]:
    """What was found on a joint, each check judged anew; those of no check as they are."""
    known, out = checks.registry(), []
    for record in found["findings"]:
        check = known.get(record["check"])
        if check is not None:
            finding = judge_check(check, _measured(check.name, record, table), settings)
            text = in_picture(finding.text, _axis(found))
            out.append(replace(finding, text=text, joint=1, needed=check.name in needed))
        elif record["check"] != _MADE_ANEW:
            outcome = Outcome(record["outcome"])
            out.append(Finding(record["check"], outcome, record["text"], "", joint=1))
    return out


@contextmanager
def _calibrated(table: Mapping[str, Calibration]) -> Iterator[None]:
    """Judge by these calibrations for a while."""
    before = uncertainty.calibrations
    uncertainty.calibrations = lambda: table
    try:
        yield
    finally:
        uncertainty.calibrations = before


def _measured(check: str, record: Record, table: Mapping[str, Calibration]) -> tuple[Measured, ...]:
    """The recorded measurements, their uncertainties calibrated by `table`."""
    found: list[Measured] = []
    for item in record["measured"]:
        if "because" in item:
            found.append(NotMeasured(item["name"], item["because"], item.get("by_eye", False)))
            continue
        fit = table.get(uncertainty.key_of(f"{check}.{item['name']}"), uncertainty.UNCALIBRATED)
        u = uncertainty.combine((fit.factor * item["raw"], fit.floor))
        parts = MappingProxyType({"raw": item["raw"]})
        quantity = Quantity(item["value"], u, item["unit"], parts)
        found.append(Measurement(item["name"], quantity, (), item["presence"], item["second"]))
    return tuple(found)


def _recorded(finding: Finding, items: Mapping[str, Record]) -> Record:
    """The finding as a look writes it down, with the places that were recorded."""
    listed: list[Record] = []
    for item in finding.measured:
        if isinstance(item, NotMeasured):
            listed.append(not_measured(item))
            continue
        limits = [limit for limit in finding.limits if limit.name == item.name]
        chances = [probability(finding.check, item, limit) for limit in limits]
        u = item.quantity.standard_uncertainty
        listed.append({**items[item.name], "u": u, "p": min(chances, default=None)})
    return {
        "check": finding.check,
        "outcome": finding.outcome.value,
        "p": finding.conformance,
        "text": finding.text,
        "measured": listed,
    }
