"""Can this photo carry a verdict: how sharp, bright, large and free the joint is in it.

Measured on the joint's own window, never on the photo as a whole: the focus often sits on the
ground or on the hand, and a bright bench says nothing about the joint.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import cv2
import numpy as np

from inspector.areas import BARE, own, places
from inspector.frame import apparent_tilt_deg
from inspector.joining import solder_joins
from inspector.model import Finding, Hindrance, Job, Joint, NotMeasured, Photo, Region
from inspector.outline import pick
from inspector.problems import colour_levels, problem_finding
from inspector.second import log_odds
from inspector.sharpness import edge_blur_px


@dataclass(frozen=True, slots=True)
class Gate:
    """A threshold: the measure must not go over ("max") or under ("min") `value`."""

    problem: str
    sense: Literal["max", "min"]
    value: float
    reason: str


# Start values; the last column says what each rests on.
GATES: Mapping[str, Gate] = MappingProxyType(
    {
        "blur_D": Gate("focus", "max", 0.042, "a strand is 0.02 D; about twice that hides it"),
        "clipped_share": Gate("glare", "max", 0.35, "highlights on metal are normal, a third not"),
        "metal_level": Gate("dark", "min", 40.0, "of 255; of usable photos 1 in 200 is under 50"),
        "d_photo_px": Gate("size", "min", 40.0, "a strand of 0.02 D spans 0.7 px"),
        "cut_share": Gate("cropped", "max", 0.0, "any metal of the joint at the picture's edge"),
        "hidden_share": Gate("covered", "max", 0.4, "a birdcage shows ground between its strands"),
        # ours, no source: with true maps 18 of 32 wires over 50 and 2 of 264 under it look so steep
        "tilt_deg": Gate("tilt", "max", 58.0, "lengths shrink by more than a third"),
        "sleeved_share": Gate("sleeved", "max", 0.25, "a sleeve's rim may reach over the end"),
        # ours, no source: of 351 joints in calibration photos none shows any
        "parted_D": Gate("parted", "max", 0.1, "what is bare is wire, or its length means nothing"),
        # ours, no source: of 351 joints in calibration photos two look so, in warm light
        "copper_share": Gate("copper", "max", 0.5, "strands that nobody soldered look like that"),
        "colour_levels": Gate("grey", "min", 7.0, "copper, solder and insulation differ in colour"),
        # the network's opinion, natural log of the odds; averaged weights say it faintly. Of some
        # 4,200 calibration joints without it 101 and 75 are over; ours, no source
        "steep_log_odds": Gate("tilt", "max", -2.5, "what of lengths and outlines is left errs"),
        "pair_log_odds": Gate("two-wires", "max", -2.5, "a cup is judged by its one wire"),
    }
)
_HINDRANCES = {"steep_log_odds": Hindrance.STEEP, "pair_log_odds": Hindrance.PAIR}
# Smallest D in photo pixels for single checks, where it is more than the gate's.
LEAST_D_PX: Mapping[str, float] = MappingProxyType({})
# natural log of the odds: 20 calibration cups with two wires are at -5.7 and over; ours, no source
SURE_OF_NONE = -6.0
LEAST_SURE_JOINT, LEAST_SURE_REGIONS = 0.45, 0.75

CLIPPED, EDGE_PX = 250, 1.5
BESIDE_D = 1.5  # how far beyond the lip the terminal still belongs to the joint
CORE_D = 0.15  # half-width of the strip along the axis that something must fill
MARGIN_D = 0.1
RIM_D, WIDEST_CUP_D, FEWEST_RIM = 0.1, 0.9, 10  # the rim of a cup about its lip
BUNDLE_D = 0.3  # half-width of the strip in which bare wire lies
WIRE = (
    Region.INSULATION, Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL, Region.STRAND
)  # fmt: skip
COPPER_RED, COPPER_B = (8, 35), 20  # CIELAB a* and b* from which metal is copper's; ours, no source
FULL_RIM = 1.2  # a rounded rim reaches back by less; from scenes of known tilt


def measures(photo: Photo, joint: Joint) -> Mapping[str, float]:
    """What is measured of one joint's picture, by the names of GATES; lacking what is not known.

    blur_D: standard deviation of the edges' blur in D. clipped_share: of the metal, all channels
    at least 250. metal_level: median of the metal's brightest channel, 0..255. d_photo_px: D.
    cut_share: of the metal near the lip, at the picture's edge. hidden_share, sleeved_share: of
    the strip along the axis between insulation and cup. parted_D: longest stretch between both
    that shows no wire, D. copper_share: of the solder, as red and yellow as bare copper.
    colour_levels: by which a pixel's channels differ, of 255. tilt_deg: the wire's tilt out of
    the picture, the best guess: its uncertainty grows with it. steep_log_odds, pair_log_odds:
    what the network says against such a tilt and against a second wire in the cup, natural log.
    """
    found = {"d_photo_px": joint.d_px * joint.patch.step}
    blur = edge_blur_px(joint)
    # no outline that can be read is no proof of a sharp one
    found["blur_D"] = np.inf if blur is None else blur / joint.d_px
    metal = own(joint, *BARE)
    if metal.any():
        pixels = joint.patch.rgb[metal]
        found["clipped_share"] = float((pixels >= CLIPPED).all(axis=1).mean())
        found["metal_level"] = float(np.median(pixels.max(axis=1)))
        found["cut_share"] = _cut_share(photo, joint, metal)
    found |= _strip(joint)
    found["parted_D"] = _parted_d(joint)
    found["copper_share"] = _copper_share(joint)
    found["colour_levels"] = colour_levels(photo)
    tilt, _ = apparent_tilt_deg(joint)
    found["tilt_deg"] = max(tilt, _cup_tilt_deg(joint))
    for name, hindrance in _HINDRANCES.items():
        if (odds := log_odds(joint, hindrance)) is not None:
            found[name] = odds
    return MappingProxyType(found)


def _cup_tilt_deg(joint: Joint) -> float:
    """Tilt of the wire as the cup shows it, degrees; 0 where it shows none.

    Seen from ahead, the cup's rim reaches back over its own middle by its radius times the sine
    of the tilt.
    """
    frame = joint.to_frame(places(own(joint, Region.TERMINAL)))
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s, t = frame[:, 0] - lip, np.abs(frame[:, 1])
    middle, beside = (t < CORE_D) & (s < 0), (np.abs(s) < RIM_D) & (t < WIDEST_CUP_D)
    if middle.sum() < FEWEST_RIM or not beside.any():
        return 0.0
    back, radius = -FULL_RIM * float(np.percentile(s[middle], 3)), float(t[beside].max())
    return float(np.degrees(np.arcsin(np.clip(back / max(radius, back), 0.0, 1.0))))


def _cut_share(photo: Photo, joint: Joint, metal: np.ndarray) -> float:
    """Share of the metal within BESIDE_D of the lip that lies at the photo's edge."""
    points = places(metal)
    near = np.hypot(*(points - np.asarray(joint.lip)).T) <= BESIDE_D * joint.d_px
    if not near.any():
        return 0.0
    x, y = joint.patch.to_photo(points[near]).T
    high, wide = photo.rgb.shape[:2]
    edge = EDGE_PX + joint.patch.step / 2
    at_edge = (x < edge) | (y < edge) | (x > wide - 1 - edge) | (y > high - 1 - edge)
    return float(at_edge.mean())


def _parted_d(joint: Joint) -> float:
    """The longest stretch from the insulation's end to the lip where nothing of a wire shows, D."""
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s = np.arange(0.5, lip * joint.d_px) / joint.d_px
    t = np.arange(-BUNDLE_D, BUNDLE_D, 1.0 / joint.d_px)
    grid = np.stack(np.meshgrid(s, t, indexing="ij"), axis=-1)
    seen = np.isin(pick(joint.patch.labels, joint.from_frame(grid.reshape(-1, 2))), WIRE)
    gone = ~seen.reshape(len(s), len(t)).any(axis=1)
    turns = np.flatnonzero(np.diff(np.concatenate([[0], gone.astype(int), [0]])))
    runs = turns[1::2] - turns[::2]
    return float(runs.max(initial=0)) / joint.d_px


def _copper_share(joint: Joint) -> float:
    """Share of the joint's solder that has the colour of bare copper; 0 without solder."""
    solder = own(joint, Region.SOLDER)
    if not solder.any():
        return 0.0
    lab = cv2.cvtColor(joint.patch.rgb[solder][None], cv2.COLOR_RGB2LAB).astype(int) - 128
    red, yellow = lab[0, :, 1], lab[0, :, 2]
    return float(((red >= COPPER_RED[0]) & (red <= COPPER_RED[1]) & (yellow >= COPPER_B)).mean())


def _strip(joint: Joint) -> dict[str, float]:
    """Shares of ground and of sleeve on the axis from the insulation to just inside the cup."""
    lip = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    s = np.arange(-3 * MARGIN_D, lip + 2 * MARGIN_D, 1.0 / joint.d_px)
    t = np.arange(-CORE_D, CORE_D, 1.0 / joint.d_px)
    if len(s) == 0:
        return {}
    grid = np.stack(np.meshgrid(s, t), axis=-1).reshape(-1, 2)
    x, y = np.round(joint.from_frame(grid)).astype(int).T
    high, wide = joint.patch.labels.shape
    inside = (x >= 0) & (y >= 0) & (x < wide) & (y < high)
    if not inside.any():
        return {}
    labels = joint.patch.labels[y[inside], x[inside]]
    ground = np.isin(labels, [Region.BACKGROUND, Region.HOUSING])
    return {
        "hidden_share": float(ground.mean()),
        "sleeved_share": float((labels == Region.SLEEVE).mean()),
    }


def problems_of(joint: Joint) -> tuple[str, ...]:
    """The joint's own problems, without a second wire where the network is sure of one alone.

    Two ends are seen where a wire crosses behind, or a spike stands beside the conductor.
    """
    odds = log_odds(joint, Hindrance.PAIR)
    alone = odds is not None and odds <= SURE_OF_NONE
    return tuple(name for name in joint.problems if not (alone and name == "two-wires"))


def examine(photo: Photo, joint: Joint) -> tuple[Mapping[str, float], tuple[Finding, ...]]:
    """The joint's measures and a finding for each gate that they do not pass."""
    found = measures(photo, joint)
    return found, _refused(found, joint.number)


def hindered(said: Mapping[Hindrance, float | None], joint: int) -> tuple[Finding, ...]:
    """A finding for each gate that what the network says of hindrances (log-odds) does not pass."""
    odds = {name: said.get(hindrance) for name, hindrance in _HINDRANCES.items()}
    return _refused({name: value for name, value in odds.items() if value is not None}, joint)


def _refused(found: Mapping[str, float], joint: int) -> tuple[Finding, ...]:
    """A finding for each measure that does not pass its gate; nan is no good either."""
    findings = []
    for name, value in found.items():
        gate = GATES[name]
        good = value <= gate.value if gate.sense == "max" else value >= gate.value
        if not good:
            findings.append(problem_finding(gate.problem, joint))
    return tuple(findings)


def too_small(joint: Joint, check: str) -> NotMeasured | None:
    """What a check says whose least D in photo pixels this joint does not reach; else None."""
    least = LEAST_D_PX.get(check, 0.0)
    if joint.d_px * joint.patch.step >= least:
        return None
    return NotMeasured(check, f"the wire must be {least:.0f} pixels wide in the photo for it")


def unsure(joint: Joint) -> Finding | None:
    """A doubt when the network is not sure of the joint or of its regions; else None."""
    regions = float(joint.patch.sure[joint.own].mean()) if joint.own.any() else 0.0
    if joint.sure < LEAST_SURE_JOINT or regions < LEAST_SURE_REGIONS:
        return problem_finding("unsure", joint.number)
    return None


def unsoldered(joint: Joint) -> Finding | None:
    """A doubt when no solder is seen between wire and terminal; else None."""
    return None if solder_joins(joint) else problem_finding("unsoldered", joint.number)


def photo_findings(joints: Iterable[Joint], job: Job) -> tuple[Finding, ...]:
    """Findings on the photo as a whole: no joint, another kind, fewer joints than poles."""
    joints = list(joints)
    if not joints:
        return (problem_finding("no-joint"),)
    found = []
    if any(joint.kind != job.kind for joint in joints):
        found.append(problem_finding("kind"))
    if job.poles is not None and len(joints) < job.poles:
        found.append(problem_finding("poles"))
    return tuple(found)
