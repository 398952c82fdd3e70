"""Region and mark maps drawn from analytic geometry, with the values that they must give back.

Each shape is a test on joint coordinates (s, t) in D; a pixel's class probabilities are the share
of its sub-samples in each shape, as a well-trained network would answer at an edge.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from inspector.model import Mark, Patch, Region

CLASSES = len(Region)
SUB = 3
PEAK_PX = 2.5


@dataclass(frozen=True)
class Cup:
    """One drawn cup joint; lengths in D."""

    end: tuple[float, float] = (150.0, 160.0)
    angle_deg: float = 0.0
    gap: float = 1.0
    core: float = 0.27
    outer: float = 0.42
    depth: float = 1.3
    solder_from: float = 0.5  # s where the fillet leaves the conductor, as a share of the gap
    theta_deg: float = 15.0  # apparent angle at the conductor
    mouth: bool = True
    short: float = 0.0  # share of the opening, from its far end
    toe: float | None = None
    dry: float = 0.0  # share of the cup's rim, from the lip, that is dry on both sides
    bulge: float = 0.0  # solder standing out from the cup's left side
    embedded: float = 0.0  # side in D of a square of insulation in the solder
    over: float = 0.0  # length of solder over the insulation
    solder: bool = True
    wire_back: float = 9.0  # length of insulation behind the end
    sleeve: tuple[float, float] | None = None  # from, to along s
    second: tuple[float, float] | None = None  # (s, t) of another wire's end, same cup
    on_top: bool = False  # it lies over the first one, not beneath
    peaks: tuple[Mark, ...] = (Mark.END, Mark.LIP, Mark.TOE)
    extra: dict[str, float] = field(default_factory=dict)

    @property
    def axis(self) -> np.ndarray:
        a = np.radians(self.angle_deg)
        return np.array([np.cos(a), np.sin(a)])

    def place(self, s: float, t: float, d_px: float) -> np.ndarray:
        """Patch position of (s, t)."""
        a = self.axis
        return np.array(self.end) + d_px * (s * a + t * np.array([-a[1], a[0]]))

    @property
    def chord(self) -> tuple[float, float, float]:
        """Length, direction (rad) and deviation (rad) of the fillet's chord."""
        run, rise = self.gap * (1 - self.solder_from), self.outer - self.core
        beta = np.arctan2(rise, run)
        return float(np.hypot(run, rise)), float(beta), float(beta - np.radians(self.theta_deg))

    @property
    def convexity(self) -> float:
        return -0.5 * float(np.tan(self.chord[2] / 2))

    @property
    def angle_cup_deg(self) -> float:
        _, beta, off = self.chord
        return 90.0 - float(np.degrees(beta + off))

    def profile(self, s: np.ndarray) -> np.ndarray:
        """Outer |t| of the fillet at s: a circle through both contacts at the given angle."""
        length, beta, off = self.chord
        s0 = self.gap * self.solder_from
        if abs(off) < 1e-6:
            return self.core + (s - s0) * np.tan(beta)
        radius = length / (2 * np.sin(off))  # signed: positive is concave
        theta = np.radians(self.theta_deg)
        cs, ct = s0 - radius * np.sin(theta), self.core + radius * np.cos(theta)
        root = np.sqrt(np.clip(radius**2 - (s - cs) ** 2, 0, None))
        return ct - np.sign(radius) * root


def _paint(cup: Cup, s: np.ndarray, t: np.ndarray, label: np.ndarray) -> None:
    """Write the classes of one joint into `label`, in place."""
    r = np.abs(t)
    wires = [(0.0, 0.0)] if cup.second is None else [cup.second, (0.0, 0.0)]
    for s1, t1 in wires[::-1] if cup.on_top else wires:
        aside = np.abs(t - t1 * np.clip((cup.gap - s) / max(cup.gap - s1, 1e-6), 0, 1))
        label[(s <= s1) & (s > -cup.wire_back) & (np.abs(t - t1) < 0.5)] = Region.INSULATION
        label[(s > s1) & (s < cup.gap) & (aside < cup.core)] = Region.CONDUCTOR
    label[(s >= cup.gap) & (s < cup.gap + 2.6) & (r < cup.outer)] = Region.TERMINAL
    opening = (s >= cup.gap) & (s < cup.gap + cup.depth) & (r < 0.8 * cup.outer)
    s0 = cup.gap * cup.solder_from
    if cup.solder:
        label[(s >= s0) & (s < cup.gap) & (r < cup.profile(s))] = Region.SOLDER
        if cup.mouth:
            label[opening] = Region.SOLDER
    else:
        tip = cup.toe or 0.0
        label[(s > 0) & (s < cup.gap + tip * cup.depth) & (r < cup.core)] = Region.CONDUCTOR
    if cup.short > 0:
        empty = opening & (s > cup.gap + cup.depth * (1 - cup.short))
        label[empty] = Region.TERMINAL
    if cup.bulge > 0:
        centre = cup.gap + 0.5
        lump = (((s - centre) / 0.3) ** 2 + ((t + cup.outer) / cup.bulge) ** 2 < 1) & (t < 0)
        label[lump] = Region.SOLDER
    if cup.embedded > 0:
        label[(np.abs(s - cup.gap) < cup.embedded / 2) & (r < cup.embedded / 2)] = Region.INSULATION
    if cup.over > 0:
        label[(s > -cup.over) & (s < s0 + 0.01) & (r < 0.53)] = Region.SOLDER
    if cup.sleeve is not None:
        label[(s > cup.sleeve[0]) & (s < cup.sleeve[1]) & (r < 0.6)] = Region.SLEEVE


def _areas(cup: Cup, s: np.ndarray, t: np.ndarray) -> dict[Mark, np.ndarray]:
    r = np.abs(t)
    opening = (s >= cup.gap) & (s < cup.gap + cup.depth) & (r < 0.8 * cup.outer) & cup.mouth
    dry_to = cup.gap + cup.dry * cup.depth
    return {
        Mark.MOUTH: opening,
        Mark.SHORT: opening & (s > cup.gap + cup.depth * (1 - cup.short)) & (cup.short > 0),
        Mark.DRY: (s > cup.gap) & (s < dry_to) & (np.abs(r - 0.8 * cup.outer) < 0.03),
        Mark.EMBED: (np.abs(s - cup.gap) < cup.embedded / 2) & (r < cup.embedded / 2),
        Mark.SURPLUS: (s > cup.gap) & (r > cup.outer) & (r < cup.outer + 0.001 * cup.bulge),
    }


def draw(
    cups: list[Cup], d_px: float = 96.0, size: tuple[int, int] = (420, 320), noise_px: float = 0.0
) -> Patch:
    """A patch of the given joints, all with the same D in pixels; size is (width, height)."""
    width, height = size
    offsets = (np.arange(SUB) + 0.5) / SUB - 0.5
    # an edge that runs through samples would lose them on both sides, and a wire half a pixel
    ys = (np.arange(height)[:, None] + offsets).ravel() + 1.0e-6
    xs = (np.arange(width)[:, None] + offsets).ravel() + 0.6e-6
    x, y = np.meshgrid(xs, ys)
    label = np.zeros(x.shape, np.uint8)
    marks = np.zeros((len(Mark), height, width), np.float32)
    px, py = np.meshgrid(np.arange(width), np.arange(height))
    for cup in cups:
        a = cup.axis
        dx, dy = (x - cup.end[0]) / d_px, (y - cup.end[1]) / d_px
        s, t = dx * a[0] + dy * a[1], -dx * a[1] + dy * a[0]
        _paint(cup, s, t, label)
        for mark, area in _areas(cup, s, t).items():
            soft = area.reshape(height, SUB, width, SUB).mean(axis=(1, 3))
            marks[mark] = np.maximum(marks[mark], soft)
        spots = {Mark.END: (0.0, 0.0), Mark.LIP: (cup.gap, 0.0)}
        if cup.toe is not None:
            spots[Mark.TOE] = (cup.gap + cup.toe * cup.depth, 0.0)
        places = [*spots.items()]
        if cup.second is not None:
            places.append((Mark.END, cup.second))
        for mark, (at_s, at_t) in places:
            if mark in cup.peaks:
                cx, cy = cup.place(at_s, at_t, d_px)
                blob = 0.9 * np.exp(-((px - cx) ** 2 + (py - cy) ** 2) / (2 * PEAK_PX**2))
                marks[mark] = np.maximum(marks[mark], blob)
    counts = np.stack(
        [(label == k).reshape(height, SUB, width, SUB).mean(axis=(1, 3)) for k in range(CLASSES)]
    )
    labels = counts.argmax(axis=0).astype(np.uint8)
    sure = counts.max(axis=0).astype(np.float32)
    if noise_px > 0:
        sure = np.clip(sure - np.random.default_rng(1).uniform(0, 0.3, sure.shape), 0.2, 1)
    return Patch(
        rgb=np.zeros((height, width, 3), np.uint8),
        labels=labels,
        sure=sure.astype(np.float32),
        marks=marks,
        origin=(0.0, 0.0),
        step=1.0,
    )
