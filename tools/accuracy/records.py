"""Results of looks as JSON lines, and the questions that every report asks of them.

One record a photo:
{"scene", "failed": null | text, "network", "wire_known", "verdict", "seconds", "quality",
 "photo_findings": [[check, outcome]],
 "joints": [{"truth": joint number or null, "number", "verdict", "lip", "axis", "d_px", "against",
   "findings": [{"check", "outcome", "p", "text", "measured": [
     {"name", "value", "u", "raw", "unit", "presence", "second", "p", "where"} |
     {"name", "because", "by_eye" if so}]}]}],
 "confusion": 8 x 8, truth by row | null, "strands": {...} | null, "truth": the scene's truth}
u is the calibrated standard uncertainty, raw the combined one before calibration (k = 1);
second is the log-odds of the fault by the network's second opinion, against what it says against
the joint as a whole; null without one.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from inspector.model import NotMeasured
from sample_images.studio.request import MOST_TILT_DEG

Record = dict[str, Any]

LEAST_D_PX = 40.0  # the size that the quality gate states; under it a joint is not to be judged
CUP_D = 1.0  # how far beyond the lip the joint must be in the picture
SQUARE_DEG = 18.0  # tilt up to which the targets on errors hold
# What is planted between joints: the truth has it at one of them, and says nothing of a housing
# that melted or of metal that is near, so that at the scene's other joints nothing is clear.
SHARED = {"bridge": "bridge", "near bridge": "bridge", "melted housing": "insulation-damage"}


def not_measured(item: NotMeasured) -> Record:
    """What was not measured, as a record has it."""
    why: Record = {"name": item.name, "because": item.because}
    return {**why, "by_eye": True} if item.by_eye else why


class ResultsError(Exception):
    """A file of results that cannot be used, in a sentence."""


def read_results(path: Path) -> list[Record]:
    """Records in the order of their seeds; ResultsError with a sentence if unusable."""
    try:
        lines = path.read_text("utf-8").splitlines()
    except OSError as error:
        raise ResultsError(f"The file {path} cannot be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise ResultsError(f"{path} is no text; name the results of a look.") from None
    records = []
    for number, line in enumerate(lines, 1):
        try:
            record = json.loads(line)
            seed_of(record)
        except (ValueError, KeyError, TypeError):
            raise ResultsError(f"Line {number} of {path} is no result; run look again.") from None
        records.append(record)
    if not records:
        raise ResultsError(f"{path} holds no results; run look first.")
    return sorted(records, key=seed_of)


def seed_of(record: Record) -> int:
    """The scene's seed."""
    return int(record["truth"]["seed"])


def refuse_seeds(records: Iterable[Record], first: int, purpose: str) -> None:
    """Raise ResultsError if any scene lies outside `first` and the million seeds after it."""
    wrong = [r["scene"] for r in records if not first <= seed_of(r) < first + 1_000_000]
    if wrong:
        raise ResultsError(
            f"Scene {wrong[0]} and {len(wrong) - 1} more are not of the {purpose} set, whose seeds "
            f"are {first} to {first + 999_999}; use the results of that set alone."
        )


@dataclass(frozen=True, slots=True)
class Case:
    """One true joint with what was found of it (None: not found)."""

    record: Record
    truth: Record
    found: Record | None

    @property
    def holds(self) -> dict[str, str]:
        """Per check sound, near, bad or not-seen, in this view."""
        holds = dict(self.truth["holds"])
        for joint in self.record["truth"]["joints"]:
            for planted in joint.get("planted", ()):
                check = SHARED.get(planted.get("name", ""))
                if check and holds.get(check) in ("sound", "not-seen"):
                    holds[check] = "near"
        return holds

    @property
    def clear(self) -> str:
        """The whole joint: bad (any check), sound (all), or near for what is neither.

        What no view shows (fill of a closed cup, seating under solder) does not count; a strand
        that only this view hides does.
        """
        states = self.holds
        if "bad" in states.values():
            return "bad"
        hidden = states.get("stray-strand") == "not-seen"
        return "near" if hidden or "near" in states.values() else "sound"

    @property
    def verdict(self) -> str:
        """What the user is told of this joint; of one not found, what the photo's verdict means.

        In a photo sent back for rework or passed, a joint that was not found goes through.
        """
        if self.found is not None:
            return str(self.found["verdict"])
        return "retake" if self.record["verdict"] == "retake" else "pass"

    def finding(self, check: str) -> Record | None:
        """The finding of that check on this joint, if there is one."""
        found = self.found or {"findings": ()}
        return next((f for f in found["findings"] if f["check"] == check), None)

    def outcome(self, check: str) -> str:
        """fine, rework, doubt, not-seen; "gated" if nothing was judged, "lost" if not found."""
        if self.found is None:
            return "lost"
        finding = self.finding(check)
        return "gated" if finding is None else str(finding["outcome"])

    @property
    def d_px(self) -> float:
        """D in pixels of the photo."""
        return float(self.truth["d_px"])

    @property
    def tilt_deg(self) -> float:
        """Angle between the joint's axis and the picture plane."""
        return float(self.truth["tilt_deg"])


def in_view(joint: Record, size: Sequence[float]) -> bool:
    """Whether a true joint is whole, uncovered, large and square enough in the picture.

    By the scene's truth alone. size: (width, height) of the photo.
    """
    tip = np.asarray(joint["lip"]) + CUP_D * joint["d_px"] * np.asarray(joint["axis"])
    places = [*joint["end"], *joint["lip"], *tip]
    inside = all(0 <= place < size[i % 2] for i, place in enumerate(places))
    seen = joint["end_visible"] and joint["lip_visible"]
    return bool(
        inside and seen and joint["d_px"] >= LEAST_D_PX and joint["tilt_deg"] <= MOST_TILT_DEG
    )


def cases(records: Iterable[Record], *, all_joints: bool = False) -> Iterator[Case]:
    """The joints in view of usable photos, or `all_joints` of them; failed photos left out."""
    for record in records:
        truth = record["truth"]
        if record["failed"] or not truth["usable"]:
            continue
        for joint in truth["joints"]:
            if all_joints or in_view(joint, truth["size"]):
                found = next((j for j in record["joints"] if j["truth"] == joint["joint"]), None)
                yield Case(record, joint, found)


def photo_state(record: Record) -> str:
    """bad, sound or near (neither) of a usable photo; "apart" if a joint of it is not in view."""
    truth = record["truth"]
    if not truth["joints"] or not all(in_view(j, truth["size"]) for j in truth["joints"]):
        return "apart"
    states = {Case(record, joint, None).clear for joint in truth["joints"]}
    return "bad" if "bad" in states else "near" if "near" in states else "sound"
