"""None seen is no proof of none there, until calibration scenes have shown how many are overlooked.

A finder is unproven if it was never fitted, or if the fit says that even with nothing seen the
probability of conformance stays below what a pass needs: too many were overlooked. Where all that
keeps a check from being fine is that, its row is not-seen, and one doubt of the joint speaks for
all such checks.

The network's second opinion on the fault counts in these tables. Where nothing is measured and it
leans to bad, that is a suspicion: a doubt of its own. And where it speaks against none of the
faults, so that hardly any bad joint would pass with as little against it, the joint is vouched for
as a whole: what rests on "none seen" is then fine, and so is a trace that is more likely nothing.

See docs/decisions/0009-unproven-finders-cannot-pass.md and 0012-the-joint-as-a-whole.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from inspector import uncertainty
from inspector.model import Check, Finding, Limit, Measured, Measurement, NotMeasured, Outcome
from inspector.probability import chance, probability
from inspector.problems import problem_finding
from inspector.settings import Settings
from inspector.uncertainty import FAR, conformance_of_z
from inspector.wording import LENS, OTHER_SIDE, cannot_be_judged

EVEN = 0.5
NOTHING = 0.998  # by the normal law from here on not even a trace shows; ours, no source
NOT_SHOWN = "none is seen, but this version may overlook them too often to be relied on"


def vouched(
    findings: list[Finding], checks: Mapping[str, Check], fine: float, share: float
) -> list[Finding]:
    """The findings of a joint vouched for as a whole: those that rest on "none seen" are fine.

    So are those on a trace of something that leans to nothing, in the second opinion too. `share`
    is the share of bad joints that would pass with as little against them.
    """
    out = []
    for finding in findings:
        check = checks.get(finding.check)
        if check is None or not _rests(finding, check, fine, traces=True):
            out.append(finding)
            continue
        hidden = _hidden(finding)
        if hidden is not None:  # no opinion stands in for what this photo cannot show
            out.append(_for_another_view(finding, check, hidden))
            continue
        traces = any(_is_trace(m, finding.limits, check, fine) for m in finding.measured)
        seen = "what is seen leans to sound" if traces else "nothing wrong is seen"
        text = f"{check.title}: {seen}, and {would_pass_words(share)}."
        out.append(replace(finding, outcome=Outcome.FINE, text=text, remedy="", conformance=None))
    return out


def would_pass_words(share: float) -> str:
    """How few bad joints would pass so, as a clause; `share` is an upper bound (95 %)."""
    count = math.floor(100.0 * share) + 1
    return (
        f"fewer than {count} of 100 clearly bad joints in rendered pictures would pass like"
        " this (upper bound)"
    )


def unproven(
    findings: list[Finding], checks: Mapping[str, Check], joint: int, fine: float
) -> list[Finding]:
    """The findings with each that rests on an unproven finder as not-seen.

    One more finding, a doubt, then names these checks and what to look for by eye. `fine` is the
    probability of conformance that a pass needs.
    """
    out, names = [], []
    for finding in findings:
        check = checks.get(finding.check)
        if check is None or not _rests(finding, check, fine) or _suspected(finding, check, fine):
            out.append(finding)
            continue
        names.append(check.seeks)
        measured = tuple(_honest(item, finding, check, fine) for item in finding.measured)
        if (hidden := _hidden(finding)) is not None:  # another view helps; that comes first
            out.append(replace(_for_another_view(finding, check, hidden), measured=measured))
            continue
        text = cannot_be_judged(check.title, NOT_SHOWN)
        # the joint's one doubt below speaks for all of them
        out.append(
            replace(
                finding, outcome=Outcome.NOT_SEEN, text=text, remedy="", measured=measured,
                needed=False, conformance=None, about="",
            )
        )  # fmt: skip
    if names:
        doubt = problem_finding("unproven", joint)
        listed = ", ".join(names)
        out.append(replace(doubt, text=doubt.text.format(names=listed)))
    return out


def _for_another_view(finding: Finding, check: Check, hidden: NotMeasured) -> Finding:
    """The finding as not-seen for what this photo does not show, or only to an eye."""
    text = cannot_be_judged(check.title, hidden.because)
    return replace(
        finding, outcome=Outcome.NOT_SEEN, text=text, conformance=None, about=hidden.name,
        remedy=LENS if hidden.by_eye else OTHER_SIDE,
    )  # fmt: skip


def _hidden(finding: Finding) -> NotMeasured | None:
    """What has a limit and does not show in this photo; None where all of it does."""
    limited = {limit.name for limit in finding.limits}
    missing = (m for m in finding.measured if isinstance(m, NotMeasured) and m.name in limited)
    return next(missing, None)


def _rests(finding: Finding, check: Check, fine: float, *, traces: bool = False) -> bool:
    """Whether what is not measured, or only in traces, is all that keeps a finding from fine."""
    if finding.outcome not in (Outcome.FINE, Outcome.DOUBT):
        return False
    items = [item for item in finding.measured if isinstance(item, Measurement)]
    blind = [
        item
        for item in items
        if is_blind(item, finding.limits, check, fine)
        or is_suspected(item, finding.limits, check, fine)
        or (traces and _is_trace(item, finding.limits, check, fine))
    ]
    rest = [item for item in items if item not in blind]
    return bool(blind) and all(_is_fine(item, finding, check, fine) for item in rest)


def _is_fine(item: Measurement, finding: Finding, check: Check, fine: float) -> bool:
    own = [limit for limit in finding.limits if limit.name == item.name]
    return _worth(item, own, check) >= fine and within(check, item, own, fine)


def within(check: Check, item: Measurement, limits: Iterable[Limit], fine: float) -> bool:
    """Whether what is measured lies within the limits, whatever a table says of it.

    No table makes fine what is measured over a limit; nor, at a limit of the workshop's own, what
    is not measured to be within it: the tables and the second opinion know the default alone.
    """
    usual = {limit.value for limit in check.limits if limit.name == item.name}
    for limit in limits:
        seen = chance(item, limit, raw=True)
        if seen <= EVEN or (limit.value not in usual and seen < fine):
            return False
    return True


def is_blind(item: Measured, limits: Iterable[Limit], check: Check, fine: float) -> bool:
    """Whether the picture shows nothing wrong by `limits`, and that is not worth enough."""
    if not isinstance(item, Measurement):
        return False
    best = conformance_of_z(f"{check.name}.{item.name}", FAR, item.second)
    own = [limit for limit in limits if limit.name == item.name]
    if best is None:  # what the picture shows beyond the limit is seen, whatever it is worth
        return item.name in check.proof and (not own or _shown(item, own) > EVEN)
    if not own or is_suspected(item, own, check, fine):
        return False
    shown, worth = _shown(item, own), _worth(item, own, check)
    none = item.quantity.value == 0.0 and all(limit.sense == "max" for limit in own)
    nothing = shown >= NOTHING or (none and shown >= fine)
    return best < fine <= shown or (nothing and worth < fine)


def is_suspected(item: Measurement, limits: Iterable[Limit], check: Check, fine: float) -> bool:
    """Whether nothing wrong is measured by `limits`, and the second opinion leans to bad."""
    own = [limit for limit in limits if limit.name == item.name]
    if not own or item.second is None or item.second <= 0.0:
        return False
    shown = _shown(item, own)
    measured = shown < fine or (shown < NOTHING and item.presence < fine)  # a trace shows
    return not measured and _worth(item, own, check) < EVEN


def contradicted(check: Check, item: Measurement, settings: Settings) -> bool:
    """Whether the second opinion is as sure that there is no fault as a pass has to be.

    Of what calibration says nothing at all it is enough that it leans to none; of what a check
    wants backed, that it is less sure of the fault than a rework has to be.
    """
    if item.second is None:
        return False
    if item.name in check.backed:
        return item.second < _log_odds(1.0 - settings.rework)
    known = uncertainty.key_of(f"{check.name}.{item.name}") in uncertainty.calibrations()
    return item.second <= (_log_odds(1.0 - settings.fine) if known else 0.0)


def _log_odds(probability: float) -> float:
    return math.log(probability / (1.0 - probability))


def _is_trace(item: Measured, limits: Iterable[Limit], check: Check, fine: float) -> bool:
    """Whether something that may not be there leans to nothing, in the second opinion too.

    A doubt by what is measured, but less of one than not. Never a size that every joint has, nor
    what calibration scenes say nothing of: the bound on a joint as a whole does not know it.
    """
    own = [limit for limit in limits if limit.name == item.name]
    if not isinstance(item, Measurement) or not own or not all(limit.thing for limit in own):
        return False
    if conformance_of_z(f"{check.name}.{item.name}", FAR, item.second) is None:
        return False
    worth = _worth(item, own, check)
    leans = min(worth, _shown(item, own)) >= EVEN
    plain = worth >= fine or is_blind(item, own, check, fine)
    return leans and not plain and item.second is not None and item.second <= 0.0


def _suspected(finding: Finding, check: Check, fine: float) -> bool:
    items = [item for item in finding.measured if isinstance(item, Measurement)]
    return any(is_suspected(item, finding.limits, check, fine) for item in items)


def _shown(item: Measurement, limits: list[Limit]) -> float:
    """Probability of conformance by the normal law, of what is measured in this picture alone."""
    return min(chance(item, limit, raw=True) for limit in limits)


def _worth(item: Measurement, limits: Iterable[Limit], check: Check) -> float:
    """The item's probability of conformance at the worst of its limits; 1 without any."""
    return min((probability(check.name, item, limit) for limit in limits), default=1.0)


def _honest(item: Measured, finding: Finding, check: Check, fine: float) -> Measured:
    blind = is_blind(item, finding.limits, check, fine)
    return NotMeasured(item.name, NOT_SHOWN) if blind else item
