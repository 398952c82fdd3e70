"""A connector's cups and its poles, drawn from the plan. Figures are ours, no source."""

from __future__ import annotations

from dataclasses import dataclass

from .faults import with_fault
from .fields import Rng
from .plan import Plan
from .pole import WIRE_MM, Cups, Pole, draw_pole

STYLES = ("half", "half", "half", "slant", "closed")
# faults that only an open cup shows, and those that need a wide or a low one to be seen
OPEN = frozenset({"solder-fill", "none", "wetting", "seating", "holes"})
WIDE = frozenset({"solder-fill", "none", "seating"})
LOW = frozenset({"solder-fill", "none", "seating", "wetting"})


@dataclass(frozen=True, slots=True)
class Bridge:
    """Solder between the poles `first` and the next: x of its ends, radius and sag in mm."""

    first: int
    sag: float
    skew: float  # how far its far end lies toward the terminal
    x: float
    radius: float


def draw_cups(rng: Rng, todo: Plan) -> Cups:
    """The cups that all poles of the connector share."""
    faults = set(todo.faults)
    overall, conductor = WIRE_MM[todo.awg]
    twist = rng.choice([-1, 1]) * rng.uniform(0.35, 0.9) / conductor
    fit, wall = rng.uniform(1.18, 1.48), rng.uniform(0.26, 0.42)
    length, edge = rng.uniform(2.6, 4.4), rng.uniform(-0.05, 0.35)
    style, cut = str(rng.choice(STYLES)), 2.0
    if faults & OPEN:
        style = "half"
    if faults & WIDE:
        fit = rng.uniform(1.42, 1.6)
    if faults & LOW:
        edge = rng.uniform(-0.05, 0.12)
    if style == "slant":
        cut = rng.uniform(0.35, 0.55)
    if style == "closed":
        cut, length, edge = rng.uniform(0.04, 0.12), rng.uniform(2.4, 3.2), 0.1
    change, collar = rng.uniform(0.5, 1.6), rng.random() < 0.4
    bore = conductor / 2 * fit + 0.08
    outside = 2 * (bore + wall * bore**0.5) + rng.uniform(0.8, 2.5)
    pitch = max(outside, overall * rng.uniform(1.12, 1.6))
    if "birdcage" in faults:
        pitch = max(pitch, 1.6 * overall)
    return Cups(
        style=style,
        closed=style != "half",
        fit=fit,
        wall=wall,
        length=length,
        edge=edge,
        cut=cut,
        change=change,
        collar=collar,
        pitch=pitch,
        twist=twist,
    )


def draw_poles(rng: Rng, todo: Plan, cups: Cups) -> tuple[Pole, ...]:
    """The poles side by side about y = 0, each with its fault."""
    poles = []
    middle = (len(todo.faults) - 1) / 2
    for i, fault in enumerate(todo.faults):
        y = (i - middle) * cups.pitch
        pole = draw_pole(rng, cups, todo.awg, y, fault, todo.severity)
        poles.append(with_fault(rng, pole))
    return tuple(poles)


def draw_bridge(rng: Rng, first: int, severity: float, pole: Pole) -> Bridge:
    """A bridge from the pole `first` to the next; pole: one of the connector's."""
    sag = rng.uniform(0, 0.3) * pole.bore
    skew, x = rng.uniform(-0.15, 0.15) * pole.length, rng.uniform(0.3, 0.7) * pole.length
    radius = pole.bore * (rng.uniform(0.42, 0.55) + 0.3 * severity)
    return Bridge(first, sag, skew, x, radius)
