"""The annotated picture: verdict in a word, the user's photo, close views of the joints, the key.

It draws exactly the evidence that the findings carry. It is 1080 pixels wide, so that its
smallest lettering still reads on a phone 360 wide; outcomes differ by shape and dash as well as
by colour.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import cv2
import numpy as np

from inspector import strokes
from inspector.framing import Window
from inspector.headline import joint_words, numbered, pressing, undecided, verdict_words
from inspector.model import Finding, Inspection, JointResult, Verdict
from inspector.panel import draw_close, draw_overview
from inspector.passing import pass_lines
from inspector.placing import Box
from inspector.report import (
    CAUTIONS,
    UNITS,
    source_text,
    unseen_text,
)
from inspector.strokes import Canvas
from inspector.wording import told_once

WIDE_PX = 1080
_OVERVIEW_HIGH_PX, _CLOSE_HIGH_PX = 620, 1200
_BANNER_PX, _TITLE_PX, _KEY_PX, _NOTE_PX = 128, 64, 32, 28
_LARGE_SHARE = 0.42  # a joint over so much of the photo's long side needs no closer view
_TOGETHER = 2.4  # joints within so many joint lengths share one close view
_MOST_CLOSE_VIEWS = 6
_GAP_PX = 12


def draw(inspection: Inspection) -> Canvas:
    """The overlay of an inspection, (H, 1080, 3) uint8 sRGB: views, then reasons in words."""
    return with_words(views(inspection), inspection)


def with_words(seen: Canvas, inspection: Inspection) -> Canvas:
    """The views with what their numbers mean below, for a picture that goes on its own."""
    return np.vstack([seen, _key(inspection), _gap()])


def views(inspection: Inspection) -> Canvas:
    """The verdict in a word, the photo and close views with the evidence, (H, 1080, 3) uint8."""
    results = inspection.results
    numbers = {(finding.joint, finding.check): n for n, finding in numbered(inspection)}
    rgb = inspection.photo.rgb
    groups = _groups(results, rgb.shape)
    parts = [_banner(inspection)]
    if groups is None:
        window = _fit(Box(0, 0, rgb.shape[1], rgb.shape[0]), _CLOSE_HIGH_PX)
        parts.append(_centred(draw_close(rgb, window, list(results), numbers)[0]))
    else:
        window = _fit(Box(0, 0, rgb.shape[1], rgb.shape[0]), _OVERVIEW_HIGH_PX)
        parts.append(_centred(draw_overview(rgb, window, results)))
        for group in groups:
            window = _fit(_close_box(group, rgb.shape), _CLOSE_HIGH_PX)
            parts.append(_centred(draw_close(rgb, window, group, numbers)[0]))
    return np.vstack([piece for part in parts for piece in (part, _gap())])


def _gap() -> Canvas:
    return np.full((_GAP_PX, WIDE_PX, 3), strokes.INK, np.uint8)


def encode_jpeg(picture: Canvas) -> bytes:
    """The picture as JPEG bytes, quality 88, colour at full resolution so that lines stay thin."""
    options = [cv2.IMWRITE_JPEG_QUALITY, 88, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, 0x111111]
    _, data = cv2.imencode(".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), options)
    return bytes(data)


def encode_png(labels: Canvas) -> bytes:
    """A region map (H, W) uint8 as PNG bytes, losslessly."""
    _, data = cv2.imencode(".png", labels)
    return bytes(data)


def _groups(
    results: tuple[JointResult, ...], shape: tuple[int, ...]
) -> list[list[JointResult]] | None:
    """Joints that share a close view; None where the photo itself is close enough."""
    if not results:
        return None
    sides = [max(b[2] - b[0], b[3] - b[1]) for b in (r.joint.box for r in results)]
    if max(sides) >= _LARGE_SHARE * max(shape[:2]):
        return None
    union = _union(list(results))
    if max(union.x1 - union.x0, union.y1 - union.y0) <= _TOGETHER * float(np.median(sides)):
        return [list(results)]
    worst = sorted(results, key=lambda r: r.verdict is Verdict.PASS)[:_MOST_CLOSE_VIEWS]
    return [[result] for result in worst]


def _union(group: list[JointResult]) -> Box:
    boxes = np.array([result.joint.box for result in group])
    return Box(*boxes[:, :2].min(0), *boxes[:, 2:].max(0))


def _close_box(group: list[JointResult], shape: tuple[int, ...]) -> Box:
    """The joints with room around them for callouts, within the photo."""
    union, high, wide = _union(group), shape[0], shape[1]
    room = 0.45 * max(union.x1 - union.x0, union.y1 - union.y0)
    half_x = max((union.x1 - union.x0) / 2 + room, 0.4 * (union.y1 - union.y0) + room)
    half_y = max((union.y1 - union.y0) / 2 + room, 0.6 * half_x)
    half_x, half_y = min(half_x, wide / 2), min(half_y, high / 2)
    cx = min(max((union.x0 + union.x1) / 2, half_x), wide - half_x)
    cy = min(max((union.y0 + union.y1) / 2, half_y), high - half_y)
    return Box(*np.floor((cx - half_x, cy - half_y)), *np.ceil((cx + half_x, cy + half_y)))


def _fit(box: Box, most_high_px: int) -> Window:
    wide, high = box.x1 - box.x0, box.y1 - box.y0
    return Window(box, min(WIDE_PX / wide, most_high_px / high))


def _centred(panel: Canvas) -> Canvas:
    """The panel at full width, on ink where it is narrower."""
    spare = WIDE_PX - panel.shape[1]
    sides = ((0, 0), (spare // 2, spare - spare // 2), (0, 0))
    return np.pad(panel, sides, constant_values=strokes.INK[0])


def _banner(inspection: Inspection) -> Canvas:
    """The verdict in a word, beside a sign of its own shape."""
    verdict = inspection.verdict
    ground = {
        Verdict.PASS: strokes.BLUE,
        Verdict.REWORK: strokes.VERMILION,
        Verdict.RETAKE: strokes.INK,
    }[verdict]
    canvas = np.full((_BANNER_PX, WIDE_PX, 3), ground, np.uint8)
    middle, centre = _BANNER_PX / 2, np.array([74.0, _BANNER_PX / 2])
    pen = strokes.Style(strokes.PAPER, 8, 0.0, "none")
    if verdict is Verdict.PASS:
        sign = centre + [[-26, 2], [-8, 20], [28, -22]]
        strokes.stroke(canvas, sign, pen)
    elif verdict is Verdict.REWORK:
        for way in (1, -1):
            strokes.stroke(canvas, centre + [[-24, -24 * way], [24, 24 * way]], pen)
    else:
        strokes.ring(canvas, centre, pen, 28.0)
        strokes.stroke(canvas, centre + [[-12, 0], [12, 0]], pen)
    words = verdict_words(inspection)
    words = words.upper() if verdict is not Verdict.PASS else "PASS, this side"
    lines = [(136.0, middle, words, _TITLE_PX, strokes.PAPER)]
    left = 136 + strokes.text_width(words, _TITLE_PX) + 36
    count = "nothing wrong seen, not decided" if undecided(inspection) else _count(inspection)
    said = strokes.wrap(count, _NOTE_PX, WIDE_PX - left - 20)[:3]
    for row, line in enumerate(said):
        y = middle + 36 * (row - (len(said) - 1) / 2)
        lines.append((left, y, line, _NOTE_PX, strokes.PAPER))
    strokes.text(canvas, lines)
    return canvas


def _count(inspection: Inspection) -> str:
    joints = len(inspection.results)
    if joints == 0:
        return "no joint judged"
    words = Counter(map(joint_words, inspection.results))
    parts = [f"{count} {word}" for word, count in words.items()]
    return f"{joints} joint{'s' if joints > 1 else ''}: {', '.join(parts)}"


@dataclass(frozen=True, slots=True)
class _Row:
    """Lines of the key, with the number and outcome of the finding that they explain, if any.

    `loud`: without a finding, and yet as large as one.
    """

    lines: tuple[str, ...]
    finding: Finding | None = None
    number: str = ""
    loud: bool = False


def _rows(inspection: Inspection) -> list[_Row]:
    """What the numbers mean and what to do, what a pass rests on, what no photo shows, cautions."""
    rows, room, wide = [], WIDE_PX - 120, WIDE_PX - 72
    shown, more = pressing(inspection)
    remedies = told_once([f for _, f in shown], [n for n, _ in shown])
    for (number, finding), remedy in zip(shown, remedies, strict=True):
        where = "" if finding.joint is None else f"Joint {finding.joint}, "
        about = finding.check.replace("-", " ")
        # a text that begins with the check's title need not be announced by it
        announced = finding.text.lower().startswith(about)
        said = f"{where}{finding.text if announced else f'{about}: {finding.text}'}"
        said = " ".join(filter(None, (said, source_text(finding), remedy)))
        lines = strokes.wrap(said[0].upper() + said[1:], _KEY_PX, room)
        rows.append(_Row(tuple(lines), finding, str(number)))
    rows += [_Row(tuple(strokes.wrap(line, _KEY_PX, wide)), loud=True) for line in more]
    passed = [strokes.wrap(line, _KEY_PX, wide) for line in pass_lines(inspection)]
    rows += [_Row(tuple(lines), loud=True) for lines in passed]
    notes = [UNITS, unseen_text(inspection)] if inspection.results else []
    if inspection.results and inspection.verdict is not Verdict.PASS:
        notes.append(" ".join(CAUTIONS[:3]))
    return rows + [_Row(tuple(strokes.wrap(note, _NOTE_PX, wide))) for note in notes]


def _key(inspection: Inspection) -> Canvas:
    """The rows below the pictures, each finding with its badge."""
    rows = _rows(inspection)
    step, between = _KEY_PX + 10, 16
    high = sum(len(row.lines) * step + between for row in rows) + between
    canvas = np.full((high, WIDE_PX, 3), strokes.INK, np.uint8)
    words, y = [], float(between)
    for row in rows:
        colour, size, left = strokes.FAINT, _NOTE_PX, 36.0
        if row.loud:
            colour, size = strokes.PAPER, _KEY_PX
        if row.finding is not None:
            strokes.badge(canvas, 52, y + step / 2, 44, strokes.STYLES[row.finding.outcome])
            at = 52 - strokes.text_width(row.number, 30) / 2
            words.append((at, y + step / 2, row.number, 30, strokes.INK))
            colour, size, left = strokes.PAPER, _KEY_PX, 92.0
        for line in row.lines:
            words.append((left, y + step / 2, line, size, colour))
            y += step
        y += between
    strokes.text(canvas, words)
    return canvas
