"""From the measurements of one check to its finding, under uncertainty.

JCGM 106:2012: a measured value and its standard uncertainty stand for a normal distribution of the
true value; the probability of conformance is its part on the right side of the limit. At least
0.95: fine. At most 0.2: rework. Between: doubt. Both are settings. Where calibration has a table it
stands in the place of the normal law, but it makes nothing fine that is measured over its limit and
no rework of what is measured within it. The second opinion may turn a rework into a doubt.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from inspector.model import (
    Check,
    Finding,
    Limit,
    Measured,
    Measurement,
    NotMeasured,
    Outcome,
)
from inspector.probability import chance, probability, sent_back
from inspector.proof import EVEN, contradicted, is_blind, is_suspected, within
from inspector.settings import Settings
from inspector.wording import (
    BY_TABLE,
    LENS,
    LOOK_CLOSELY,
    OTHER_SIDE,
    advice,
    cannot_be_judged,
    contradiction_words,
    doubt_words,
    quantity_text,
    reason_words,
    suspicion_words,
)

_SHOWS = 2
_GRAVITY = {Outcome.FINE: 0, Outcome.NOT_SEEN: 1, Outcome.DOUBT: 2, Outcome.REWORK: 3}


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
    # what shows in the picture speaks before what is only suspected, or not proven
    seen: list[int] = []
    for item in measured:
        if item.name not in by_name:
            continue
        names.append(item.name)
        seen.append(_shows(item, limits, check, settings))
        if isinstance(item, NotMeasured):
            text = cannot_be_judged(check.title, item.because)
            remedy = LENS if item.by_eye else OTHER_SIDE
            found.append((Outcome.NOT_SEEN, None, text, remedy))
        else:
            found.append(_judged(check, item, by_name[item.name], settings))
    if not found:
        because = next((m.because for m in measured if isinstance(m, NotMeasured)), "")
        text = cannot_be_judged(check.title, because or "this photo does not show it")
        found.append((Outcome.NOT_SEEN, None, text, OTHER_SIDE))
        names.append("")
        seen.append(_SHOWS)

    def gravity(k: int) -> tuple[int, int, float]:
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


def _shows(item: Measured, limits: tuple[Limit, ...], check: Check, settings: Settings) -> int:
    """How much of what a finding may rest on shows in the picture; more goes first."""
    if is_blind(item, limits, check, settings.fine):
        return 0
    if isinstance(item, Measurement) and is_suspected(item, limits, check, settings.fine):
        return 1
    return _SHOWS


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
    if outcome is Outcome.FINE and not within(check, item, limits, settings.fine):
        outcome = Outcome.DOUBT
    if outcome is Outcome.REWORK and (
        sent_back(check.name, item, limit) > settings.rework or chance(item, limit, raw=True) > EVEN
    ):
        outcome = Outcome.DOUBT  # a table may mistrust a value, it cannot put it over the limit
    failed = outcome is Outcome.REWORK or chance(item, limit) <= settings.rework
    if outcome is not Outcome.FINE and failed and contradicted(check, item, settings):
        words = contradiction_words(item, limit, backed=item.name in check.backed)
        return Outcome.DOUBT, p, f"{check.title}: {words}.", LOOK_CLOSELY
    if outcome is Outcome.REWORK:
        text = limit.reason.format(**reason_words(q, limit))
        alone = chance(item, limit) <= settings.rework  # what is measured here says enough
        return outcome, p, text if alone else text + BY_TABLE, limit.remedy
    if outcome is Outcome.FINE:
        share = f" {limit.of}" if limit.of else ""
        name = item.name.replace("-", " ").replace("_mm", "")
        numbers = f"{name} {quantity_text(q)}{share}, limit {limit.text}"
        return outcome, p, f"{check.title}: {numbers}.", ""
    if is_suspected(item, limits, check, settings.fine):
        return outcome, p, f"{check.title}: {suspicion_words(item, limit)}.", LOOK_CLOSELY
    text = f"{check.title}: {doubt_words(item, limit, settings)}."
    return outcome, p, text, advice(item, limit, settings)
