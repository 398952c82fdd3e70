"""The judge's words: numbers with their units, and what to do after a doubt."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from inspector.model import Finding, Limit, Measurement, Quantity
from inspector.settings import Settings

# What to do differently, by what the doubt comes from; the first that applies is said.
CLOSER = "Go closer, so that the joint fills more of the picture."
OTHER_SIDE = "Take another photo from a side that shows it."
SQUARE = "Hold the phone square above the wire and take the photo again."
LESS_GLARE = "Turn the joint or the lamp until nothing glares there, and take the photo again."
NAME_WIRE = "Name the wire's size, so that the limit in millimetres applies."
BY_HAND = "It lies at the limit: measure it by hand, or treat it as rework."
BY_TABLE = " Its size is uncertain; most made joints that looked like this were bad."
MOSTLY_BAD = " Made joints like this are mostly bad there, and the joint is to be reworked anyway."
RATHER_BAD = " That is more likely than not, and the joint is to be reworked anyway."
LENS = "Look there with a lens."
BY_EYE = "Look there with a lens: what looks like it may be a shadow or a mirror image."
LOOK_CLOSELY = "Look closely by eye, or take another photo, closer or from another side."
FEWEST_POLES, MOST_POLES = 1, 3  # of a power connector with solder cups
POLES = f"A power connector with solder cups has {FEWEST_POLES} to {MOST_POLES} poles."
_SIDE = re.compile(r"the (left|right) side\b")
_SEEN_SIDE = re.compile(r"(the (?:upper|lower|left|right) side)\b")
_NAMED_SIDE = re.compile(r"\b(convexity|angle conductor|angle cup)[ -](left|right)\b")
_PARTS = (  # parts of an uncertainty, the largest of which tells where the doubt comes from
    ({"wire size", "what is needed"}, NAME_WIRE),
    ({"tilt", "silhouette"}, SQUARE),
    ({"mark", "terminal", "light", "attached or not"}, LESS_GLARE),
)
_SIGNS = {"1": "", "%": " %", "deg": "°", "chord": " of the chord"}
_SIGNED = {"1", "deg", "chord"}
TOO_CLOSE = "too close to tell from this photo"
_NEAR = 0.5  # share of the limit within which a value lies at the limit, if it is sharp
WHOLE, ROUNDING = 100.0, 0.5  # %
_SHORT = len(" mm")  # a unit no longer than this is said again
_PLAINLY = 0.95  # probability of being there from which nobody needs to be told; ours, no source


def advice(item: Measurement, limit: Limit, settings: Settings) -> str:
    """What to do differently after a doubt: it depends on what makes the value uncertain."""
    if item.presence < settings.fine:
        return f"{LESS_GLARE} {BY_EYE}"
    q = item.quantity
    largest = max(q.parts, key=lambda name: q.parts[name], default="")
    for names, said in _PARTS:
        if largest in names:
            return said
    sharp = q.expanded_uncertainty < _NEAR * abs(limit.value)
    return BY_HAND if sharp else CLOSER


def side_in_picture(side: str, axis: tuple[float, float]) -> str:
    """Where a joint's own left or right lies in the photo: upper, lower, left or right.

    A joint's left and right are those of someone who looks along the wire toward the terminal;
    axis is that direction in the photo, x right, y down.
    """
    x, y = (axis[1], -axis[0]) if side == "left" else (-axis[1], axis[0])
    if abs(y) >= abs(x):
        return "upper" if y < 0 else "lower"
    return "left" if x < 0 else "right"


def in_picture(text: str, axis: tuple[float, float]) -> str:
    """The text with a joint's own sides as its reader sees them in the photo."""

    def named(found: re.Match[str]) -> str:
        return f"{found[1]} on the {side_in_picture(found[2], axis)} side"

    seen = _SIDE.sub(lambda found: f"the {side_in_picture(found[1], axis)} side", text)
    seen = _NAMED_SIDE.sub(named, seen)
    return _SEEN_SIDE.sub(r"\1 in the picture", seen, count=1)  # said once is enough


def measured_words(name: str, axis: tuple[float, float]) -> str:
    """A measurement's name for readers, its side as it lies in the picture."""
    found = _NAMED_SIDE.fullmatch(name.replace("-", " "))
    if found is None:
        return name.replace("_", " ")
    return f"{found[1]}, {side_in_picture(found[2], axis)} side"


def reason_words(q: Quantity, limit: Limit) -> dict[str, str]:
    """What a limit's reason may use: the value and the limit, each with its unit."""
    return {
        "value": quantity_text(q),
        "limit": f"{limit.value:g}{_unit(limit.unit)}",
    }


def shared_advice(doubts: Sequence[str], cause: str) -> tuple[str, ...]:
    """The doubts' remedies with `cause`, what is wrong with the picture, in the place of guesses.

    A lamp to be turned and a step closer are what a doubt advises when nothing else is known.
    """
    guessed = [remedy.startswith((CLOSER, LESS_GLARE)) for remedy in doubts]
    eye = f" {BY_EYE}" if any(BY_EYE in remedy for remedy in doubts) else ""
    return tuple(
        f"{cause}{eye}" if guess else remedy for guess, remedy in zip(guessed, doubts, strict=True)
    )


def told_once(found: Sequence[Finding], given: Sequence[int] | None = None) -> tuple[str, ...]:
    """Each reason's remedy, or nothing where a later one of the same joint bears it for both.

    The last one says for which numbers it holds: those given, or counted from 1.
    """
    number = given or range(1, len(found) + 1)
    said = []
    for index, finding in enumerate(found):
        alike = [
            k
            for k, other in enumerate(found)
            if (other.joint, other.remedy) == (finding.joint, finding.remedy)
        ]
        numbers = [str(number[k]) for k in alike]
        words = finding.remedy
        if words and len(alike) > 1:
            words = f"For {', '.join(numbers[:-1])} and {numbers[-1]}: {words}"
        said.append(words if index == alike[-1] else "")
    return tuple(said)


def doubt_words(item: Measurement, limit: Limit, settings: Settings) -> str:
    """Why a value decides nothing: too near the limit, perhaps not there, or overlooked."""
    share = f" {limit.of}" if limit.of else ""
    name = item.name.replace("-", " ").replace("_mm", "")
    if item.presence < settings.fine:
        size = f"{quantity_text(item.quantity)}{share}"
        return f"{limit.thing or name}, {size}, may be there; limit {limit.text}"
    # "0, too close to tell" would not be understood
    none = item.quantity.value == 0.0 and limit.sense == "max"
    why = "none is measured, but more than the limit may be overlooked" if none else TOO_CLOSE
    return f"{name} {quantity_text(item.quantity)}{share}, limit {limit.text}: {why}"


def suspicion_words(item: Measurement, limit: Limit) -> str:
    """Why a value that is fine decides nothing: the second opinion is against it."""
    if limit.thing:
        return (
            f"none that counts is measured, but something in the picture looks like {limit.thing}"
        )
    share = f" {limit.of}" if limit.of else ""
    name = item.name.replace("-", " ").replace("_mm", "")
    return (
        f"{name} {quantity_text(item.quantity)}{share} keeps the limit {limit.text}, but something"
        " in the picture looks as if it did not"
    )


def contradiction_words(item: Measurement, limit: Limit, *, backed: bool = False) -> str:
    """Why a value that fails decides nothing: the second opinion is sure of the opposite.

    backed: or it is not as sure of the fault as this value would need it to be.
    """
    share = f" {limit.of}" if limit.of else ""
    name = item.name.replace("-", " ").replace("_mm", "")
    return (
        f"{name} {quantity_text(item.quantity)}{share}, limit {limit.text}; but "
        + ("too little else" if backed else "nothing else")
        + " in the picture looks like it"
    )


def cannot_be_judged(title: str, because: str) -> str:
    """That a check shows nothing here, as a sentence; `because` is a clause."""
    return f"{title} cannot be judged: {because}."


def quantity_text(quantity: Quantity) -> str:
    """Value and expanded uncertainty (k = 2) with the unit, such as "0.60 ± 0.08 D".

    The uncertainty is given to one significant digit, two if the first is 1 or 2, and the value
    to the same place. Where the interval would leave what can be, both ends are given, such as
    "13 % (0 to 80 %)".
    """
    value, wide = quantity.value, quantity.expanded_uncertainty
    size = wide if wide > 0 else abs(value)
    power = 0 if size <= 0 else math.floor(math.log10(size))
    places = max(0, min(3, -power + (size < 3 * 10.0**power)))
    unit = _unit(quantity.unit)
    if (ends := _cut_ends(quantity)) is not None:
        places = 0 if size >= 1 and quantity.unit == "%" else places
        again = unit if len(unit) <= _SHORT else ""
        return f"{value:.{places}f}{unit} ({ends[0]:.0f} to {ends[1]:.{places}f}{again})"
    return f"{value:.{places}f} ± {wide:.{places}f}{unit}"


def measured_text(item: Measurement) -> str:
    """As `quantity_text`, and how likely it is there at all where that is not plain."""
    size = quantity_text(item.quantity)
    if item.quantity.value <= 0.0 or item.presence >= _PLAINLY:
        return size
    return f"{size}, if there at all: {100.0 * item.presence:.0f} %"


def _cut_ends(q: Quantity) -> tuple[float, float] | None:
    """The interval (k = 2) cut to what can be; None if nothing had to be cut.

    A share lies within 0 to 100 %, unless it is one of what is needed; a size is not below 0;
    curvature has a sign, an angle a turn.
    """
    low, high = q.value - q.expanded_uncertainty, q.value + q.expanded_uncertainty
    if q.unit in _SIGNED or q.value < 0.0:
        return None
    if q.unit == "%" and q.value <= WHOLE:
        inside = low >= -ROUNDING and high <= WHOLE + ROUNDING
        return None if inside else (max(0.0, low), min(WHOLE, high))
    return None if low >= 0.0 else (0.0, high)


def _unit(unit: str) -> str:
    return _SIGNS.get(unit, f" {unit}")
