"""One panel of the overlay: a window of the photo with the evidence drawn on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from inspector import strokes
from inspector.framing import Window, crop, grid, obstacles_of
from inspector.headline import joint_words
from inspector.model import (
    Finding,
    JointResult,
    Measurement,
    Outcome,
    Points,
    Quantity,
    Verdict,
)
from inspector.passing import judged
from inspector.placing import GRID_PX, Obstacles, Place, Wish, place
from inspector.strokes import Canvas
from inspector.wording import quantity_text

LABEL_PX = 34  # lettering; 11 px when the picture is shown 360 wide
VALUE_PX = 30
_PAD_PX = 10
_MOST_VALUES = 2  # in one callout; the rest stand in the report
# how far apart lines that say the same may lie: pixels, share of their length; ours, no source
_SAME_PX, _SAME_SHARE = 8.0, 0.2
_ORDER = (Outcome.FINE, Outcome.NOT_SEEN, Outcome.DOUBT, Outcome.REWORK)  # drawn last: on top
_NAMED_FOR_A_FAULT = ("birdcage", "bridge", "spike", "stray-strand", "excess-solder")
_LEADER = strokes.Style(strokes.PAPER, 1, 0.0, "none")  # thinner than any evidence
_UNJUDGED = strokes.Style(strokes.YELLOW, 4, 16.0, "round")
_BOX_PX, _BOX_INSET_PX = 12.0, 6.0  # the box stands off the joint, and within the panel

_AS_OUTCOME = {
    Verdict.PASS: Outcome.FINE,
    Verdict.REWORK: Outcome.REWORK,
    Verdict.RETAKE: Outcome.DOUBT,
}


@dataclass(frozen=True, slots=True)
class Label:
    """A callout: what it says, in which style, and the points (N, 2) in the panel it is about."""

    words: str
    number: int | None
    outcome: Outcome
    points: Points
    joint: int | None = None

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in pixels, badge included."""
        height = LABEL_PX if self.number is not None else VALUE_PX
        wide = strokes.text_width(self.words, height) if self.words else -_PAD_PX
        badge = 0 if self.number is None else LABEL_PX + 14 + _PAD_PX
        return wide + badge + 2 * _PAD_PX, height + 2 * _PAD_PX


def draw_close(
    rgb: Canvas,
    window: Window,
    results: list[JointResult],
    numbers: Mapping[tuple[int | None, str], int],
) -> tuple[Canvas, list[Place]]:
    """The panel with all evidence of these joints and their callouts; and where those went.

    numbers maps (joint, check) of a finding to its number in the key. A joint that was not judged
    has no evidence: a dashed box with a question mark stands around it.
    """
    canvas = crop(rgb, window)
    labels: list[Label] = []
    named: list[Points] = []
    findings = [finding for result in results for finding in result.findings]
    for finding in sorted(findings, key=lambda f: _ORDER.index(f.outcome)):
        number = numbers.get((finding.joint, finding.check))
        labels += _draw_finding(canvas, window, finding, number, named)
    labels += [
        _draw_unjudged(canvas, window, result, _number(result, numbers))
        for result in results
        if unjudged(result)
    ]
    obstacles = obstacles_of(window, results)
    # numbered ones first: they must find the good places
    labels.sort(key=lambda label: label.number is None)
    homes: dict[int | None, tuple[float, float]] = {
        result.joint.number: _home(result, window) for result in results
    }
    wishes = [Wish(label.size, label.points, homes.get(label.joint)) for label in labels]
    places = place(wishes, obstacles, window.size)
    _draw_labels(canvas, labels, places)
    return canvas, places


def _home(result: JointResult, window: Window) -> tuple[float, float]:
    """The middle of a joint's box in the panel."""
    x, y = window.to_panel(np.array(result.joint.box, float).reshape(2, 2)).mean(axis=0)
    return float(x), float(y)


def unjudged(result: JointResult) -> bool:
    """Whether the photo could not carry a verdict on this joint, so that nothing was measured."""
    return result.verdict is Verdict.RETAKE and not judged(result)


def _number(result: JointResult, numbers: Mapping[tuple[int | None, str], int]) -> int | None:
    """The number in the key of the joint's first reason."""
    found = [numbers.get((f.joint, f.check)) for f in result.findings]
    return next((number for number in found if number is not None), None)


def _draw_unjudged(
    canvas: Canvas, window: Window, result: JointResult, number: int | None
) -> Label:
    """Draw a dashed box with a question mark around a joint; its callout."""
    x0, y0, x1, y1 = result.joint.box
    low, high = window.to_panel(np.array([[x0, y0], [x1, y1]], float))
    # kept inside the panel, or else the box of a joint at its edge would not be seen as one
    most = np.array(window.size, float) - 1 - _BOX_INSET_PX
    low = np.clip(low - _BOX_PX, _BOX_INSET_PX, most)
    high = np.clip(high + _BOX_PX, _BOX_INSET_PX, most)
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    strokes.stroke(canvas, corners, _UNJUDGED, closed=True)
    strokes.question(canvas, (low + high) / 2, float(np.clip((high - low).min() / 2, 40, 160)))
    said = f"joint {result.joint.number} not judged"
    return Label(said, number, Outcome.DOUBT, corners)


def draw_overview(rgb: Canvas, window: Window, results: tuple[JointResult, ...]) -> Canvas:
    """The whole photo, each joint framed by the corners of its box and numbered."""
    canvas = crop(rgb, window)
    labels = []
    for result in results:
        x0, y0, x1, y1 = result.joint.box
        (x0, y0), (x1, y1) = window.to_panel(np.array([[x0, y0], [x1, y1]])) + [[-10], [10]]
        if unjudged(result):
            label = _draw_unjudged(canvas, window, result, None)
            labels.append(label)
            continue
        outcome = _AS_OUTCOME[result.verdict]
        arm = 0.25 * min(x1 - x0, y1 - y0)
        style = strokes.STYLES[outcome]
        for x, dx in ((x0, arm), (x1, -arm)):
            for y, dy in ((y0, arm), (y1, -arm)):
                corner = np.array([[x + dx, y], [x, y], [x, y + dy]])
                strokes.stroke(canvas, corner, strokes.Style(style.colour, 3, 0.0, "none"))
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        words = f"joint {result.joint.number}: {joint_words(result)}"
        labels.append(Label(words, None, outcome, corners))
    boxes = grid(window)
    for label in labels:
        low, high = label.points.min(0) / GRID_PX, label.points.max(0) / GRID_PX
        x0, y0, x1, y1 = (int(v) for v in (*low.clip(0), *high.clip(0)))
        boxes[y0 : y1 + 1, x0 : x1 + 1] = 1
    obstacles = Obstacles.of(boxes > 0, np.zeros(boxes.shape, bool))
    places = place([Wish(label.size, label.points) for label in labels], obstacles, window.size)
    _draw_labels(canvas, labels, places)
    return canvas


def _draw_finding(
    canvas: Canvas, window: Window, finding: Finding, number: int | None, named: list[Points]
) -> list[Label]:
    """Draw a finding's evidence; its callouts: one with its number, or the values of its lines.

    named holds the dimension lines that already have their value, so that a line which two
    findings share is labelled once; it grows. Of a check that was not seen nothing is drawn: lines
    without a judgement would only be asked about.
    """
    if finding.outcome is Outcome.NOT_SEEN:
        return []
    points: list[Points] = []
    decisive: list[Points] = []
    values: list[tuple[Points, str]] = []
    said_of: list[str] = []  # what each value is of, where neither it nor the check says so
    decides: list[bool] = []
    for measured in finding.measured:
        if not isinstance(measured, Measurement):
            continue
        for evidence in measured.evidence:
            where = window.to_panel(evidence.points)
            _draw_evidence(canvas, evidence.shape, where, strokes.STYLES[finding.outcome])
            points.append(where)
            if measured.name == finding.about:
                decisive.append(where)
            if evidence.shape == "dimension" and _tells(measured.quantity):
                values.append((where[[0, -1]], _said(measured)))
                said_of.append(_of(measured, finding.check))
                decides.append(measured.name == finding.about)
    if number is not None and points:
        named += [ends for ends, _ in values]
        # the value that the sentence speaks of, where it has a line; else the first ones
        chosen = [v for v, about in zip(values, decides, strict=True) if about or not finding.about]
        said = ", ".join(words for _, words in chosen[:_MOST_VALUES])
        words = f"{finding.check.replace('-', ' ')} {said}".strip()
        about = np.vstack(decisive or points)
        return [Label(words, number, finding.outcome, about, finding.joint)]
    labels = []
    for (ends, _), of in zip(values, said_of, strict=True):
        if not any(_same(ends, other) for other in named):
            said = ", ".join(words for other, words in values if _same(ends, other))
            said = " ".join(filter(None, (_subject(finding), of, said)))
            middle = ends.mean(axis=0)[None]
            labels.append(Label(said, None, finding.outcome, middle, finding.joint))
            named.append(ends)
    return labels


def _same(one: Points, other: Points) -> bool:
    """Whether two dimension lines are one, in either direction.

    Two joints measure the distance between them each in a picture of its own.
    """
    shorter = min(float(np.hypot(*(ends[1] - ends[0]))) for ends in (one, other))
    apart = min(np.abs(one - other).max(), np.abs(one - other[::-1]).max())
    return bool(apart < max(_SAME_PX, _SAME_SHARE * shorter))


def _said(measured: Measurement) -> str:
    """The value; a share says of what."""
    value = quantity_text(measured.quantity)
    return f"{measured.name} {value}" if measured.quantity.unit == "%" else value


def _subject(finding: Finding) -> str:
    """What an unnumbered value is about; that all is well, where the check is named for a fault."""
    name = finding.check.replace("-", " ")
    well = finding.outcome is Outcome.FINE and finding.check in _NAMED_FOR_A_FAULT
    return f"no {name}:" if well else name


def _of(measured: Measurement, check: str) -> str:
    """The measurement's name, unless the check's name or the value holds it already."""
    name = measured.name.removesuffix("_mm").removesuffix("-in-D").replace("-", " ")
    return "" if measured.quantity.unit == "%" or name in check.replace("-", " ") else name


def _tells(quantity: Quantity) -> bool:
    """Whether the value differs from nothing by more than its expanded uncertainty."""
    return abs(quantity.value) > quantity.expanded_uncertainty


def _draw_evidence(
    canvas: Canvas,
    shape: Literal["dimension", "line", "outline", "spot"],
    points: Points,
    style: strokes.Style,
) -> None:
    if shape == "dimension":
        strokes.dimension(canvas, points, style)
    elif shape == "spot" or len(points) == 1:
        for spot in points:
            strokes.ring(canvas, spot, style)
    else:
        strokes.stroke(canvas, points, style, closed=shape == "outline")


def _draw_labels(canvas: Canvas, labels: list[Label], places: list[Place]) -> None:
    """Leaders first, then the plates, then the lettering, so that nothing hides a word."""
    words = []
    for where in places:
        leader = np.array([where.box.nearest(*where.tip), where.tip])
        strokes.stroke(canvas, leader, _LEADER)
        tip = (round(where.tip[0]), round(where.tip[1]))
        cv2.circle(canvas, tip, 5, strokes.PAPER, -1, cv2.LINE_AA)
    for label, where in zip(labels, places, strict=True):
        style, box = strokes.STYLES[label.outcome], where.box
        low, high = (int(box.x0), int(box.y0)), (int(box.x1), int(box.y1))
        cv2.rectangle(canvas, low, high, strokes.INK, -1)
        cv2.rectangle(canvas, low, high, style.colour, 2)
        middle, x = (box.y0 + box.y1) / 2, box.x0 + _PAD_PX
        if label.number is not None:
            size = LABEL_PX + 10
            strokes.badge(canvas, x + size / 2, middle, size, style)
            digits = str(label.number)
            left = x + size / 2 - strokes.text_width(digits, VALUE_PX) / 2
            words.append((left, middle, digits, VALUE_PX, strokes.INK))
            x += size + _PAD_PX
        size = LABEL_PX if label.number is not None else VALUE_PX
        words.append((x, middle, label.words, size, strokes.PAPER))
    strokes.text(canvas, words)
