"""What counts as caught, missed and falsely sent back; by joint, by photo and by check."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from inspector import kinds

from .intervals import Share, kappa, share
from .records import Case, Record, cases, photo_state

REWORK_AT = 0.2  # probability of conformance up to which a measurement means rework
PLACE_D = 1.0  # how far from the defect the evidence may lie
BEYOND_LIP_D = 1.2  # the joint itself: from the insulation's end to this far beyond the lip
OUTCOMES = ("fine", "doubt", "not-seen", "rework", "gated", "lost")
D_BINS = (24.0, 40.0, 56.0, 80.0, 120.0, 200.0, float("inf"))


def places(case: Case, check: str) -> np.ndarray:
    """Points (N, 2) where a defect of that check lies; along the joint where it is all of it."""
    joint = case.truth
    found = []
    if check == "stray-strand":
        found = [np.asarray(s["path"], float).reshape(-1, 2) for s in joint["strands"]]
    planted = [p for p in joint.get("planted", ()) if p["check"] == check]
    own = [np.asarray(p["where"], float) for p in planted]
    at_lip = [np.hypot(*(p - np.asarray(joint["lip"]))) < 1.0 for p in own]
    found += [p[None] for p, lip in zip(own, at_lip, strict=True) if not lip]
    if not found or (any(at_lip) and check != "stray-strand"):
        end, lip = np.asarray(joint["end"], float), np.asarray(joint["lip"], float)
        tip = lip + BEYOND_LIP_D * case.d_px * np.asarray(joint["axis"])
        found += [np.linspace(end, lip, 20), np.linspace(lip, tip, 20)]
    return np.concatenate(found)


def in_place(case: Case, check: str) -> bool:
    """Whether that check's finding is rework with its evidence within 1 D of the true defect."""
    finding = case.finding(check)
    if finding is None or finding["outcome"] != "rework":
        return False
    items = [m for m in finding["measured"] if m.get("p") is not None]
    low = min((m["p"] for m in items), default=1.0)
    points = [p for m in items if m["p"] <= max(REWORK_AT, low) for p in m["where"]]
    if not points:
        return False
    away = np.asarray(points, float)[:, None] - places(case, check)[None]
    return bool(np.hypot(*np.moveaxis(away, -1, 0)).min() <= PLACE_D * case.d_px)


def caught(case: Case) -> bool:
    """A bad joint's verdict is rework, for something truly bad and in the right place."""
    bad = [check for check, state in case.holds.items() if state == "bad"]
    return case.verdict == "rework" and any(in_place(case, check) for check in bad)


def answer(case: Case) -> str:
    """caught, wrong (rework, but not for what is bad or where), retake or pass."""
    if case.verdict == "rework":
        return "caught" if caught(case) else "wrong"
    return case.verdict


@dataclass(frozen=True, slots=True)
class Tally:
    """Answers to clearly bad, clearly sound and near-limit ones; joints or photos."""

    bad: Counter[str]
    sound: Counter[str]
    near: Counter[str]

    @property
    def missed(self) -> Share:
        """Bad ones that were passed, or sent to rework for something else."""
        return Share(self.bad["pass"] + self.bad["wrong"], self.bad.total())

    @property
    def not_caught(self) -> Share:
        """Bad ones that were not caught, retakes among them."""
        return Share(self.bad.total() - self.bad["caught"], self.bad.total())

    @property
    def passed_bad(self) -> Share:
        """Bad ones that were passed."""
        return Share(self.bad["pass"], self.bad.total())

    @property
    def false_rework(self) -> Share:
        """Sound ones sent to rework."""
        return Share(self.sound["wrong"], self.sound.total())

    @property
    def retaken(self) -> Share:
        """Clear ones answered retake."""
        return Share(
            self.bad["retake"] + self.sound["retake"], self.bad.total() + self.sound.total()
        )

    @property
    def retaken_all(self) -> Share:
        """All answered retake, near-limit ones too."""
        every = self.bad + self.sound + self.near
        return Share(every["retake"], every.total())

    @property
    def kappa(self) -> float | None:
        """Agreement of rework or pass with bad or sound, retakes left out."""
        rework = self.bad["caught"] + self.bad["wrong"]
        return kappa(rework, self.bad["pass"], self.sound["wrong"], self.sound["pass"])


def by_joint(of: Iterable[Case]) -> Tally:
    """Every joint counts once."""
    counts = {"bad": Counter[str](), "sound": Counter[str](), "near": Counter[str]()}
    for case in of:
        counts[case.clear][answer(case)] += 1
    return Tally(**counts)


def by_photo(records: Iterable[Record]) -> tuple[Tally, Counter[str]]:
    """Every usable photo counts once; and the verdicts of those with a joint not in view."""
    counts = {"bad": Counter[str](), "sound": Counter[str](), "near": Counter[str]()}
    apart = Counter[str]()
    for record in records:
        if record["failed"] or not record["truth"]["usable"]:
            continue
        state = photo_state(record)
        if state == "apart":
            apart[record["verdict"]] += 1
            continue
        found = record["verdict"]
        if found == "rework":
            found = "caught" if any(caught(c) for c in cases([record])) else "wrong"
        counts[state][found] += 1
    return Tally(**counts), apart


def by_check(of: Sequence[Case]) -> dict[str, dict[str, Counter[str]]]:
    """Outcomes by check and by true state; a rework in the wrong place counts as "wrong-place"."""
    table: dict[str, dict[str, Counter[str]]] = {}
    for case in of:
        for check, state in case.holds.items():
            states = table.setdefault(
                check, {s: Counter() for s in ("bad", "near", "sound", "not-seen")}
            )
            outcome = case.outcome(check)
            if state == "bad" and outcome == "rework" and not in_place(case, check):
                outcome = "wrong-place"
            states[state][outcome] += 1
    return table


def unusable(records: Iterable[Record]) -> dict[str, Share]:
    """Unusable photos answered retake, by what makes them so."""
    reasons: dict[str, list[bool]] = {}
    for record in records:
        because = record["truth"]["unusable_because"]
        if because and not record["failed"]:
            reasons.setdefault(because, []).append(record["verdict"] == "retake")
    return {because: share(flags) for because, flags in sorted(reasons.items())}


def d_bin(d_px: float) -> str:
    """The bin of D in photo pixels, such as "40-56"."""
    for low, high in pairwise(D_BINS):
        if low <= d_px < high:
            return f"{low:.0f}-{high:.0f}" if np.isfinite(high) else f"{low:.0f} and over"
    return f"under {D_BINS[0]:.0f}"


def retake_reasons(records: Iterable[Record]) -> list[tuple[str, int, int]]:
    """Why usable photos came back as retake: (reason, photos, photos with no other reason)."""
    listed = []
    for record in records:
        if record["failed"] or not record["truth"]["usable"] or record["verdict"] != "retake":
            continue
        reasons = {f"photo: {check}" for check, _ in record["photo_findings"]}
        for joint in record["joints"]:
            reasons |= _reasons(joint, len(record["joints"]))
        listed.append(reasons)
    return _ranked(listed)


def joint_retake_reasons(of: Iterable[Case]) -> list[tuple[str, int, int]]:
    """The same for joints in view, whatever their photo's verdict."""
    return _ranked(
        _reasons(case.found, len(case.record["joints"]))
        for case in of
        if case.found is not None and case.verdict == "retake"
    )


def _ranked(listed: Iterable[set[str]]) -> list[tuple[str, int, int]]:
    every, alone = Counter[str](), Counter[str]()
    for reasons in listed:
        every.update(reasons)
        if len(reasons) == 1:
            alone.update(reasons)
    ranked = sorted(every.items(), key=lambda item: (-item[1], item[0]))
    return [(reason, n, alone[reason]) for reason, n in ranked]


def _reasons(joint: Record, poles: int) -> set[str]:
    """What alone would have been enough for a retake: doubts, gates, needed checks not seen."""
    if joint["verdict"] != "retake":
        return set()
    kind = kinds.registry()["cup"]
    optional = set(kind.checks) - kind.needs(poles=poles)
    found = set()
    for finding in joint["findings"]:
        outcome, check = finding["outcome"], finding["check"]
        if outcome not in ("doubt", "not-seen") or (outcome == "not-seen" and check in optional):
            continue
        items = [m for m in finding["measured"] if m.get("p") is not None]
        worst = min(items, key=lambda m: m["p"], default=None)
        detail = f".{worst['name']}" if worst and outcome == "doubt" else ""
        because = next((m["because"] for m in finding["measured"] if "because" in m), "")
        if outcome == "not-seen" and because:
            detail = f": {because}"
        extra = "" if joint["truth"] is not None else " (invented joint)"
        found.add(f"{check}{detail} {outcome}{extra}")
    return found
