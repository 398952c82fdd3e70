"""The reported tables of the test set, as Markdown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from inspector.uncertainty import calibrations
from sample_images.studio.request import MOST_TILT_DEG

from .intervals import Share
from .records import (
    LEAST_D_PX,
    Case,
    Record,
    ResultsError,
    cases,
    refuse_seeds,
)
from .table_measures import by_size, coverage, errors, regions
from .table_text import CALIBRATED, HEAD, METHOD, NOT_CALIBRATED, markdown
from .tally import (
    PLACE_D,
    Tally,
    by_check,
    by_joint,
    by_photo,
    retake_reasons,
    unusable,
)

FIRST_SEED = 3_000_000
LARGE_PX = 3_000_000
MOST_REASONS = 12


def tables(records: Sequence[Record]) -> str:
    """docs/accuracy.md; ResultsError if any scene is not of the test set."""
    refuse_seeds(records, FIRST_SEED, "test")
    if any(r.get("for_fit") for r in records):
        raise ResultsError("Results of a look --for-fit are no report; first rejudge them.")
    joints = list(cases(records))
    parts = [
        HEAD,
        _sizes(records, joints),
        _verdicts(records, joints),
        _unusable(records),
        _checks(joints),
        _near(joints),
        regions(records, joints),
        errors(joints),
        coverage(joints),
        by_size(joints),
        METHOD.format(
            least=LEAST_D_PX,
            tilt=MOST_TILT_DEG,
            place=PLACE_D,
            count=len(records),
            calibration=CALIBRATED if calibrations() else NOT_CALIBRATED,
        ),
    ]
    return "\n\n".join(parts)


def _sizes(records: Sequence[Record], joints: Sequence[Case]) -> str:
    truths = [r["truth"] for r in records]
    usable = sum(t["usable"] for t in truths)
    failed = [r for r in records if r["failed"]]
    networks = sorted({r["network"] for r in records if r.get("network")})
    seconds = [r["seconds"] for r in records if not r["failed"]]
    states = Counter(c.clear for c in joints)
    large = sum(t["size"][0] * t["size"][1] >= LARGE_PX for t in truths)
    told = sum(bool(r.get("wire_known")) for r in records)
    paragraph = (
        f"{len(records)} photos: {usable} usable, {len(records) - usable} unusable by how they were"
        f" made; {large} of them of 3 megapixels or more. {len(joints)} joints in view in the"
        f" usable ones: {states['bad']} clearly bad, {states['sound']} clearly sound,"
        f" {states['near']} neither. The wire size was given for {told} photos."
        f" Network {', '.join(networks) or 'unknown'}."
    )
    lines = ["## The set", paragraph]
    if seconds:
        lines.append(f"Median time of a look, one thread: {np.median(seconds):.2f} s.")
    if failed:
        listed = "\n".join(f"- {r['scene']}: `{r['failed']}`" for r in failed)
        count = f"**{len(failed)} photos made the program fail**"
        lines.append(f"{count} and are in no table below:\n\n{listed}")
    else:
        lines.append("No photo made the program fail.")
    return "\n\n".join(lines)


def _verdicts(records: Sequence[Record], joints: Sequence[Case]) -> str:
    photos, apart = by_photo(records)
    joint = by_joint(joints)
    rows: list[tuple[str, Callable[[Tally], Share], str]] = [
        ("bad ones missed: passed, or rework for something else", lambda t: t.missed, "3 %"),
        ("of these passed", lambda t: t.passed_bad, ""),
        ("bad ones not caught, retakes counted too", lambda t: t.not_caught, ""),
        ("sound ones sent to rework", lambda t: t.false_rework, "4 %"),
        ("clear ones answered retake", lambda t: t.retaken, "5 %"),
        ("all answered retake, near-limit ones too", lambda t: t.retaken_all, "5 %"),
    ]
    body = [
        (name, of(joint).text, of(photos).text, target and f"at most {target}")
        for name, of, target in rows
    ]
    agreement = [
        "-" if t.kappa is None else f"{t.kappa:.3f}, {_answered(t)} answered"
        for t in (joint, photos)
    ]
    body.append(("kappa, rework or pass against bad or sound", agreement[0], agreement[1], ""))
    text = "## Verdicts on usable photos\n\n" + markdown(
        ("clear cases", "by joint", "by photo", "target"), body
    )
    if apart:
        listed = ", ".join(f"{n} {verdict}" for verdict, n in sorted(apart.items()))
        text += (
            f"\n\nBy photo without {apart.total()} usable photos in which a further joint is cut by"
            f" the edge, hidden or too small; their verdicts: {listed}."
        )
    reasons = [(why, n, alone) for why, n, alone in retake_reasons(records)[:MOST_REASONS]]
    if reasons:
        text += "\n\nWhy usable photos were answered retake, most often first:\n\n"
        text += markdown(("reason", "photos", "with no other reason"), reasons)
    return text


def _answered(tally: Tally) -> int:
    both = tally.bad + tally.sound
    return both.total() - both["retake"]


def _unusable(records: Sequence[Record]) -> str:
    found = unusable(records)
    every = Share(sum(s.hits for s in found.values()), sum(s.n for s in found.values()))
    body = [(because, s.text) for because, s in found.items()] + [("all", every.text)]
    wrong = Counter(
        r["verdict"]
        for r in records
        if r["truth"]["unusable_because"] and r["verdict"] not in ("retake", None)
    )
    listed = ", ".join(f"{n} {verdict}" for verdict, n in sorted(wrong.items())) or "none"
    return (
        "## Unusable photos answered retake (target: all)\n\n"
        + markdown(("unusable because of", "answered retake"), body)
        + f"\n\nOther answers: {listed}."
    )


def _checks(joints: Sequence[Case]) -> str:
    body = []
    for check, states in by_check(joints).items():
        bad, sound = states["bad"], states["sound"]
        body.append(
            (
                check,
                Share(bad["fine"], bad.total()).text,
                Share(bad["rework"], bad.total()).text,
                Share(sound["rework"], sound.total()).text,
                Share(sound["doubt"], sound.total()).text,
                _others(bad),
            )
        )
    head = (
        "check",
        "bad called fine",
        "bad called rework, in place",
        "sound called rework",
        "sound in doubt",
        "bad: other outcomes",
    )
    return (
        "## By check, clear cases\n\nA joint may be caught by another check than the one that"
        " missed. Gated: the photo was sent back before any check judged; lost: the joint was not"
        " found.\n\n" + markdown(head, body)
    )


def _others(counts: Counter[str]) -> str:
    left = {k: n for k, n in sorted(counts.items()) if k not in ("fine", "rework")}
    return ", ".join(f"{n} {k}" for k, n in left.items()) or "-"


def _near(joints: Sequence[Case]) -> str:
    body = []
    for check, states in by_check(joints).items():
        near = states["near"]
        if near:
            counts = [near[k] for k in ("fine", "doubt", "rework", "not-seen")]
            body.append((check, near.total(), *counts, near["gated"] + near["lost"]))
    tally = by_joint(joints)
    answers = ", ".join(f"{n} {_ANSWERS[k]}" for k, n in sorted(tally.near.items())) or "none"
    head = ("check", "n", "fine", "doubt", "rework", "not-seen", "gated or lost")
    return (
        "## Near-limit cases\n\nBetween clearly sound and clearly bad; doubt is the right answer"
        f" there. Joints that are neither bad nor sound: {answers}.\n\n" + markdown(head, body)
    )


_ANSWERS = {"caught": "rework", "wrong": "rework", "retake": "retake", "pass": "pass"}
