"""What people read first: the verdict in words, the strongest reasons, what only an eye decides."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from inspector.model import Finding, Inspection, JointResult, Measurement, Outcome, Points, Verdict
from inspector.report import VERDICT_WORDS, presses, reasons

UNDECIDED = (
    "Not decided: the photo is good and nothing wrong is seen, but this version is not shown to"
    " find everything. Your eye decides; another photo would not."
)
_BY_EYE = "look by eye"
SHOWN_DOUBTS = 3  # of a joint; more are named in one line
_SAME_D = 0.5  # two joints' findings so near to each other are about one thing; ours, no source
_WHEN = {False: "", True: ", to be looked at with a lens before and after the rework"}


def verdict_words(inspection: Inspection) -> str:
    """The verdict for people: "look by eye" where a retake would change nothing."""
    return _BY_EYE if undecided(inspection) else VERDICT_WORDS[inspection.verdict]


def joint_words(result: JointResult) -> str:
    """One joint's verdict for people."""
    found = tuple(f for f in result.findings if presses(f))
    return _BY_EYE if _only_unproven(result.verdict, found) else result.verdict.value


def undecided(inspection: Inspection) -> bool:
    """Whether all that stands against a pass is what this version is not shown to find.

    The photo is good and nothing wrong is seen, so another photo would settle nothing. The
    verdict's own word in the contract stays "retake".
    """
    return _only_unproven(inspection.verdict, reasons(inspection))


def _only_unproven(verdict: Verdict, found: Sequence[Finding]) -> bool:
    unproven = bool(found) and all(finding.check == "unproven" for finding in found)
    return verdict is Verdict.RETAKE and unproven


def numbered(inspection: Inspection) -> tuple[tuple[int, Finding], ...]:
    """All reasons, numbered as in the picture: those to show, those in a line, then the rest."""
    return tuple((number, finding) for number, finding, _ in _placed(inspection))


def _placed(inspection: Inspection) -> list[tuple[int, Finding, bool]]:
    """Each reason with its number and whether it is set aside."""
    found = reasons(inspection)
    told = [_told_before(inspection, found, k) is not None for k in range(len(found))]
    aside = [weak or again for weak, again in zip(_aside(found), told, strict=True)]
    pairs = zip(found, aside, strict=True)

    def place(pair: tuple[Finding, bool]) -> tuple[bool, bool, bool]:
        finding, aside = pair
        again = finding.outcome is Outcome.REWORK
        return aside, aside and not again, aside and not again and not _is_named(finding)

    ranked = sorted(pairs, key=place)
    return [(number, *pair) for number, pair in enumerate(ranked, start=1)]


def _told_before(inspection: Inspection, found: Sequence[Finding], index: int) -> int | None:
    """The place of an earlier rework, at another joint, that is about the very same metal."""
    this = found[index]
    sizes = {r.joint.number: r.joint.d_px * r.joint.patch.step for r in inspection.results}
    if this.outcome is not Outcome.REWORK or this.joint not in sizes or this.beside:
        return None
    here = _middle(this)
    for k, other in enumerate(found[:index]):
        if (other.check, other.about) != (this.check, this.about) or other.joint == this.joint:
            continue
        there = _middle(other)
        if other.outcome is not this.outcome or here is None or there is None:
            continue
        if np.hypot(*(here - there)) <= _SAME_D * sizes[this.joint]:
            return k
    return None


def _middle(finding: Finding) -> Points | None:
    """Where in the photo what decided lies, (2,); None if it has no place."""
    shown = [
        evidence.points
        for item in finding.measured
        if isinstance(item, Measurement) and item.name == finding.about
        for evidence in item.evidence
        if len(evidence.points)
    ]
    return np.concatenate(shown).mean(axis=0) if shown else None


def pressing(inspection: Inspection) -> tuple[tuple[tuple[int, Finding], ...], tuple[str, ...]]:
    """The reasons to show first, with their numbers; then a line for each joint's other doubts.

    It names the strongest doubts first. A joint that is to be reworked anyway has its doubts in a
    line: its next photo is judged anew. A bridge, which is found at both its joints, is told once;
    the other joint's line says where.
    """
    placed = _placed(inspection)
    shown: list[tuple[int, Finding]] = []
    more: dict[int | None, list[str]] = {}
    again: list[tuple[int, Finding]] = []
    reworked = _reworked([finding for _, finding, _ in placed])
    for number, finding, aside in placed:
        if not aside:
            shown.append((number, finding))
        elif finding.outcome is Outcome.REWORK:
            again.append((number, finding))
        elif _is_named(finding):
            more.setdefault(finding.joint, []).append(f"{finding.check} ({number})")
    found = [finding for _, finding, _ in placed]
    twice = tuple(
        f"Joint {finding.joint}, rework: {finding.check} ({number}), the same as {same + 1}."
        for number, finding in again
        if (same := _told_before(inspection, found, number - 1)) is not None
    )
    lines = tuple(
        f"{'Photo' if joint is None else f'Joint {joint}'}, also in doubt"
        f"{_WHEN[joint in reworked]}: {', '.join(names)}."
        for joint, names in more.items()
    )
    return tuple(shown), twice + lines


def _is_named(finding: Finding) -> bool:
    """Whether a reason set aside is named in a line; "unproven" speaks of what is not seen."""
    return finding.outcome is Outcome.DOUBT and finding.check != "unproven"


def _reworked(found: Sequence[Finding]) -> set[int | None]:
    return {finding.joint for finding in found if finding.outcome is Outcome.REWORK}


def _aside(found: Sequence[Finding]) -> list[bool]:
    """Which reasons need not be shown in full: weak doubts, and what a rework leaves open.

    Of a joint to be reworked the doubts are named in a line, and `unseen_text` names what it
    leaves unseen. "Unproven" is not counted among the doubts.
    """
    reworked = _reworked(found)
    doubts: Counter[int | None] = Counter()
    out = []
    for finding in found:
        opened = finding.joint in reworked and finding.outcome is not Outcome.REWORK
        named = _is_named(finding)
        doubts[finding.joint] += named
        out.append(opened or (named and doubts[finding.joint] > SHOWN_DOUBTS))
    return out
