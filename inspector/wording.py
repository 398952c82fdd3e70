"""The judge's words: numbers with their units, and what to do after a doubt."""

from __future__ import annotations

from inspector.model import Limit, Measurement, Quantity
from inspector.settings import Settings

# What to do differently, by what the doubt comes from; the first that applies is said.
CLOSER = "Go closer, so that the joint fills more of the picture."
OTHER_SIDE = "Take another photo from a side that shows it."
SQUARE = "Hold the phone square above the wire and take the photo again."
LESS_GLARE = "Turn the joint or the lamp until nothing glares there, and take the photo again."
NAME_WIRE = "Name the wire's size, so that the limit in millimetres applies."
BY_HAND = "It lies at the limit: measure it by hand, or treat it as rework."
BY_EYE = "Look there with a lens: what looks like it may be a shadow or a mirror image."
_PARTS = (  # parts of an uncertainty, the largest of which tells where the doubt comes from
    ({"wire size", "what is needed"}, NAME_WIRE),
    ({"tilt", "silhouette"}, SQUARE),
    ({"mark", "terminal", "light", "attached or not"}, LESS_GLARE),
)
_NEAR = 0.5  # share of the limit within which a value lies at the limit, if it is sharp
_PLAIN_FROM = 99.5  # from here on no decimals, and never an exponent


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


def reason_words(q: Quantity, limit: Limit) -> dict[str, str]:
    """What a limit's reason may use: the value and the limit, each with its unit."""
    return {
        "value": quantity_words(q),
        "limit": f"{limit.value:g}{_unit(limit.unit)}",
    }


def doubt_words(item: Measurement, limit: Limit, settings: Settings) -> str:
    """Why a value decides nothing: too near the limit, or perhaps not there at all."""
    share = f" {limit.of}" if limit.of else ""
    name = item.name.replace("-", " ").replace("_mm", "")
    if item.presence < settings.fine:
        size = f"{number(item.quantity.value)}{_unit(item.quantity.unit)}{share}"
        most = f"{limit.value:g}{_unit(limit.unit)}"
        return f"{name} of {size} may be there, over {most}, but not for certain"
    return (
        f"{name} {quantity_words(item.quantity)}{share}, limit {limit.text}:"
        " too close to tell from this photo"
    )


def quantity_words(q: Quantity) -> str:
    """Value and expanded uncertainty (k = 2) with the unit, such as "0.6 +/- 0.08 D"."""
    return f"{number(q.value)} +/- {number(q.expanded_uncertainty)}{_unit(q.unit)}"


def number(value: float) -> str:
    """Two significant digits, whole from a hundred on."""
    return f"{value:.0f}" if abs(value) >= _PLAIN_FROM else f"{value:.2g}"


def _unit(unit: str) -> str:
    return {"1": "", "deg": " degrees", "chord": " of the chord"}.get(unit, f" {unit}")
