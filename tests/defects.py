"""One drawn joint, or two, with defects of known size, as a View: no network, no photo.

Lengths in D, joint coordinates (s, t). Shapes are filled polygons at four times the resolution, so
that areas and lengths are known from geometry and not from the code under test.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from inspector.model import Job, Joint, Mark, Patch, Region, Scale, View
from inspector.one_check import judge_check
from inspector.settings import Settings

FINE = 4
COLOURS = {
    Region.BACKGROUND: (96, 110, 128),
    Region.INSULATION: (180, 30, 30),
    Region.CONDUCTOR: (190, 120, 80),
    Region.SOLDER: (170, 172, 178),
    Region.TERMINAL: (205, 165, 80),
    Region.HOUSING: (40, 40, 46),
    Region.STRAND: (200, 130, 90),
    Region.SLEEVE: (20, 60, 20),
}


def box(s0, s1, t0, t1):
    """Rectangle as a polygon in (s, t)."""
    return np.array([[s0, t0], [s1, t0], [s1, t1], [s0, t1]], float)


def band(path, width):
    """Polygons that make up a band of `width` along `path`, cut square at its ends."""
    path = np.asarray(path, float)
    way = np.gradient(path, axis=0)
    side = np.stack([-way[:, 1], way[:, 0]], -1) / np.hypot(*way.T)[:, None] * width / 2
    return [
        np.stack(
            [
                path[i] + side[i],
                path[i + 1] + side[i + 1],
                path[i + 1] - side[i + 1],
                path[i] - side[i],
            ]
        )
        for i in range(len(path) - 1)
    ]


def bow(radius, turn_deg, start, heading_deg=90.0, n=200):
    """Arc of `radius` that begins at `start`, first toward heading_deg; length radius * turn."""
    a = np.radians(heading_deg) + np.radians(np.linspace(0, turn_deg, n))
    points = radius * np.stack([np.sin(a), -np.cos(a)], -1)
    return points - points[0] + np.asarray(start, float)


@dataclass(frozen=True)
class Drawing:
    """What is drawn. regions, marks: (what, polygons) in the order of painting."""

    d_px: float = 96.0
    angle_deg: float = 0.0
    side: int = 420
    end: tuple[float, float] = (170.0, 210.0)
    gap: float = 1.0
    d_mm: float | None = 4.5
    step: float = 1.0
    poles: int | None = None
    regions: tuple = ()
    marks: tuple = ()
    sure: float = 0.95
    strand_sure: float = 0.95
    second: float | None = None  # distance in D to a second joint on the +t side
    notch: tuple = field(default=())  # polygons cut out of the insulation
    terminal_half: float = 0.42
    alloy: str = "unknown"

    def plain(self, at=0.0):
        """The polygons of one sound joint."""
        g, h = self.gap, self.terminal_half
        move = np.array([0.0, at])
        shapes = [
            (Region.TERMINAL, box(g, g + 2.0, -h, h)),
            (Region.CONDUCTOR, box(0.0, g, -0.27, 0.27)),
            (Region.SOLDER, np.array([[0.6 * g, -0.27], [g, -0.36], [g, 0.36], [0.6 * g, 0.27]])),
            (Region.SOLDER, box(g, g + 1.2, -0.34, 0.34)),
            (Region.INSULATION, box(-9.0, 0.0, -0.5, 0.5)),
        ]
        return [(what, polygon + move) for what, polygon in shapes]


class Canvas:
    """Draws polygons given in joint coordinates."""

    def __init__(self, drawing: Drawing) -> None:
        self.d, self.n = drawing.d_px, drawing.side
        a = np.radians(drawing.angle_deg)
        self.axis = np.array([np.cos(a), np.sin(a)])
        self.across = np.array([-self.axis[1], self.axis[0]])
        self.end = np.array(drawing.end)

    def place(self, st):
        st = np.asarray(st, float) * self.d
        return self.end + st[..., :1] * self.axis + st[..., 1:] * self.across

    def filled(self, polygons):
        """Pixels that the polygons cover by at least half."""
        canvas = np.zeros((self.n * FINE, self.n * FINE), np.uint8)
        for polygon in polygons:
            points = np.round((self.place(polygon) + 0.5) * FINE - 0.5).astype(np.int32)
            cv2.fillPoly(canvas, [points], 255)
        return cv2.resize(canvas, (self.n, self.n), interpolation=cv2.INTER_AREA) >= 128

    def t(self):
        """Distance of each pixel from the axis, in D."""
        ys, xs = np.mgrid[0 : self.n, 0 : self.n]
        return ((xs - self.end[0]) * self.across[0] + (ys - self.end[1]) * self.across[1]) / self.d


def drawn(drawing: Drawing, canvas: Canvas, sites: list[float]) -> Patch:
    """The region map, the marks and a flat-coloured picture."""
    n = drawing.side
    labels = np.zeros((n, n), np.uint8)
    shapes = [(what, [polygon]) for at in sites for what, polygon in drawing.plain(at)]
    shapes += [(Region.BACKGROUND, drawing.notch)] if drawing.notch else []
    for what, polygons in [*shapes, *drawing.regions]:
        labels[canvas.filled(polygons)] = int(what)
    marks = np.zeros((len(Mark), n, n), np.float32)
    for mark, polygons, chance in drawing.marks:
        marks[mark] = np.maximum(marks[mark], chance * canvas.filled(polygons))
    sure = np.where(labels == Region.STRAND, drawing.strand_sure, drawing.sure).astype(np.float32)
    table = np.array([COLOURS[Region(k)] for k in range(len(Region))], np.uint8)
    return Patch(table[labels], labels, sure, marks, (0.0, 0.0), drawing.step)


def view(drawing: Drawing) -> View:
    """The drawing as the checks see it."""
    canvas = Canvas(drawing)
    sites = [0.0] + ([drawing.second] if drawing.second else [])
    patch = drawn(drawing, canvas, sites)
    metal = np.isin(patch.labels, [Region.INSULATION, 2, 3, 4])
    away = np.abs([canvas.t() - at for at in sites])
    joints = []
    for index, at in enumerate(sites):
        mine = metal & (away[index] <= away.min(axis=0))
        first, lip = canvas.place(np.array([[0.0, at], [drawing.gap, at]]))
        axis, d = tuple(canvas.axis), drawing.d_px
        joints.append(
            Joint(index + 1, "cup", patch, tuple(first), tuple(lip), axis, d, 0.4, mine, 0.95)
        )
    scale = Scale(None, None, "none")
    if drawing.d_mm is not None:
        size = drawing.d_mm / (drawing.d_px * drawing.step)
        scale = Scale(size, size * 0.015, "wire")
    job = Job("cup", drawing.poles, drawing.d_mm, drawing.alloy)
    return View(joints[0], tuple(joints[1:]), scale, job)


def changed(drawing: Drawing, **what) -> Drawing:
    return replace(drawing, **what)


def by_name(measured):
    return {item.name: item for item in measured}


D_MM = 4.5  # of what is drawn
PLAIN = Drawing(end=(200, 210))
PAIR = changed(PLAIN, second=1.6, end=(150.0, 150.0), side=460)


def measured(check, drawing):
    return by_name(check.measure(view(drawing)))


def outcome(check, drawing):
    return judge_check(check.CHECK, check.measure(view(drawing)), Settings()).outcome
