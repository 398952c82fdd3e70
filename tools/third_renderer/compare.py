"""`python -m tools.third_renderer.compare DIR`: what the installed inspector makes of the photos.

The one module here that knows the inspector. It looks at every photo of a folder that has its
truth beside it, without being told the wire or the number of poles, and prints a Markdown table. A
found joint is the true one whose lip is nearest, within 0.6 D (as `tools.accuracy` has it). A
joint that was not found counts as passed, unless the photo's verdict is retake.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from inspector import Job, look
from inspector.errors import InspectorError
from inspector.model import Outcome, Verdict
from tools.accuracy.looks import match as nearest

Json = dict[str, Any]
Tally = Counter[tuple[str, str]]  # how many, by row and column of the table

BAD, SOUND, UNUSABLE = "bad joints", "sound joints", "unusable photos"
ROWS = (BAD, SOUND, UNUSABLE)
NAMED, OTHER = "rework for a named fault", "rework for another"
RETAKE, PASSED, NOT_FOUND = "retake", "passed", "not found"
COLUMNS = (NAMED, OTHER, RETAKE, PASSED, NOT_FOUND)
NOTE = "A joint that was not found counts as passed, unless the photo's verdict is retake."


@dataclass(frozen=True, slots=True)
class Found:
    """A joint that the inspector found: its lip in pixels, verdict, and checks that fail."""

    lip: tuple[float, float]
    verdict: Verdict
    failed: frozenset[str]


def match(found: Sequence[Found], truths: Sequence[Json]) -> dict[int, Found]:
    """The found joint of each true one that has one, nearest first; each is used once."""
    numbered = [{**truth, "joint": k} for k, truth in enumerate(truths)]
    partners = nearest([np.array(joint.lip) for joint in found], numbered)
    return {k: joint for k, joint in zip(partners, found, strict=True) if k is not None}


def tally(truth: Json, found: Sequence[Found], verdict: Verdict) -> Tally:
    """What one photo adds to the table; verdict: the photo's own."""
    if not truth["usable"]:
        return Counter([(UNUSABLE, _column(verdict, named=False))])
    matched = match(found, truth["joints"])
    out: Tally = Counter()
    for k, joint in enumerate(truth["joints"]):
        seen = matched.get(k)
        if seen is None:
            column = NOT_FOUND if verdict is Verdict.RETAKE else PASSED
        else:
            column = _column(seen.verdict, named=bool(seen.failed & set(joint["bad"])))
        if joint["bad"] or joint["sound"]:  # of one that is neither nothing is asked
            out[BAD if joint["bad"] else SOUND, column] += 1
    return out


def _column(verdict: Verdict, *, named: bool) -> str:
    if verdict is Verdict.REWORK:
        return NAMED if named else OTHER
    return PASSED if verdict is Verdict.PASS else RETAKE


def table(counts: Tally) -> str:
    """The Markdown table; what cannot be is a dash."""
    lines: list[Iterable[object]] = [("", "all", *COLUMNS), ["---"] * (len(COLUMNS) + 2)]
    for row in ROWS:
        cells = [counts[row, column] for column in COLUMNS]
        shown: list[object] = list(cells)
        if row != BAD:
            shown[COLUMNS.index(NAMED)] = "-"  # there is no fault to be named
        if row == UNUSABLE:
            shown[COLUMNS.index(NOT_FOUND)] = "-"
        lines.append((row, sum(cells), *shown))
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines)


def look_at(photo: Path) -> Tally:
    """What the inspector makes of one photo that has its truth beside it."""
    truth = json.loads(photo.with_suffix(".json").read_text("utf-8"))
    inspection = look(photo, Job())
    found = []
    for result in inspection.results:
        joint = result.joint
        x, y = joint.patch.to_photo(np.array([joint.lip]))[0]
        failed = {f.check for f in result.findings if f.outcome is Outcome.REWORK}
        found.append(Found((float(x), float(y)), result.verdict, frozenset(failed)))
    return tally(truth, found, inspection.verdict)


def main(given: list[str] | None = None) -> int:
    """Command line; exit status 1 if a photo could not be looked at, 2 without any photo."""
    parser = argparse.ArgumentParser("python -m tools.third_renderer.compare", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR")
    folder = parser.parse_args(given).folder
    photos = [p for p in sorted(folder.glob("*.jpg")) if p.with_suffix(".json").exists()]
    if not photos:
        sys.stderr.write(f"There is no photo with its truth in {folder}.\n")
        return 2
    counts: Tally = Counter()
    failed = 0
    for photo in photos:
        try:
            counts += look_at(photo)
        except InspectorError as error:
            sys.stderr.write(f"{photo.name}: {error}\n")
            failed += 1
    print(f"{table(counts)}\n\n{len(photos) - failed} photos. {NOTE}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
