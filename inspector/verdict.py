"""From findings to verdicts: what a joint may pass without, and whether it is vouched for.

How one check is judged: see one_check. What a check needs and the photo does not show is not-seen,
and no joint passes over it. "None seen" of a thing that may not be there (strand, spike, hole,
bridge) lets a joint pass only once calibration scenes have shown that few enough are overlooked:
until then it is a retake that says so (see proof).

A check that its kind does not need (see kinds) may be missing from a pass; so may one that this
photo shows too poorly to decide. Its doubt therefore becomes not-seen, which a pass names, as
long as the evidence leans to sound (probability of conformance at least 0.5). Evidence that leans
to bad stays a doubt and brings a retake: nothing that looks bad passes quietly. See
docs/decisions/0008-doubt-on-what-is-not-needed.md.

A joint that is to be reworked is opened anyway, so what else is more likely wrong with it than not
is named a rework too: see docs/decisions/0013-what-else-is-wrong.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from inspector.kinds import Kind
from inspector.model import (
    Check,
    Finding,
    Joint,
    JointResult,
    Measurement,
    Outcome,
    Verdict,
    View,
)
from inspector.one_check import judge_check
from inspector.probability import sent_back
from inspector.problems import problem_finding
from inspector.proof import EVEN, contradicted, unproven, vouched
from inspector.quality import problems_of, too_small, unsoldered, unsure
from inspector.second import asked, overall
from inspector.settings import Settings
from inspector.whole import share_of_bad
from inspector.wording import BY_TABLE, MOSTLY_BAD, RATHER_BAD, in_picture

LEANS = 0.5  # probability of conformance from which the evidence leans to sound
_VERDICTS = (Verdict.REWORK, Verdict.RETAKE, Verdict.PASS)  # worst first


def judge(
    joint: Joint,
    view: View,
    checks: Mapping[str, Check],
    kind: Kind,
    settings: Settings,
    *,
    quality: Iterable[Finding] = (),
) -> JointResult:
    """One joint's findings and verdict.

    `checks` is the registry; the kind says which apply and which are needed. `quality` are the
    findings of quality.examine on this joint. Where the photo cannot carry a verdict on the joint
    (a finding of quality, or one of the joint's own problems), nothing is judged: retake. Sides
    in the findings' texts are those of the picture; measurements keep the joint's own.
    """
    trouble = [*quality, *(problem_finding(name, joint.number) for name in problems_of(joint))]
    trouble = [finding for finding in trouble if finding.outcome is not Outcome.FINE]
    if trouble:
        return JointResult(joint, _once(trouble), Verdict.RETAKE)
    poles = max(view.job.poles or 1, 1 + len(view.neighbours))
    needed = kind.needs(poles=poles)
    findings = []
    for name in kind.checks:
        small = too_small(joint, name)
        measured = checks[name].measure(view) if small is None else (small,)
        finding = judge_check(checks[name], asked(checks[name], measured, joint), settings)
        text = in_picture(finding.text, joint.axis)
        findings.append(replace(finding, text=text, joint=joint.number, needed=name in needed))
    findings += [doubt for doubt in (unsure(joint), unsoldered(joint)) if doubt is not None]
    against = overall(joint)
    share = None if against is None else share_of_bad(against)
    found, verdict = concluded(findings, checks, needed, settings, share, joint.axis)
    return JointResult(joint, found, verdict)


def concluded(
    findings: list[Finding],
    checks: Mapping[str, Check],
    needed: frozenset[str],
    settings: Settings,
    share: float | None,
    axis: tuple[float, float],
) -> tuple[tuple[Finding, ...], Verdict]:
    """A joint's findings and verdict as its owner reads them; the axis is that of the picture.

    The rest as in `settled`.
    """
    found, verdict = settled(findings, checks, needed, settings, share)
    if verdict is Verdict.REWORK:
        found = tuple(also_wrong(finding, axis, checks, settings) for finding in found)
    return found, verdict


def settled(
    findings: list[Finding],
    checks: Mapping[str, Check],
    needed: frozenset[str],
    settings: Settings,
    share: float | None,
) -> tuple[tuple[Finding, ...], Verdict]:
    """A joint's findings once it is known whether it is vouched for as a whole; its verdict.

    `share` is that of clearly bad joints which would pass with as little against them; None if it
    is not known. The findings must not be empty, and all of the same joint.
    """
    if share is not None and share < settings.overlooked:
        findings = vouched(findings, checks, settings.fine, share)
    else:  # before what is not needed: a finder that overlooks too much is no reason to look away
        findings = unproven(findings, checks, findings[0].joint or 1, settings.fine)
    findings = [f if f.needed else unpressed(f) for f in findings]
    return tuple(findings), joint_verdict(findings, needed)


def also_wrong(
    finding: Finding, axis: tuple[float, float], checks: Mapping[str, Check], settings: Settings
) -> Finding:
    """A doubt at a joint that is to be reworked anyway, as rework from even odds on.

    What the second opinion contradicts stays a doubt.
    """
    check = checks.get(finding.check)
    if check is None or finding.outcome is not Outcome.DOUBT or settings.rework >= EVEN:
        return finding
    again = judge_check(check, finding.measured, replace(settings, rework=EVEN))
    if again.outcome is not Outcome.REWORK:
        return _by_table(finding, check, settings)
    text = in_picture(again.text.removesuffix(BY_TABLE) + RATHER_BAD, axis)
    return replace(again, text=text, joint=finding.joint, needed=finding.needed, beside=True)


def _by_table(finding: Finding, check: Check, settings: Settings) -> Finding:
    """A doubt that calibration alone makes likelier bad than not, as rework; its limit's remedy.

    Nothing over the limit is measured, but made joints of which the network says so much were
    mostly bad. Not where it is sure of the opposite, nor where something may be there that, by the
    picture alone, more likely is not.
    """
    for item in finding.measured:
        own = [limit for limit in finding.limits if limit.name == item.name == finding.about]
        if not own or not isinstance(item, Measurement) or item.presence < EVEN:
            continue
        if contradicted(check, item, settings):
            continue
        worst = min(own, key=lambda limit: sent_back(check.name, item, limit))
        if sent_back(check.name, item, worst) <= EVEN:
            text = finding.text + MOSTLY_BAD
            return replace(
                finding, outcome=Outcome.REWORK, text=text, remedy=worst.remedy, beside=True
            )
    return finding


def unpressed(finding: Finding) -> Finding:
    """A doubt on a check that is not needed, as not-seen if the evidence leans to sound."""
    leans = finding.conformance is not None and finding.conformance >= LEANS
    if finding.outcome is not Outcome.DOUBT or not leans:
        return finding
    return replace(finding, outcome=Outcome.NOT_SEEN)


def _once(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The first finding of each name."""
    return tuple({finding.check: finding for finding in reversed([*findings])}.values())[::-1]


def joint_verdict(findings: Iterable[Finding], needed: frozenset[str]) -> Verdict:
    """Any rework: rework; else any doubt, or a needed check not seen: retake; else pass.

    A needed check without any finding counts as not seen.
    """
    outcomes = {finding.check: finding.outcome for finding in findings}
    if Outcome.REWORK in outcomes.values():
        return Verdict.REWORK
    seen = {name for name, outcome in outcomes.items() if outcome is not Outcome.NOT_SEEN}
    if Outcome.DOUBT in outcomes.values() or not needed <= seen:
        return Verdict.RETAKE
    return Verdict.PASS


def judge_photo(results: Iterable[JointResult], findings: Iterable[Finding] = ()) -> Verdict:
    """The worst joint's verdict; retake without joints, or if the photo as a whole is no good.

    `findings` are those on the photo as a whole.
    """
    trouble = any(finding.outcome is not Outcome.FINE for finding in findings)
    return worst_of((result.verdict for result in results), trouble=trouble)


def worst_of(verdicts: Iterable[Verdict], *, trouble: bool) -> Verdict:
    """The worst of the joints' verdicts; retake is one if there are none, or in case of trouble.

    trouble: whether something is the matter with the photo as a whole.
    """
    told = set(verdicts)
    if trouble or not told:
        told.add(Verdict.RETAKE)
    return next(verdict for verdict in _VERDICTS if verdict in told)
