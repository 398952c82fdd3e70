"""A joint judged anew from what was recorded as measured, under calibrations of one's choice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from types import MappingProxyType

from inspector import checks, kinds, uncertainty
from inspector.model import Check, Finding, Measured, Measurement, NotMeasured, Quantity, Verdict
from inspector.one_check import judge_check
from inspector.settings import Settings
from inspector.uncertainty import Calibration
from inspector.verdict import settled

from .records import Case, Record


def would_pass(case: Case, table: Mapping[str, Calibration], settings: Settings) -> bool:
    """Whether the joint would pass under these calibrations, were it vouched for as a whole.

    One that was not found, or that the quality gate sent back, does not.
    """
    if case.found is None:
        return False
    known = checks.registry()
    needed = kinds.registry()["cup"].needs(poles=max(1, len(case.record["joints"])))
    findings: list[Finding] = []
    with _calibrated(table):
        for record in case.found["findings"]:
            check = known.get(record["check"])
            if check is not None:
                finding = judge_check(check, _measured(check, record, table), settings)
                findings.append(replace(finding, joint=1, needed=check.name in needed))
            elif record["check"] != "unproven" and record["outcome"] != "fine":
                return False
        if not findings:
            return False
        return settled(findings, known, needed, settings, 0.0)[1] is Verdict.PASS


@contextmanager
def _calibrated(table: Mapping[str, Calibration]) -> Iterator[None]:
    """Judge by these calibrations for a while."""
    before = uncertainty.calibrations
    uncertainty.calibrations = lambda: table
    try:
        yield
    finally:
        uncertainty.calibrations = before


def _measured(
    check: Check, record: Record, table: Mapping[str, Calibration]
) -> tuple[Measured, ...]:
    """The recorded measurements, their uncertainties calibrated by `table`."""
    found: list[Measured] = []
    for item in record["measured"]:
        if "because" in item:
            found.append(NotMeasured(item["name"], item["because"]))
            continue
        key = uncertainty.key_of(f"{check.name}.{item['name']}")
        fit = table.get(key, uncertainty.UNCALIBRATED)
        u = uncertainty.combine((fit.factor * item["raw"], fit.floor))
        parts = MappingProxyType({"raw": item["raw"]})
        quantity = Quantity(item["value"], u, item["unit"], parts)
        found.append(Measurement(item["name"], quantity, (), item["presence"], item["second"]))
    return tuple(found)
