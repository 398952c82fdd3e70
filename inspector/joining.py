"""Whether solder is seen that joins the wire to its terminal, by what anybody would look for.

Either it lies in the cup's opening, or before the lip it climbs from the strands toward the
terminal's edge. Where neither shows nobody can say that the joint is soldered at all: a pole that
was forgotten, its wire tinned or bare in a closed cup, has nothing else wrong with it.

The figures are ours, no source: of 39 such poles, rendered for this, six passed before and none
with them; of 98 sound joints that passed 85 still do. Of 60 fresh ones two passed, with a third of
the area asked for in the cup. Where no bundle was seen half the terminal's width stood for it, and
the bare end in a slit of 0.14 D was taken for a fillet. By true maps LIKELY_D, and that no bundle
is looked for under the insulation, cost 9 of 3,386 sound calibration joints.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from inspector.areas import own, places
from inspector.model import Joint, Region

if TYPE_CHECKING:
    from inspector.outline import Floats

NEAR_D, LEAST_D2 = 0.5, 0.08  # solder so near to the lip, and the area of it, in D squared
IN_CUP_D2 = 0.1  # of it beyond the lip; what shows of tinned strands in a hidden cup is less
AT_LIP_D = (-0.02, -0.05, -0.08, -0.12)  # from the lip: where a fillet is widest
BEFORE_D = (-0.16, -0.22, -0.3, -0.4)  # where the bundle is itself
WALL_D = (0.1, 0.15, 0.2, 0.3)  # where the terminal is
LEAST_RISE = 0.15  # of the step from the bundle to the terminal
LEAST_STEP_D, BARE_D = 0.05, 0.2  # the least step, and bundle, that can be told
# where a short gap shows no bundle: that of 8 AWG soft silicone wire; common practice, no source
LIKELY_D = 0.6
HALF_PX = 0.6


def solder_joins(joint: Joint) -> bool:
    """Whether the picture shows solder between this wire and its terminal."""
    solder = joint.to_frame(places(own(joint, Region.SOLDER)))
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    beyond = solder[:, 0] - lip
    square = joint.d_px**2
    near = np.abs(beyond) < NEAR_D
    if near.sum() < LEAST_D2 * square:
        return False
    return bool((near & (beyond >= 0)).sum() >= IN_CUP_D2 * square or _climbs(joint, lip))


def _climbs(joint: Joint, lip: float) -> bool:
    """Whether the metal before the lip widens from the bundle toward the terminal's edge."""
    half = HALF_PX / joint.d_px
    metal = joint.to_frame(places(own(joint, Region.CONDUCTOR, Region.SOLDER)))
    wall = joint.to_frame(places(own(joint, Region.TERMINAL)))
    widest = _widths(metal, lip, AT_LIP_D, half).max(initial=0.0)
    terminal = float(_widths(wall, lip, WALL_D, half).max(initial=0.0))
    if terminal == 0.0 or widest == 0.0:
        return False
    bare = tuple(station for station in BEFORE_D if lip + station > 0.0)  # not under insulation
    before = _widths(metal, lip, bare, half)
    before = before[before > BARE_D]
    bundle = float(np.median(before)) if len(before) else max(terminal / 2, LIKELY_D)
    return bool(widest - bundle >= LEAST_RISE * max(terminal - bundle, LEAST_STEP_D))


def _widths(frame: Floats, lip: float, stations: tuple[float, ...], half: float) -> Floats:
    """Width across the axis, D, of what lies at each station from the lip; 0 where nothing does."""
    found = []
    for station in stations:
        t = frame[np.abs(frame[:, 0] - lip - station) < half, 1]
        found.append(float(np.ptp(t)) if len(t) else 0.0)
    return np.array(found)
