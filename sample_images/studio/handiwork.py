"""How hands and makers differ: what varies between joints that are all equally good.

Strands twisted by hand before they are tinned, their lay showing through the solder, ripples on a
sound surface, copper that turns into tin over a millimetre, cups that end square. All figures are
ours, no source. Each is drawn by chance of its own, so that all else about a joint stays as it was
without.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .bundle import SMOOTH
from .spec import JointSpec
from .terminal import Cup

HAND_TWISTED = 0.45  # of the wires
HAND_LAY = (3.0, 9.0)  # length of lay over the bundle's diameter
HAND_ROPES = (1.0, 2.5)  # the groups that strands gather in stand so much higher then
FLAT_COAT, MOST_RELIEF = 0.25, 1.0  # share of the joints that show no lay; the most it shows
CLUMPED, CLUMP = 0.5, (1.0, 2.5)  # of the joints; strands that cling together there
RIPPLED = 0.5  # of the joints
RIPPLE = (0.001, 0.007)  # of the bundle's radius: well under what is rough
RIPPLE_SCALE = (0.15, 0.35)  # of it too
BLUSH_MM = (0.05, 0.9)  # over which the colour turns
FULLY_IN = (0.94, 0.99)  # of the depth, where a cup is open to its floor
SQUARE_END, TO_THE_FLOOR = 0.55, 0.4  # of the half-open cups; of those that end square
SWEPT = 0.6  # of the scooped ones run out in a line of their own


def by_hand(spec: JointSpec) -> JointSpec:
    """The joint with lay, relief, ripples and colours of its own."""
    own = np.random.default_rng([int(spec.d_mm * 1e9), 9])
    flat, shows = own.random() < FLAT_COAT, own.uniform(SMOOTH, MOST_RELIEF)
    twisted = own.random() < HAND_TWISTED
    turns, high = own.uniform(*HAND_LAY), own.uniform(*HAND_ROPES)
    rippled, ripple, scale = (
        own.random() < RIPPLED,
        own.uniform(*RIPPLE),
        own.uniform(*RIPPLE_SCALE),
    )
    seat = spec.seat
    if spec.cup.cut == "half" and spec.cup.reach >= 1.0:  # open to its floor
        seat = max(seat, float(own.uniform(*FULLY_IN)))
    return replace(
        spec,
        seat=seat,
        relief=SMOOTH if flat else float(shows),
        lay_mm=float(2 * spec.core_mm * turns) if twisted else spec.lay_mm,
        ropes=float(high) if twisted else 1.0,
        ripple=(float(ripple), float(scale)) if rippled else (0.0, 1.0),
        blush_mm=float(own.uniform(*BLUSH_MM)),
        clump=float(own.uniform(*CLUMP)) if own.random() < CLUMPED else 1.0,
    )


def as_turned(cup: Cup) -> Cup:
    """The cup with a cut as makers vary it: a half that ends square, a scoop steep or slow."""
    own = np.random.default_rng([int(cup.outer * 1e9), 12])
    if cup.cut == "half" and own.random() < SQUARE_END:
        whole = own.random() < TO_THE_FLOOR
        closing = float(own.uniform(0.02, 0.15))
        return replace(cup, closing=closing, reach=1.0 if whole else cup.reach)
    if cup.cut == "scoop" and own.random() < SWEPT:
        return replace(cup, sweep=float(own.uniform(0.45, 1.5)))
    return cup
