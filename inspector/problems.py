"""What a photo can suffer from: one registry of names, meanings and advice.

The names are those of `Joint.problems` too. No other file words such a thing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from inspector.model import Finding, Outcome, Photo, Region

SMALL_PHOTO_PX = 640  # long side: below it the network looks at enlarged pixels
MOST_SEEN_PX = 500  # of a photo's long side are enough to see its colours
GREY_LEVELS = 6  # of 255, by which the channels of a photo without colour may differ
EDGE_SHARE = 0.005  # of the border that metal of a joint takes when the border cuts it
_AT_EDGE = (Region.CONDUCTOR, Region.SOLDER)  # other metal is too often taken for a terminal


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that a photo can suffer from. `advice` says what to do differently.

    check: the name under which it is reported. outcome: not-seen where nothing can be judged.
    """

    name: str
    check: str
    meaning: str
    advice: str
    outcome: Outcome = Outcome.NOT_SEEN


def _table(*problems: Problem) -> Mapping[str, Problem]:
    return MappingProxyType({problem.name: problem for problem in problems})


PROBLEMS = _table(
    Problem(
        "unproven",
        "unproven",
        "None of these is seen, but this version may overlook them too often to be relied on:"
        " {names}.",
        "Look for those yourself, with a lens and from every side, before you trust the joint;"
        " another photo does not settle it.",
        Outcome.DOUBT,
    ),
    Problem(
        "focus",
        "focus",
        "The joint is not sharp.",
        "Tap on the joint to focus there, hold the phone still or lean it on something.",
    ),
    Problem(
        "dark",
        "exposure",
        "The joint is too dark.",
        "Bring a lamp, or tap on the joint so that the phone sets its exposure for it.",
    ),
    Problem(
        "glare",
        "exposure",
        "The metal of the joint is blown out to white.",
        "Turn the lamp or the joint so that less of it glares, or put paper before the lamp.",
    ),
    Problem(
        "size",
        "size",
        "The joint is too small in the photo.",
        "Go closer until the joint fills a third of the picture's width, or use the zoom's 2x; do "
        "not enlarge or crop the photo afterwards.",
    ),
    Problem(
        "cropped",
        "cropped",
        "The picture's edge cuts through the joint.",
        "Step back or move the joint to the middle, so that the whole cup and a finger's width of "
        "insulated wire are in the picture.",
    ),
    Problem(
        "covered",
        "covered",
        "Something lies over the joint.",
        "Take away what lies over the joint, or turn the joint free.",
    ),
    Problem(
        "sleeved",
        "covered",
        "A sleeve or tape covers the joint.",
        "Slide the sleeve back. A joint is looked at before it is sleeved.",
    ),
    Problem(
        "no-joint",
        "no-joint",
        "No soldered joint is found in the photo.",
        "Lay the joint on a plain ground and let it fill a third of the picture's width.",
    ),
    Problem(
        "no-joint-small",
        "no-joint",
        "No soldered joint is found, and the photo has only {wide} x {high} pixels.",
        "If there is a joint in it, send the original from the phone, not a preview or a picture "
        "saved from a chat.",
    ),
    Problem(
        "no-joint-grey",
        "no-joint",
        "No soldered joint is found, and the photo has no colour.",
        "Switch off the camera's black-and-white filter, or send the original; copper, solder and "
        "insulation are told apart by colour.",
    ),
    Problem(
        "no-joint-cut",
        "no-joint",
        "No whole joint is found, and something like one runs out at the picture's edge.",
        "Step back or move the joint to the middle: the cup's mouth and the end of the insulation "
        "must both be in the picture, with a finger's width of ground around them.",
    ),
    Problem(
        "grey",
        "grey",
        "The photo has no colour.",
        "Switch off the camera's black-and-white filter and take the photo again.",
    ),
    Problem(
        "parted",
        "parted",
        "No wire is seen between the insulation and the terminal.",
        "Look whether the wire is broken or cut off. If it is whole, turn the joint so that its "
        "bare part shows, and take the photo again.",
    ),
    Problem(
        "unsoldered",
        "unsoldered",
        "No solder is seen that joins the wire to the terminal.",
        "Look whether the joint is soldered at all. If it is, turn it so that the solder at the "
        "cup's mouth shows, and take the photo again.",
        Outcome.DOUBT,
    ),
    Problem(
        "copper",
        "copper",
        "What lies where solder belongs has the colour of copper.",
        "Look whether the joint is soldered at all. If it is, take the photo again in white light, "
        "such as daylight, and nothing red or yellow beside it.",
    ),
    Problem(
        "kind",
        "kind",
        "This does not look like the kind of joint that was named.",
        "Name the right kind, or show the terminal and the end of the insulation.",
    ),
    Problem(
        "tilt",
        "tilt",
        "The wire points too far toward the camera or away from it.",
        "Hold the phone square above the wire, so that its whole length shows.",
    ),
    Problem(
        "lost",
        "unsure",
        "What looks like a joint in the whole photo is not found again close up.",
        "Go closer, one or two joints to a picture, on a plain ground.",
    ),
    Problem(
        "spot",
        "unsure",
        "This spot looks like a joint, but what it is made of cannot be made out.",
        "Look at this spot by eye. If it is a joint, take a photo of it alone, from where no wire "
        "crosses it; if it is none, take it out of the picture.",
    ),
    Problem(
        "two-wires",
        "two-wires",
        "Two wires go into one cup. This cannot be judged.",
        "Look at such a joint by hand; one wire for each cup is judged here.",
    ),
    Problem(
        "poles",
        "poles",
        "Fewer joints are found than the poles that were named.",
        "Show all poles in one picture, none behind another.",
    ),
    Problem(
        "unsure",
        "unsure",
        "The parts of the joint cannot be told apart for certain.",
        "Lay the joint on a ground of another colour, in even light, and take the photo again.",
        Outcome.DOUBT,
    ),
)


def problem_finding(name: str, joint: int | None = None) -> Finding:
    """The finding for a problem of the registry; KeyError for a name that it does not hold."""
    problem = PROBLEMS[name]
    return Finding(problem.check, problem.outcome, problem.meaning, problem.advice, joint)


def colour_levels(photo: Photo) -> float:
    """By how many levels of 255 the channels differ; all but the most colourful hundredth."""
    step = 1 + max(photo.rgb.shape) // MOST_SEEN_PX
    some = photo.rgb[::step, ::step].astype(np.int16)
    return float(np.percentile(some.max(axis=2) - some.min(axis=2), 99))


def colourless(photo: Photo) -> bool:
    """Whether the photo is black and white: hardly a pixel whose channels differ."""
    return colour_levels(photo) <= GREY_LEVELS


def no_joint_finding(photo: Photo, labels: NDArray[np.uint8] | None) -> Finding:
    """That no joint is found, with its likely cause: a small or grey photo, a joint cut off.

    labels (h, w) of Region: the whole photo's coarse region map, if there is one.
    """
    high, wide = photo.rgb.shape[:2]
    if max(high, wide) < SMALL_PHOTO_PX:
        small = problem_finding("no-joint-small")
        return replace(small, text=small.text.format(wide=wide, high=high))
    if colourless(photo):
        return problem_finding("no-joint-grey")
    if labels is not None:
        border = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
        if np.isin(border, _AT_EDGE).mean() >= EDGE_SHARE:
            return problem_finding("no-joint-cut")
    return problem_finding("no-joint")
