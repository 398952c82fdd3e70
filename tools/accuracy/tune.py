"""A development report: where it goes wrong, worst first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .compare import RULES, pairs
from .records import Case, Record, cases
from .tally import (
    OUTCOMES,
    answer,
    by_check,
    by_joint,
    by_photo,
    joint_retake_reasons,
    retake_reasons,
    unusable,
)
from .tally_regions import region_scores, strands

SHOWN = 3  # measurements listed with a case


def report(records: Sequence[Record], worst: int) -> str:
    """The whole report as text."""
    joints = list(cases(records))
    parts = [
        _summary(records, joints),
        _confusions(joints),
        _listed("misses of bad joints", [c for c in joints if _missed(c)], worst, "bad"),
        _listed("false reworks of sound joints", [c for c in joints if _false(c)], worst, "sound"),
        _checks_wrong(joints, worst),
        _retakes("usable photos", retake_reasons(records)),
        _retakes("joints in view", joint_retake_reasons(joints)),
        _errors(joints),
        _invented(records, worst),
    ]
    return "\n\n".join(parts)


def _summary(records: Sequence[Record], joints: Sequence[Case]) -> str:
    tally, (photos, apart) = by_joint(joints), by_photo(records)
    failed = [f"  {r['scene']}: {r['failed']}" for r in records if r["failed"]]
    seconds = [r["seconds"] for r in records if not r["failed"]]
    lost = sum(c.found is None for c in joints)
    lines = [
        f"{len(records)} photos, {len(failed)} failed, {len(joints)} joints in view, {lost} lost",
        *failed,
        f"joints: missed {tally.missed.text}; passed {tally.passed_bad.text}",
        f"        not caught (retakes too) {tally.not_caught.text}",
        f"        false rework {tally.false_rework.text}; retake {tally.retaken.text}",
        f"        bad {dict(tally.bad)}; sound {dict(tally.sound)}; near {dict(tally.near)}",
        f"photos: missed {photos.missed.text}; false rework {photos.false_rework.text}",
        f"        retake {photos.retaken.text}; a joint not in view: {dict(apart)}",
        "unusable answered retake: "
        + "; ".join(f"{because} {s.hits} of {s.n}" for because, s in unusable(records).items()),
        "unusable not answered retake: "
        + ", ".join(
            f"{r['scene']} ({r['truth']['unusable_because']}) {r['verdict']}"
            for r in records
            if r["truth"]["unusable_because"] and r["verdict"] not in ("retake", None)
        ),
        f"regions (pooled, median scene): {region_scores(records)}",
        f"strands: {strands(joints)}",
    ]
    if seconds:
        lines.append(f"seconds a look: median {np.median(seconds):.2f}, most {max(seconds):.2f}")
    return "\n".join(lines)


def _confusions(joints: Sequence[Case]) -> str:
    columns = (*OUTCOMES, "wrong-place")
    lines = [
        "CHECKS: truth against outcome",
        f"{'check':18} {'truth':9}" + "".join(f"{c:>12}" for c in columns),
    ]
    for check, states in by_check(joints).items():
        for state, counts in states.items():
            if counts:
                row = "".join(f"{counts[c]:12}" for c in columns)
                lines.append(f"{check:18} {state:9}{row}")
    return "\n".join(lines)


def _missed(case: Case) -> bool:
    return case.clear == "bad" and answer(case) in ("pass", "wrong")


def _false(case: Case) -> bool:
    return case.clear == "sound" and case.verdict == "rework"


def _listed(title: str, of: Sequence[Case], worst: int, kind: str) -> str:
    lines = [f"{title.upper()}: {len(of)}"]
    for case in of[:worst]:
        lines.append(_head(case) + f" -> {answer(case)}")
        for check, state in case.holds.items():
            outcome = case.outcome(check)
            if (kind == "bad" and state == "bad") or outcome == "rework":
                lines.append(f"      {check} (true {state}) {outcome}: {_numbers(case, check)}")
    return "\n".join(lines)


def _head(case: Case) -> str:
    names = "+".join(p["name"] for p in case.truth.get("planted", ())) or "-"
    return (
        f"  {case.record['scene']} joint {case.truth['joint']} D {case.d_px:.0f} px,"
        f" tilt {case.tilt_deg:.0f}, planted {names}"
    )


def _numbers(case: Case, check: str) -> str:
    """Measured values of a check, least conforming first, with the true values there are."""
    finding = case.finding(check)
    if finding is None:
        return ""
    items = sorted((m for m in finding["measured"] if m.get("p") is not None), key=lambda m: m["p"])
    words = []
    for item in items[:SHOWN]:
        rule = RULES.get(f"{check}.{item['name']}")
        true = rule.truth(case.truth) if rule else None
        text = f"{item['name']} {item['value']:.3g} (u {item['u']:.2g}, p {item['p']:.2f}"
        text += f", there {item['presence']:.2f}" if item["presence"] < 1 else ""
        words.append(text + (f", true {true:.3g})" if true is not None else ")"))
    words += [f"{m['name']}: {m['because']}" for m in finding["measured"] if "because" in m][:1]
    if check == "fillet":
        sides = [
            f"{'right' if f['side'] > 0 else 'left'} {f['angle_conductor_deg']:.0f}/"
            f"{f['angle_cup_deg']:.0f} deg {f['convexity']:+.2f}"
            for f in case.truth["values"]["fillet"]
        ]
        words.append(f"true {', '.join(sides) or 'none'}")
    return "; ".join(words)


def _checks_wrong(joints: Sequence[Case], worst: int) -> str:
    """Single checks that were wrong, whatever the joint's verdict."""
    wrong = []
    for case in joints:
        for check, state in case.holds.items():
            outcome = case.outcome(check)
            p = (case.finding(check) or {}).get("p")
            if (state, outcome) in (("bad", "fine"), ("sound", "rework")) and p is not None:
                sure = p if state == "bad" else 1 - p
                text = f"{check} true {state}, {outcome}: {_numbers(case, check)}"
                wrong.append((sure, f"{_head(case)}\n      {text}"))
    wrong.sort(key=lambda item: -item[0])
    return "\n".join(
        [f"SINGLE CHECKS WRONG, surest first: {len(wrong)}", *(text for _, text in wrong[:worst])]
    )


def _retakes(of: str, reasons: Sequence[tuple[str, int, int]]) -> str:
    lines = [f"RETAKES OF {of.upper()}: how many, of these with no other reason"]
    lines += [f"  {n:4} {alone:4}  {reason}" for reason, n, alone in reasons]
    return "\n".join(lines)


def _errors(joints: Sequence[Case]) -> str:
    by_key: dict[str, list[tuple[float, float, float]]] = {}
    for pair in pairs(joints):
        by_key.setdefault(f"{pair.key} {pair.unit}", []).append((pair.error, pair.u, pair.raw))
    heads = ("p5", "p25", "p50", "p75", "p95", "|p95|", "2u med", "covers")
    columns = "".join(f"{head:>9}" for head in heads)
    lines = ["ERRORS (measured - true)", f"{'measurement':36}{'n':>6}{columns}"]
    for key, rows in sorted(by_key.items()):
        error, u, _ = np.array(rows).T
        spread = "".join(f"{v:9.3g}" for v in np.percentile(error, [5, 25, 50, 75, 95]))
        size = np.percentile(np.abs(error), 95)
        covers = np.mean(np.abs(error) <= 2 * u)
        lines.append(
            f"{key:36}{len(rows):6}{spread}{size:9.3g}{2 * np.median(u):9.3g}{covers:9.2f}"
        )
    return "\n".join(lines)


def _invented(records: Sequence[Record], worst: int) -> str:
    lost = [c for c in cases(records) if c.found is None]
    extra = [
        f"  {r['scene']} at {j['lip']} D {j['d_px']}: {j['verdict']}, usable {r['truth']['usable']}"
        for r in records
        for j in r["joints"]
        if j["truth"] is None
    ]
    return "\n".join(
        [
            f"JOINTS NOT FOUND: {len(lost)}",
            *(f"{_head(c)}, photo {c.record['verdict']}" for c in lost[:worst]),
            f"JOINTS INVENTED: {len(extra)}",
            *extra[:worst],
        ]
    )
