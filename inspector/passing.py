"""What a pass rests on, and what it leaves to the eye: the words for table, picture, page and JSON.

A joint passes because it is vouched for as a whole, or because each check alone is sure enough.
Both are known from rendered pictures only, and the words say so.

See docs/decisions/0012-the-joint-as-a-whole.md.
"""

from __future__ import annotations

import math

from inspector.model import Finding, Inspection, JointResult, Outcome, Verdict
from inspector.proof import would_pass_words
from inspector.second import overall
from inspector.whole import share_of_bad

LOOK_YOURSELF = (
    "Before the sleeve goes on, look for loose strands and spikes, also on the side that the photo"
    " does not show. No photo sees inside a joint: tug the wire, cold and with the battery removed."
)
_SUREST = 99  # %; nothing is called certain
_ROUNDING = 1e-6  # %, so that 95 % is not 94.999


def pass_lines(inspection: Inspection) -> tuple[str, ...]:
    """What each joint's pass rests on, then what to look for oneself; nothing without a pass.

    Last how many joints were judged, where nobody said how many there should be.

    Joints whose pass rests on the same share a line, which names them unless all joints do and
    the photo passes.
    """
    by_words: dict[str, list[int]] = {}
    for result in inspection.results:
        if result.verdict is Verdict.PASS:
            by_words.setdefault(rests_on(result), []).append(result.joint.number)
    if not by_words:
        return ()
    after = [LOOK_YOURSELF]
    if inspection.job.poles is None:
        after.append(judged_words(sum(map(judged, inspection.results))))
    if inspection.verdict is Verdict.PASS and len(by_words) == 1:
        return *by_words, *after
    named = (f"{_joints(numbers)}: {words}" for words, numbers in by_words.items())
    return *named, *after


def judged(result: JointResult) -> bool:
    """Whether anything was measured on the joint; else the photo could carry no verdict on it."""
    return any(finding.measured for finding in result.findings)


def judged_words(count: int) -> str:
    """How many joints were judged, and which cannot be among them."""
    said = "1 joint is" if count == 1 else f"{count} joints are"
    return (
        f"{said} judged here; one that hides behind another is not among them. Say how many poles"
        " the connector has, to be told when one is missing."
    )


def rests_on(result: JointResult) -> str:
    """What a joint's pass rests on, as a sentence with its number."""
    fine = [finding for finding in result.findings if finding.outcome is Outcome.FINE]
    if any(_vouched(finding) for finding in fine):
        against = overall(result.joint)
        share = None if against is None else share_of_bad(against)
        clause = "" if share is None else f": {would_pass_words(share)}"
        return f"This pass rests on what is measured and on the joint as a whole{clause}."
    chances = [finding.conformance for finding in fine if finding.conformance is not None]
    least = math.floor(100.0 * min(chances, default=0.0) + _ROUNDING)
    return (
        "This pass rests on each check alone: those that were seen are fine, each with a"
        f" probability of at least {min(least, _SUREST)} %, as known from rendered pictures."
    )


def _vouched(finding: Finding) -> bool:
    """Whether a fine finding rests on the whole joint: it has no probability of its own then."""
    return finding.conformance is None


def _joints(numbers: list[int]) -> str:
    """Joints by number, such as "Joint 2, pass" or "Joints 1 and 3, pass"."""
    *most, last = map(str, numbers)
    return f"Joints {', '.join(most)} and {last}, pass" if most else f"Joint {last}, pass"
