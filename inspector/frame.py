"""The ruler D and the direction of a wire, from the outline of its insulation.

The insulation is a tube, so its width in the picture is D at any tilt; its direction behind the
end is the wire's own. Both are found from many stations with robust fits.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from inspector.model import Region
from inspector.outline import Floats, Spans, belief, is_any, pick, spans_across
from inspector.straight import FEWEST, Line, robust_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Joint, Mask, Points

# Stations behind the end, in D. Ends flare where they were cut or got hot, so the first few only
# serve to notice that.
FIRST_D, FLARE_D, LAST_D = 0.1, 0.45, 1.6
NEAR_D, UNEVEN = 1.0, 0.1  # where widths differ by more than this share, the nearer count
FLARED = 0.05  # share by which a flared end is wider
GROWN = 1.1  # a circle that grows by less with the part looked at fills the wire
LEAST_D = 0.45  # visible insulation below which D is not trusted
FEWEST_BACK, FEWEST_FRONT = 6, 3  # stations behind and in a flare that tell one
EDGE_PX = 0.35  # standard uncertainty of the width that all stations share

SETTLED, SETTLED_PX = 0.002, 0.1  # change of slope and offset at which the fit stands
UNEVEN_END_D = 0.03  # scatter about an ellipse from which an end is no clean cut
UNKNOWN_DEG = (9.0, 9.0)  # tilt and its standard uncertainty where nothing shows it: 0 to 27
ROUGH_END = 0.15  # sine of tilt that a rounded or crooked cut looks like
AHEAD_D = 0.04  # how far beyond the end its neighbour is looked up
BOW_D, FEWEST_BOW = 0.7, 10  # how far an end can bow; points that tell


class Ruler(NamedTuple):
    """D in patch pixels with its standard uncertainty, and where the insulation lies.

    direction: unit vector (2,) toward the end; middle: point on the wire's axis one D behind
    the end; seen_D: length of insulation that shows, in D, at most LAST_D.
    """

    d_px: float
    standard_uncertainty_px: float
    direction: Points
    middle: Points
    seen_D: float  # noqa: N815 - the unit shows in the name


def unit(vector: Points) -> Points:
    """`vector` (2,) at length one; a zero vector stays zero."""
    length = float(np.hypot(vector[0], vector[1]))
    return np.asarray(vector, float) / length if length > 0 else np.zeros(2)


def rough_width(inside: Mask, end: Points) -> float:
    """Width in pixels of the region nearest to `end`, from inscribed circles; 0 for none."""
    height, width = inside.shape
    best = before = 0.0
    x = min(max(round(float(end[0])), 0), width - 1)
    y = min(max(round(float(end[1])), 0), height - 1)
    reach, away = 6, 0
    while reach < max(height, width):
        part = inside[max(y - reach, 0) : y + reach + 1, max(x - reach, 0) : x + reach + 1]
        # a border counts as going on: a wire that leaves the window, or the photo, is no narrower
        circles = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 5)
        best = 2.0 * float(circles.max())
        if best == 0:
            away = reach
        elif best < 0.8 * (reach - away) and best <= GROWN * before:
            break  # not for the first few pixels that come into sight
        before = best
        reach = int(reach * 1.6)
    return best


def rough_direction(
    inside: Mask, end: Points, d_px: float, others: Sequence[Points] = ()
) -> Points:
    """Unit vector from the bulk of the region near `end` to `end`; zero if there is none.

    Pixels nearer to one of the `others` (2,), ends of other wires, are theirs.
    """
    reach = int(np.ceil(1.1 * d_px)) + 1
    x, y = round(float(end[0])), round(float(end[1]))
    y0, x0 = max(y - reach, 0), max(x - reach, 0)
    part = inside[y0 : y + reach + 1, x0 : x + reach + 1]
    rows, columns = np.nonzero(part)
    place = np.stack([columns + x0, rows + y0], axis=1).astype(float)
    away = np.hypot(*(place - end).T)
    mine = away <= 1.1 * d_px
    for other in others:
        mine &= away <= np.hypot(*(place - other).T)
    offset = place[mine] - end
    return unit(-offset.mean(axis=0)) if len(offset) >= FEWEST else np.zeros(2)


def measure_ruler(image: Floats, end: Points, direction: Points, d_px: float) -> Ruler | None:
    """D from the insulation behind `end` (2,), starting from a rough direction and width.

    image (h, w): outline.belief of this wire's insulation. None when hardly any shows there.
    """
    middle = end
    spans, stations = None, np.zeros(0)
    for _ in range(4):
        step = max(1.0, d_px / 48)
        stations = np.arange(FIRST_D * d_px, LAST_D * d_px, step)
        spans = spans_across(image, middle, -direction, stations, 1.4 * d_px, reach_px=0.3 * d_px)
        line = robust_line(stations, spans.middle)
        if line is None:
            return None
        # the station frame runs backward along -direction; its normal is turned with it
        normal = np.array([direction[1], -direction[0]])
        middle = middle + line.offset * normal
        direction = unit(direction - line.slope * normal)
        widths = spans.width
        if np.isfinite(widths).any():
            d_px = float(np.nanmedian(widths))
        if abs(line.slope) < SETTLED and abs(line.offset) < SETTLED_PX:
            break
    if spans is None:
        return None
    width = _square_width(stations, spans)
    good = np.isfinite(width)
    seen = float(good.sum()) * max(1.0, d_px / 48) / d_px
    if good.sum() < FEWEST:
        return None
    width = width[_even(stations / d_px, width)]
    value = float(np.median(width))
    spread = 1.4826 * float(np.median(np.abs(width - value)))
    independent = max(1.0, len(width) / 4.0)  # neighbouring stations share their pixels
    u_median = 1.2533 * spread / np.sqrt(independent)
    u_d = float(np.hypot(u_median, EDGE_PX))
    if seen < LEAST_D:
        u_d = float(np.hypot(u_d, 0.1 * value))
    return Ruler(value, u_d, direction, middle - direction * value, min(seen, LAST_D))


def _even(stations_D: Floats, width: Floats) -> Mask:  # noqa: N803 - the unit shows in the name
    """Which of the stations (n,), in D behind the end, show the wire as it is."""
    good = np.isfinite(width)
    back = good & (stations_D > FLARE_D)
    use = good
    if back.sum() >= FEWEST_BACK:
        front = good & ~back
        rear = float(np.median(width[back]))
        wider = float(np.median(width[front])) / rear - 1 if front.any() else 0.0
        if front.sum() < FEWEST_FRONT or abs(wider) > FLARED:
            use = back
    near = use & (stations_D < NEAR_D)
    if near.sum() >= FEWEST_BACK and float(np.ptp(width[use])) > UNEVEN * float(width[near].min()):
        use = near  # farther back the wire bends, or another one runs into its outline
    return np.asarray(use, bool)


def _square_width(stations: Floats, spans: Spans) -> Floats:
    """Widths square to the wire's own middle line, which may bend."""
    good = np.isfinite(spans.width)
    if good.sum() < FEWEST_BACK:
        return spans.width
    bend = np.polyfit(stations[good], spans.middle[good], 2)
    slope = 2 * bend[0] * stations + bend[1]
    return np.asarray(spans.width / np.sqrt(1 + slope**2), float)


def _bow(t: Floats, depth: Floats, use: Mask) -> Line | None:
    """How far an end's outline (n,) bows, as a line over a circle's bow; None where it does not."""
    if use.sum() < FEWEST_BOW:
        return None
    line = robust_line(np.sqrt(np.clip(1 - (t[use] / 0.5) ** 2, 0, None)), depth[use])
    if line is None or line.slope < -line.u_slope or line.scatter > UNEVEN_END_D:
        return None
    return line


def apparent_tilt_deg(joint: Joint) -> tuple[float, float]:
    """Tilt of the wire out of the picture and its standard uncertainty, degrees.

    The insulation's end is a circle, seen as an ellipse whose half depth is D/2 sin(tilt): the
    farther the outline of the end bows, the more the wire points toward or away from the lens.
    """
    image = belief(joint.patch, (Region.INSULATION,), joint.own)
    ax, ay = joint.axis
    across = np.array([-ay, ax])
    stations = np.linspace(-0.42, 0.42, 41) * joint.d_px  # the rim itself is often rounded
    ends = spans_across(
        image,
        np.array(joint.end) - 0.45 * joint.d_px * np.array(joint.axis),
        across,
        stations,
        1.3 * joint.d_px,
        reach_px=0.2 * joint.d_px,
    )
    # along `across` the normal points to -axis: the end's outline is the low edge
    depth = -ends.low / joint.d_px - 0.45
    t = stations / joint.d_px
    good = np.isfinite(depth) & (np.abs(depth) < BOW_D)
    line = _bow(t, depth, good)
    if line is None:
        # an end that faces the lens has the strands before its middle: its rim tells beside them
        places = joint.from_frame(np.stack([depth + AHEAD_D, t], axis=1))
        wire = is_any(pick(joint.patch.labels, places), (Region.CONDUCTOR, Region.SOLDER))
        line = _bow(t, depth, good & ~wire)
    if line is None:
        return UNKNOWN_DEG
    sine = float(np.clip(line.slope / 0.5, 0, 0.99))
    u_sine = float(np.hypot(line.u_slope / 0.5, ROUGH_END))
    tilt = float(np.degrees(np.arcsin(sine)))
    return tilt, float(min(30.0, np.degrees(u_sine / np.sqrt(1 - sine**2))))
