"""One pole: its cup, its wire and what its solder is to be, before any of it is built.

Figures are ours, no source, where nothing else is said; all lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .fields import Array, Rng, Vector3

# Diameter over the insulation and of the conductor of soft silicone wire, by its AWG: common
# practice, no source.
WIRE_MM = {
    8: (6.3, 3.75),
    10: (5.5, 3.0),
    12: (4.5, 2.4),
    14: (3.5, 1.85),
    16: (3.0, 1.46),
    18: (2.3, 1.14),
    20: (1.8, 0.94),
}
UNTINNED = -99.0  # as wick: solder nowhere on the wire
STRAND_PITCH = 0.115  # of the strands in the outermost layer


@dataclass(frozen=True, slots=True)
class Cups:
    """What the poles of one connector share.

    style: "half" (open along its whole length), "slant" or "closed". fit: bore over conductor.
    wall: thickness over the bore's square root. length, edge (height of the open cup's edges above
    its axis) and change (length over which an open cup closes): in bores, where a bore is the
    inner radius. cut: where the cup closes, a part of its length. twist: of the strands, rad/mm.
    """

    style: str
    closed: bool
    fit: float
    wall: float
    length: float
    edge: float
    cut: float
    change: float
    collar: bool
    pitch: float
    twist: float


@dataclass(frozen=True, slots=True)
class Ball:
    """A bead of solder that took to nothing; squash: its height over its width."""

    centre: Vector3
    radius: float
    squash: float


@dataclass(frozen=True, slots=True)
class Bulge:
    """An ellipsoid of surplus solder with its half axes."""

    centre: Vector3
    axes: Vector3


@dataclass(frozen=True, slots=True)
class Spike:
    """A peak of solder from its root to its tip."""

    root: Vector3
    tip: Vector3
    radius: float


@dataclass(frozen=True, slots=True)
class Hole:
    """A blow hole."""

    centre: Vector3
    radius: float


@dataclass(frozen=True, slots=True)
class Stray:
    """A strand beside the joint: its curve's four points, its curl in rad, tinned 1 or bare 0."""

    points: tuple[Vector3, Vector3, Vector3, Vector3]
    curl: float
    tin: float


@dataclass(frozen=True, slots=True)
class Pole:
    """One pole, with y where its axis lies and all else counted from there.

    overall is D; radius: of the conductor; bore and wall of the cup, edge: the height of its open
    edges; sag: the height of the wire's axis, lean and rise how it leaves. gap: from the
    insulation's end to the lip; seat: the x where the strands end; ring: strands in the outermost
    layer; wick: how far solder runs along the wire. fill: how far below the edges it stands, in
    bores; meniscus, start, slope and blend shape it; filled_to: where it ends, a part of the
    length, or 0; lay: how much the strands show through. lump: height of lumps; cage: width of a
    birdcage in D; burn: its length in D, and burn_side where it is.
    """

    y: float
    fault: str
    severity: float
    overall: float
    radius: float
    bore: float
    wall: float
    length: float
    edge: float
    closed: bool
    cut: float
    change: float
    collar: bool
    sag: float
    gap: float
    lean: float
    rise: float
    seat: float
    twist: float
    ring: int
    wick: float
    fill: float
    meniscus: float
    start: float
    slope: float
    blend: float
    lay: float
    filled_to: float = 0.0
    lump: float = 0.0
    cage: float = 0.0
    burn: float = 0.0
    burn_side: float = 0.0
    balls: tuple[Ball, ...] = ()
    bulges: tuple[Bulge, ...] = ()
    spikes: tuple[Spike, ...] = ()
    holes: tuple[Hole, ...] = ()
    strays: tuple[Stray, ...] = ()

    def axis(self, x: ArrayLike) -> tuple[Array, Array]:
        """Where the wire's axis lies at x: y from the pole's own, and z."""
        out = np.maximum(-np.asarray(x), 0)
        return self.lean * out + 0 * out, self.sag + self.rise * out

    @property
    def lip(self) -> Array:
        """The wire's axis at the cup's lip, (3,) in the scene."""
        return np.array([0, self.y, float(self.axis(0.0)[1])])

    @property
    def tinned(self) -> bool:
        """Whether solder took to the wire."""
        return self.fault not in {"wetting", "none"}


def draw_pole(rng: Rng, cups: Cups, awg: int, y: float, fault: str, severity: float) -> Pole:
    """A pole of a connector, with the gap, seat and wick that its fault asks for."""
    overall, conductor = WIRE_MM[awg]
    radius = conductor / 2
    bore = radius * cups.fit + 0.08
    length = cups.length * bore
    edge = cups.edge * bore
    sag = -(bore - radius) * rng.uniform(0.55, 0.95)
    gap = _gap(rng, overall, fault, severity)
    lean, rise = rng.normal(0, 0.05), rng.normal(0, 0.035)
    seat = rng.uniform(0.9, 0.99) * length
    if fault == "seating":
        seat = length * rng.uniform(0.12, 0.3)
    wick = min(gap * 0.75, rng.uniform(0.25, 1.0) * overall * 0.8) if gap > 0 else 0.1
    if fault == "insulation-gap":
        wick = gap * rng.uniform(0.15, 0.6)
    fill, meniscus = rng.uniform(0.02, 0.16), rng.uniform(0.02, 0.10)
    start, slope = rng.uniform(-0.05, 0.35), rng.uniform(0, 0.8)
    blend, lay = rng.uniform(0.35, 0.7), rng.uniform(0.5, 1.0)
    ridge = sag + radius - (edge - fill * bore)
    if fault not in {"excess-solder", "buried"} and ridge < 0.3 * radius:
        # the wire's back stands out of sound solder
        fill += (0.3 * radius - ridge) / bore * rng.uniform(0.8, 1.3)
    return Pole(
        y=y,
        fault=fault,
        severity=severity,
        overall=overall,
        radius=radius,
        bore=bore,
        wall=cups.wall * bore**0.5,
        length=length,
        edge=edge,
        closed=cups.closed,
        cut=cups.cut * length,
        change=cups.change,
        collar=cups.collar,
        sag=sag,
        gap=gap,
        lean=lean,
        rise=rise,
        seat=seat,
        twist=cups.twist,
        ring=int(2 * np.pi * radius / STRAND_PITCH),
        wick=UNTINNED if fault == "none" else wick,
        fill=fill,
        meniscus=meniscus,
        start=start,
        slope=slope,
        blend=blend,
        lay=lay,
    )


def _gap(rng: Rng, overall: float, fault: str, severity: float) -> float:
    """From the insulation's end to the lip; bad ones are 2.95 D and more."""
    gap = rng.uniform(0.22, 1.15) * overall
    match fault:
        case "insulation-gap":
            gap = overall * (2.95 + 1.6 * severity * rng.uniform(0.6, 1))
        case "buried":
            gap = -rng.uniform(0.0, 0.12) * overall
        case "birdcage":
            gap = overall * rng.uniform(0.9, 1.5)
        case "stray-strand":
            gap = overall * rng.uniform(0.5, 1.1)
        case "insulation-damage":
            gap = overall * rng.uniform(0.2, 0.7)
    return gap
