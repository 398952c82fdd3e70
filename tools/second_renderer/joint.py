"""One joint as numbers: its wire, its cup, how the solder lies, and its defect if it has one.

Frame of a cup: x along the wire toward the terminal, the entry edge at x = 0, the insulation's end
face at x = -gap, the opening of a cut-away cup toward +z.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .fields import Rng

# by AWG number: diameter over the insulation and over the bundle of strands; soft silicone wire,
# common practice, no source
WIRE_MM = {
    8: (6.3, 3.75),
    10: (5.5, 3.0),
    12: (4.5, 2.41),
    14: (3.5, 1.85),
    16: (3.0, 1.46),
    18: (2.3, 1.14),
    20: (1.8, 0.94),
}
MOST_GAP_MM = 4.8  # of a sound joint's bare conductor, and at most 1.5 D
EMBEDDED_LIFT = 0.12  # how much higher insulation lies that was pushed into a cut-away cup


@dataclass(frozen=True, slots=True)
class Cup:
    """A solder cup; lengths in D.

    kind: "scoop", cut away along its top, or "closed". outer, inner: radii. depth: to its back.
    run: length of the hollow. half_opening: half the angle that is cut away at the entry. curve:
    how late the cut closes along the hollow. lobes: grooves that the solder shows round the
    strands. roll: turn about x.
    """

    kind: str
    outer: float
    inner: float
    depth: float
    run: float
    half_opening: float
    curve: float
    lobes: int
    roll: float

    @property
    def scoop(self) -> bool:
        """Whether it is cut away along its top."""
        return self.kind == "scoop"


@dataclass(frozen=True, slots=True)
class Defect:
    """What is wrong with a joint; size in the unit given.

    Embedded: length of insulation in or under solder. Solder fill and seating: percent of the
    hollow; wetting: percent of the contact line that is joined, nominal.
    """

    check: str
    variant: str
    what: str
    size: float
    unit: str


@dataclass(frozen=True, slots=True)
class Joint:
    """One joint; lengths in D, angles in radians.

    conductor_radius: of the bundle of strands. fillet: how far solder reaches out of the cup along
    the strands, thinning out over `wick`. gap: bare length, negative if insulation is in the cup.
    drop, aside: how far the conductor lies off the cup's axis, along z and y. film, groove: solder
    over the strands and the depth of its grooves. lip: how far solder covers a closed cup's rim, 0
    to 1. level, dip: of the solder's surface in a cut-away cup. power: of the fillet's profile.
    twist: of the strands, radians a D. reach: where the conductor ends.
    y, heading, bend, colour: of the wire behind the joint.
    climb, share, space, side, strays_mm: only of the defects that need them.
    floor: height of what lies under the scene; rests: whether the wire comes to lie on it.
    """

    cup: Cup
    wire_awg: int
    overall_mm: float
    conductor_radius: float
    fillet: float
    gap: float
    tinned: bool
    drop: float
    aside: float
    film: float
    groove: float
    lip: float
    level: float
    dip: float
    power: float
    twist: float
    wick: float
    reach: float
    seed: int
    y: float = 0.0
    heading: float = 0.0
    bend: float = 0.0
    colour: str = "red"
    climb: float = 0.0
    share: float = 0.0
    space: float = 0.0
    side: int = 0
    strays_mm: tuple[float, ...] = ()
    defect: Defect | None = None
    sleeve: bool = False
    floor: float = 0.0
    rests: bool = True

    @property
    def check(self) -> str:
        """The defect's check, "" for a sound joint."""
        return self.defect.check if self.defect else ""

    @property
    def variant(self) -> str:
        """The defect's variant, "" for a sound joint."""
        return self.defect.variant if self.defect else ""

    @property
    def defect_size(self) -> float:
        """The defect's size in its own unit, 0 for a sound joint."""
        return self.defect.size if self.defect else 0.0

    @property
    def lift(self) -> float:
        """How much higher the insulated wire's axis lies than the cup's."""
        return EMBEDDED_LIFT if self.gap < 0 and self.cup.scoop else 0.0

    @property
    def end(self) -> tuple[float, float, float]:
        """The middle of the insulation's end face, in the scene."""
        return -self.gap, self.y, self.lift

    @property
    def entry(self) -> tuple[float, float, float]:
        """The middle of the cup's entry, in the scene."""
        return 0.0, self.y, 0.0


def sound_joint(rng: Rng, wire_awg: int, cup: Cup) -> Joint:
    """A sound joint of that wire in that cup."""
    overall_mm, bundle_mm = WIRE_MM[wire_awg]
    radius = bundle_mm / overall_mm / 2
    most = min(1.5, MOST_GAP_MM / overall_mm)
    spare = cup.inner - radius
    # the order of the draws is part of what a photo's number means
    fillet = rng.uniform(0.2, min(0.55, most - 0.2))
    return Joint(
        cup=cup,
        wire_awg=wire_awg,
        overall_mm=overall_mm,
        conductor_radius=radius,
        fillet=fillet,
        gap=rng.uniform(max(fillet + 0.12, 0.35), most),
        tinned=bool(rng.random() < 0.35),
        drop=-spare * rng.uniform(0.3, 0.95) * cup.scoop,
        aside=spare * rng.uniform(-0.3, 0.3),
        film=rng.uniform(0.004, 0.014),
        groove=rng.uniform(0.1, 0.42),
        lip=rng.uniform(0.25, 0.85),
        level=rng.uniform(-0.03, 0.03),
        dip=rng.uniform(0.02, 0.07),
        power=rng.uniform(1.8, 2.6),
        twist=rng.choice([-1, 1]) * 2 * np.pi / rng.uniform(2.2, 5.5),
        wick=rng.uniform(0.2, 0.45),
        reach=cup.run - 0.02,
        seed=int(rng.integers(1 << 30)),
    )
