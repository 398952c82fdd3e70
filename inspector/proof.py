"""None seen is no proof of none there, until calibration scenes have shown how many are overlooked.

See docs/decisions/0009-unproven-finders-cannot-pass.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from inspector.model import Check, Finding, Measured, Measurement, NotMeasured, Outcome
from inspector.problems import problem_finding
from inspector.uncertainty import conformance_of_z

NOT_SHOWN = "none is seen, but it is not shown that this version would find one"


def unproven(findings: list[Finding], checks: Mapping[str, Check], joint: int) -> list[Finding]:
    """The findings with each fine one that rests on an unproven finder as not-seen.

    One more finding, a doubt, then names these checks and what to look for by eye.
    """
    out, names = [], []
    for finding in findings:
        check = checks.get(finding.check)
        blind = check is not None and finding.outcome is Outcome.FINE and _rests(finding, check)
        if check is None or not blind:
            out.append(finding)
            continue
        names.append(check.seeks)
        text = f"{check.title} cannot be judged: {NOT_SHOWN}."
        measured = tuple(_honest(item, check) for item in finding.measured)
        # the joint's one doubt below speaks for all of them
        out.append(
            replace(
                finding, outcome=Outcome.NOT_SEEN, text=text, measured=measured, needed=False,
                conformance=None, about="",
            )
        )  # fmt: skip
    if names:
        doubt = problem_finding("unproven", joint)
        listed = ", ".join(names)
        out.append(replace(doubt, text=doubt.text.format(names=listed)))
    return out


def _rests(finding: Finding, check: Check) -> bool:
    return any(_blind(item, check) for item in finding.measured)


def _blind(item: Measured, check: Check) -> bool:
    return (
        isinstance(item, Measurement)
        and item.name in check.proof
        and conformance_of_z(f"{check.name}.{item.name}", 0.0) is None
    )


def _honest(item: Measured, check: Check) -> Measured:
    return NotMeasured(item.name, NOT_SHOWN) if _blind(item, check) else item
