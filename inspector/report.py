"""An Inspection in words: the JSON object of the contract, and the lines that people read.

Nothing is measured or judged here. Uncertainties that leave this file are expanded, k = 2.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from inspector import kinds
from inspector.model import (
    Finding,
    Inspection,
    JointResult,
    Limit,
    Measurement,
    Outcome,
    Quantity,
    Scale,
    Verdict,
)
from inspector.passing import judged, pass_lines
from inspector.proof import NOT_SHOWN
from inspector.weakness import advised, likely_cause
from inspector.wording import quantity_text

Json = dict[str, Any]

CAUTIONS = (
    "Before any rework: disconnect and remove the battery.",
    "The iron and the joint stay hot; keep hands and insulation away until it has cooled.",
    "Work where the fumes are drawn off, with eye protection, and wash your hands afterwards.",
    "Event rules and local codes win over anything said here.",
)
VERDICT_WORDS = {
    Verdict.PASS: "pass, this side",
    Verdict.REWORK: "rework",
    Verdict.RETAKE: "retake",
}


def as_json(
    inspection: Inspection, *, overlay: str | None = None, regions: str | None = None
) -> Json:
    """The JSON object of one photo; overlay and regions are where those files were saved.

    Positions are pixels of the full-size upright photo, uncertainties expanded (k = 2).
    """
    return {
        "photo": inspection.photo.name,
        "verdict": inspection.verdict.value,
        "side_only": True,  # one view; several views are not offered yet
        "seconds": round(inspection.seconds, 3),
        "reasons": [
            {
                "joint": finding.joint,
                "check": finding.check,
                "outcome": finding.outcome.value,
                "text": finding.text,
                "remedy": finding.remedy,
            }
            for finding in reasons(inspection)
        ],
        "pass_words": list(pass_lines(inspection)),
        "joints": [_joint(result) for result in inspection.results],
        "scale": _scale(inspection.scale),
        "quality": {name: _round(value) for name, value in inspection.quality.items()},
        "overlay": overlay,
        "regions": regions,
    }


def reasons(inspection: Inspection) -> tuple[Finding, ...]:
    """What the verdict rests on, worded for the reader: of the photo, then joint by joint.

    Rework first, and joints to be reworked first. A check that was not seen and that the joint may
    pass without is no reason; `unseen_text` names it. A doubt's remedy names what is wrong with
    this picture of the joint where something is.
    """
    order = (Outcome.REWORK, Outcome.DOUBT, Outcome.NOT_SEEN)
    found = [likely_cause(inspection, finding) for finding in inspection.findings]
    joints = sorted(inspection.results, key=lambda result: result.verdict is not Verdict.REWORK)
    for result in joints:
        ranked = sorted(
            (f for f in result.findings if presses(f)),
            key=lambda f: (order.index(f.outcome), *_strength(f)),
        )
        found += advised(inspection.photo, result, ranked)
    return tuple(finding for finding in found if finding.outcome is not Outcome.FINE)


def _strength(finding: Finding) -> tuple[bool, float]:
    """For sorting: a rework that is only likelier than not after the others, doubts by strength.

    Of doubts those nearest to a rework come first, what is only unproven last.
    """
    doubt = finding.outcome is Outcome.DOUBT
    least = finding.conformance if doubt and finding.conformance is not None else 0.0
    return finding.check == "unproven" or finding.beside, least


def presses(finding: Finding) -> bool:
    """Whether a verdict rests on a joint's finding: not on what is fine or need not be seen."""
    if finding.outcome is Outcome.NOT_SEEN:
        return finding.needed
    return finding.outcome is not Outcome.FINE


UNITS = "D is the diameter over the insulation; ± is the expanded uncertainty, k = 2."


def scale_text(inspection: Inspection) -> str:
    """Where millimetres come from, or that none are known, as a sentence."""
    scale = inspection.scale
    if scale.mm_per_px is None or scale.standard_uncertainty is None:
        return (
            "No millimetres: the wire size was not given. D is the diameter over the insulation;"
            ' name the wire, such as --wire "12 AWG", to judge sizes in mm.'
        )
    if inspection.results and not any(measurements(result) for result in inspection.results):
        return "No scale: no joint in this photo could be measured."
    source = {"wire": "wire's given diameter", "mat": "mat", "none": "photo"}[scale.origin]
    size = Quantity(scale.mm_per_px * 1000, scale.standard_uncertainty * 1000, "1")
    return (
        f"Scale {quantity_text(size)} micrometres a pixel, from the {source}."
        " D is the diameter over the insulation."
    )


def unseen_text(inspection: Inspection) -> str:
    """What no photo of this kind shows, and what this one did not, as sentences."""
    kind = kinds.registry().get(inspection.job.kind)
    unseen = kind.unseen if kind else ("the far side of the joint", "its inside")
    text = f"No photo shows {_listed(unseen)}."
    missing = _missing(inspection)
    return f"{text} This one did not show: {', '.join(missing)}." if missing else text


def _missing(inspection: Inspection) -> list[str]:
    """Checks of which nothing shows, with the joints where that is not so at every joint."""
    by_check: dict[str, list[int]] = {}
    seen = [result for result in inspection.results if judged(result)]
    for result in seen:
        for finding in result.findings:
            if finding.check in kind_checks(result) and not_shown(finding):
                by_check.setdefault(finding.check, []).append(result.joint.number)
    return [
        check if len(joints) == len(seen) else f"{check} (joint {_listed(joints, 'and')})"
        for check, joints in sorted(by_check.items())
    ]


def kind_checks(result: JointResult) -> tuple[str, ...]:
    """The names of the checks that belong to the joint's kind: not those of the quality gate."""
    kind = kinds.registry().get(result.joint.kind)
    return kind.checks if kind else ()


def not_shown(finding: Finding) -> bool:
    """Whether the photo shows nothing of a check; not where only the finder is unproven."""
    measured = finding.measured
    shown = any(isinstance(m, Measurement) or m.because == NOT_SHOWN for m in measured)
    return finding.outcome is Outcome.NOT_SEEN and not shown


def _listed(parts: Sequence[object], word: str = "or") -> str:
    """Parts as a list in words: "a, b or c"."""
    *most, last = map(str, parts) if parts else ("everything",)
    return f"{', '.join(most)} {word} {last}" if most else last


def source_text(finding: Finding) -> str:
    """Where the limit that decided comes from, as a sentence; empty without one.

    The limit itself too, unless the finding's text has said it.
    """
    limits = limits_of(finding, finding.about)
    if not limits:
        return ""
    sources = (_source_words(limit) for limit in limits)
    said = all(limit.text in finding.text for limit in limits)
    lead = "Source of the limit" if said else f"Limit {limit_text(limits)}"
    return f"{lead}: {'; '.join(dict.fromkeys(sources))}."


_KNOWN = {
    "seen": "its text was read",
    "seen, fragment": "part of its text was read",
    "quoted": "as others quote it",
    "memory": "from memory",
}


def _source_words(limit: Limit) -> str:
    """A limit's source, how well it is known, and which figure is ours."""
    if limit.sure == "common practice":
        return "common practice, no source"
    source = re.sub(
        r"([\d.]+(?: (?:%|D|mm))?)( of it)? house", r"\1\2 is our own figure", limit.source
    )
    source = source.replace(" is house", " is our own").replace("house limit", "our own limit")
    published, mark, ours = source.rpartition("; ")
    if "our own" not in ours or not published:
        published, mark, ours = source, "", ""
    how = _KNOWN.get(limit.sure.split(";")[0])
    return (f"{published}, {how}" if how else published) + mark + ours


def limits_of(finding: Finding, name: str) -> tuple[Limit, ...]:
    """The limits on the finding's measurement of that name; often one, sometimes none."""
    return tuple(limit for limit in finding.limits if limit.name == name)


def limit_text(limits: tuple[Limit, ...]) -> str | None:
    """Limits as people write them, joined; None without any."""
    return " and ".join(limit.text for limit in limits) or None


def measurements(result: JointResult) -> list[tuple[Finding, Measurement]]:
    """Every quantity that was measured on a joint, with the finding that it belongs to."""
    return [
        (finding, measured)
        for finding in result.findings
        for measured in finding.measured
        if isinstance(measured, Measurement)
    ]


def _joint(result: JointResult) -> Json:
    joint = result.joint
    return {
        "joint": joint.number,
        "kind": joint.kind,
        "verdict": result.verdict.value,
        "box": [_round(edge) for edge in joint.box],
        "measurements": [_measurement(finding, m) for finding, m in measurements(result)],
        "findings": [
            {"check": f.check, "outcome": f.outcome.value, "text": f.text} for f in result.findings
        ],
    }


def _measurement(finding: Finding, measured: Measurement) -> Json:
    limits = limits_of(finding, measured.name)
    quantity = measured.quantity
    return {
        "check": finding.check,
        "name": measured.name,
        "value": _round(quantity.value),
        "unit": quantity.unit,
        "uncertainty": _round(quantity.expanded_uncertainty),
        "presence": _round(measured.presence),
        "limit": limit_text(limits),
        "source": "; ".join(f"{limit.source} ({limit.sure})" for limit in limits) or None,
        "where": [
            [round(float(x), 1), round(float(y), 1)]
            for evidence in measured.evidence
            for x, y in evidence.points
        ],
    }


def _scale(scale: Scale) -> Json:
    wide = None if scale.standard_uncertainty is None else 2.0 * scale.standard_uncertainty
    return {
        "mm_per_px": None if scale.mm_per_px is None else _round(scale.mm_per_px),
        "uncertainty": None if wide is None else _round(wide),
        "from": scale.origin,
    }


def _round(value: float) -> float | None:
    """Six significant digits; JSON has no nan or infinity, so those become null."""
    return float(f"{value:.6g}") if math.isfinite(value) else None
