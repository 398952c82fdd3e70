"""The pen of the overlay: lines with a dark casing, dashes, ticks, rings, badges, lettering.

Outcomes differ in colour (after Okabe and Ito's palette for colour-blind eyes), in dash and in
the shape of the badge, so that greyscale loses nothing. Sizes are pixels of a panel that is
1080 wide and still reads when shown 360 wide.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from inspector.model import Outcome, Points

Rgb = tuple[int, int, int]
Canvas = NDArray[np.uint8]

INK: Rgb = (16, 18, 20)
PAPER: Rgb = (250, 250, 248)
FAINT: Rgb = (190, 194, 198)
SKY: Rgb = (86, 180, 233)
ORANGE: Rgb = (230, 159, 0)
YELLOW: Rgb = (240, 228, 66)
BLUE: Rgb = (0, 90, 150)
VERMILION: Rgb = (178, 66, 0)

_SHIFT = 4  # sub-pixel bits of cv2's drawing functions
_REPLACE = str.maketrans(
    {"\u2264": "<=", "\u2265": ">=", "\u2013": "-", "\u00d7": "x", "\u00b5": "u", "\u2019": "'"}
)


@dataclass(frozen=True, slots=True)
class Style:
    """How an outcome is drawn."""

    colour: Rgb
    thick_px: int
    dash_px: float  # 0: a full line
    badge: Literal["square", "round", "none"]


STYLES = {
    Outcome.FINE: Style(SKY, 2, 0.0, "none"),
    Outcome.REWORK: Style(ORANGE, 4, 0.0, "square"),
    Outcome.DOUBT: Style(YELLOW, 3, 14.0, "round"),
    Outcome.NOT_SEEN: Style(PAPER, 2, 5.0, "round"),
}


@cache
def font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Pillow's own scalable font: the same on every machine."""
    return ImageFont.load_default(size_px)


def printable(text: str) -> str:
    """The text with signs that the font lacks written out."""
    return text.translate(_REPLACE)


def text_width(text: str, size_px: int) -> float:
    """Width of a line in pixels."""
    return float(font(size_px).getlength(printable(text)))


def wrap(text: str, size_px: int, wide_px: float) -> list[str]:
    """Lines of whole words no wider than wide_px; a longer word keeps a line of its own."""
    lines: list[str] = []
    for word in printable(text).split():
        if lines and text_width(f"{lines[-1]} {word}", size_px) <= wide_px:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def stroke(canvas: Canvas, points: Points, style: Style, *, closed: bool = False) -> None:
    """Draw a line (N, 2) with its casing, dashed as its style says."""
    line = np.vstack([points, points[:1]]) if closed and len(points) > 1 else points
    if len(line) < 2:  # noqa: PLR2004 - a line has two ends
        return
    pieces = _dashes(line, style.dash_px) if style.dash_px else [line]
    for colour, thick in ((INK, style.thick_px + 3), (style.colour, style.thick_px)):
        for piece in pieces:
            cv2.polylines(canvas, [_fixed(piece)], False, colour, thick, cv2.LINE_AA, _SHIFT)  # noqa: FBT003


def dimension(canvas: Canvas, points: Points, style: Style, tick_px: float = 18.0) -> None:
    """A dimension line: the line with a tick across each end."""
    ends = np.asarray([points[0], points[-1]], float)
    along = ends[1] - ends[0]
    length = float(np.hypot(*along))
    across = np.array([-along[1], along[0]]) / length if length > 0 else np.array([0.0, 1.0])
    ticked = Style(style.colour, style.thick_px, 0.0, style.badge)
    stroke(canvas, ends, style)
    for end in ends:
        stroke(canvas, np.array([end - across * tick_px / 2, end + across * tick_px / 2]), ticked)


def ring(canvas: Canvas, centre: Points, style: Style, radius_px: float = 16.0) -> None:
    """A ring around a spot (2,), open in the middle so that the spot stays visible."""
    turn = np.linspace(0, 2 * np.pi, 40)[:, None]
    circle = centre + radius_px * np.hstack([np.cos(turn), np.sin(turn)])
    stroke(canvas, circle, style)


def text(canvas: Canvas, words: list[tuple[float, float, str, int, Rgb]]) -> None:
    """Write lines (x, y of the left middle, text, size, colour) onto the canvas, in place."""
    picture = Image.fromarray(canvas)
    pen = ImageDraw.Draw(picture)
    for x, y, line, size_px, colour in words:
        pen.text((x, y), printable(line), font=font(size_px), fill=colour, anchor="lm")
    canvas[:] = np.asarray(picture)


def question(canvas: Canvas, centre: Points, size_px: float) -> None:
    """A question mark of that height with its casing, its middle at the centre (2,)."""
    picture = Image.fromarray(canvas)
    pen = ImageDraw.Draw(picture)
    x, y = float(centre[0]), float(centre[1])
    casing = max(2, round(size_px / 14))
    pen.text(
        (x, y), "?", font=font(round(size_px)), fill=YELLOW, anchor="mm",
        stroke_width=casing, stroke_fill=INK,
    )  # fmt: skip
    canvas[:] = np.asarray(picture)


def badge(canvas: Canvas, x: float, y: float, size_px: int, style: Style) -> None:
    """The numbered badge's body: square for rework, round for doubt; number comes as text."""
    half = size_px / 2
    if style.badge == "square":
        corner = (int(x - half), int(y - half)), (int(x + half), int(y + half))
        cv2.rectangle(canvas, *corner, style.colour, -1)
    else:
        cv2.circle(canvas, (int(x), int(y)), int(half), style.colour, -1, cv2.LINE_AA)


def _fixed(points: Points) -> NDArray[np.int32]:
    return np.round(np.asarray(points) * (1 << _SHIFT)).astype(np.int32).reshape(-1, 1, 2)


def _dashes(line: Points, dash_px: float) -> list[Points]:
    """Cut a line into dashes as long as the gaps between them."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    pieces = []
    for start in np.arange(0.0, along[-1], 2 * dash_px):
        stop = min(start + dash_px, along[-1])
        inner = (along > start) & (along < stop)
        at = np.concatenate([[start], along[inner], [stop]])
        pieces.append(
            np.stack([np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])], -1)
        )
    return pieces
