"""From measurements to findings and verdicts, under uncertainty.

JCGM 106:2012: a measured value and its standard uncertainty stand for a normal distribution of the
true value, and the probability of conformance is its part on the right side of the limit. At
least 0.95: fine. At most 0.2: rework. Between: doubt. Both are settings. What a check needs and
the photo does not show is not-seen, and no joint passes over it. "None seen" of a thing that may
not be there (strand, spike, hole, bridge) lets a joint pass only once calibration scenes have
shown that few enough are overlooked: until then it is a retake that says so (see proof).

A check that its kind does not need (see kinds) may be missing from a pass; so may one that this
photo shows too poorly to decide. Its doubt therefore becomes not-seen, which a pass names, as
long as the evidence leans to sound (probability of conformance at least 0.5). Evidence that leans
to bad stays a doubt and brings a retake: nothing that looks bad passes quietly. See
docs/decisions/0008-doubt-on-what-is-not-needed.md.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from inspector.kinds import Kind
from inspector.model import (
    Check,
    Finding,
    Joint,
    JointResult,
    Limit,
    Measured,
    Measurement,
    NotMeasured,
    Outcome,
    Verdict,
    View,
)
from inspector.probability import chance, conformance, probability, sent_back
from inspector.problems import problem_finding
from inspector.proof import EVEN, contradicted, is_blind, is_suspected, unproven, vouched
from inspector.quality import too_small, unsure
from inspector.second import asked, overall
from inspector.settings import Settings
from inspector.whole import share_of_bad
from inspector.wording import (
    BY_TABLE,
    LOOK_CLOSELY,
    OTHER_SIDE,
    advice,
    contradiction_words,
    doubt_words,
    in_picture,
    quantity_words,
    reason_words,
    suspicion_words,
)

LEANS = 0.5  # probability of conformance from which the evidence leans to sound
_GRAVITY = {Outcome.FINE: 0, Outcome.NOT_SEEN: 1, Outcome.DOUBT: 2, Outcome.REWORK: 3}
_VERDICTS = (Verdict.REWORK, Verdict.RETAKE, Verdict.PASS)  # worst first


def outcome_of(probability: float, settings: Settings) -> Outcome:
    """The decision rule of the design."""
    if probability >= settings.fine:
        return Outcome.FINE
    return Outcome.REWORK if probability <= settings.rework else Outcome.DOUBT


def in_force(check: Check, settings: Settings) -> tuple[Limit, ...]:
    """The check's limits with the workshop's own values put in."""
    return tuple(
        replace(limit, value=settings.limit(check.name, limit.name, limit.value))
        for limit in check.limits
    )


def judge_check(check: Check, measured: tuple[Measured, ...], settings: Settings) -> Finding:
    """The finding on one check, from its measurements and limits; the worst of them decides.

    A limit whose measurement is absent does not apply to this joint; one that is NotMeasured is
    not-seen, and so is a check without any measurement that has a limit. Raises ValueError when
    a measurement and its limit differ in unit, which is a fault of the check.
    """
    limits = in_force(check, settings)
    by_name: dict[str, list[Limit]] = defaultdict(list)
    for limit in limits:
        by_name[limit.name].append(limit)
    found: list[tuple[Outcome, float | None, str, str]] = []
    names: list[str] = []
    seen: list[bool] = []  # what shows in the picture speaks before what is only not proven
    for item in measured:
        if item.name not in by_name:
            continue
        names.append(item.name)
        seen.append(not is_blind(item, limits, check, settings.fine))
        if isinstance(item, NotMeasured):
            found.append((Outcome.NOT_SEEN, None, _not_seen(check, item), OTHER_SIDE))
        else:
            found.append(_judged(check, item, by_name[item.name], settings))
    if not found:
        because = next((m.because for m in measured if isinstance(m, NotMeasured)), "")
        missing = NotMeasured(check.name, because or "this photo does not show it")
        found.append((Outcome.NOT_SEEN, None, _not_seen(check, missing), OTHER_SIDE))
        names.append("")
        seen.append(True)

    def gravity(k: int) -> tuple[int, bool, float]:
        p = found[k][1]
        return _GRAVITY[found[k][0]], seen[k], -1.0 if p is None else -p

    worst = max(range(len(found)), key=gravity)
    outcome, _, text, remedy = found[worst]
    chances = [p for _, p, _, _ in found if p is not None]
    return Finding(
        check.name,
        outcome,
        text,
        remedy if outcome is not Outcome.FINE else "",
        conformance=min(chances) if chances else None,
        measured=measured,
        limits=limits,
        about=names[worst],
    )


def _judged(
    check: Check, item: Measurement, limits: list[Limit], settings: Settings
) -> tuple[Outcome, float, str, str]:
    """Outcome, probability, text and remedy of one measurement against its limit or limits."""
    q = item.quantity
    chances = []
    for limit in limits:
        if limit.unit != q.unit:
            raise ValueError(f"{check.name}.{item.name} is in {q.unit}, its limit in {limit.unit}")
        chances.append(probability(check.name, item, limit))
    # a lower and an upper limit: the two ways to fail exclude each other, so they add up
    p = max(0.0, 1.0 - sum(1.0 - each for each in chances))
    limit = limits[chances.index(min(chances))]
    outcome = outcome_of(p, settings)
    if outcome is Outcome.FINE and any(chance(item, each, raw=True) <= EVEN for each in limits):
        outcome = Outcome.DOUBT  # no table makes fine what is measured over the limit
    if outcome is Outcome.REWORK and (
        sent_back(check.name, item, limit) > settings.rework or chance(item, limit, raw=True) > EVEN
    ):
        outcome = Outcome.DOUBT  # a table may mistrust a value, it cannot put it over the limit
    if outcome is Outcome.REWORK and contradicted(item, settings.fine):
        return Outcome.DOUBT, p, f"{check.title}: {contradiction_words(item, limit)}.", LOOK_CLOSELY
    if outcome is Outcome.REWORK:
        text = limit.reason.format(**reason_words(q, limit))
        by_size = conformance(q.value, q.standard_uncertainty, limit.sense, limit.value)
        return outcome, p, text + BY_TABLE if by_size > settings.rework else text, limit.remedy
    if outcome is Outcome.FINE:
        share = f" {limit.of}" if limit.of else ""
        name = item.name.replace("-", " ").replace("_mm", "")
        numbers = f"{name} {quantity_words(q)}{share}, limit {limit.text}"
        return outcome, p, f"{check.title}: {numbers}.", ""
    if is_suspected(item, limits, check, settings.fine):
        return outcome, p, f"{check.title}: {suspicion_words(item, limit)}.", LOOK_CLOSELY
    text = f"{check.title}: {doubt_words(item, limit, settings)}."
    return outcome, p, text, advice(item, limit, settings)


def _not_seen(check: Check, item: NotMeasured) -> str:
    return f"{check.title} cannot be judged: {item.because}."


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
    trouble = [*quality, *(problem_finding(name, joint.number) for name in joint.problems)]
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
    doubt = unsure(joint)
    if doubt is not None:
        findings.append(doubt)
    against = overall(joint)
    share = None if against is None else share_of_bad(against)
    return JointResult(joint, *settled(findings, checks, needed, settings, share))


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
    verdicts = {result.verdict for result in results}
    if any(finding.outcome is not Outcome.FINE for finding in findings) or not verdicts:
        verdicts.add(Verdict.RETAKE)
    return next(verdict for verdict in _VERDICTS if verdict in verdicts)
