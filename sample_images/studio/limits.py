"""Whether a joint holds at the default limits, clearly or nearly, from its true values.

The figures are those of the criteria (NASA-STD-8739.3, IPC-A-610 and the house limits beside
them), written a second time on purpose: the truth must not depend on the code that it judges.
Clearly bad is 1.3 times a maximum or 0.7 of a minimum, and for "none allowed" twice the smallest
size that counts; clearly sound is the other side by the same factors. A share of at least 75 %
cannot be passed by that factor: it is clearly sound from 90 % on, where no more than 0.4 of the
quarter that may be missing is missing.
"""

from __future__ import annotations

from typing import Any, Literal

Clear = Literal["sound", "near", "bad", "not-seen"]
SPIKE_MM = STRAND_MM = 0.5  # the smallest that count
HIDDEN_DRY = 0.3  # conductor diameters that did not wet and do not show it; ours, no source
LEAST_DRY = 0.5  # conductor diameters: a share of less line tells nothing; ours, no source
SLIVER_D = 0.3  # side of a square as large as a rough area in which waves show; ours, no source
SEEN_D2 = 0.01  # an area of surplus that shows, D squared
ORDER = {"bad": 3, "near": 2, "sound": 1, "not-seen": 0}


def at_most(value: float | None, limit: float) -> Clear:
    """A maximum."""
    if value is None:
        return "not-seen"
    return "bad" if value >= 1.3 * limit else "sound" if value <= limit / 1.3 else "near"


def at_least(value: float | None, limit: float) -> Clear:
    """A minimum share."""
    if value is None:
        return "not-seen"
    enough = min(limit / 0.7, 1 - 0.4 * (1 - limit))
    return "bad" if value <= 0.7 * limit else "sound" if value >= enough else "near"


def none_of(value: float | None, counts: float) -> Clear:
    """None allowed: `counts` is the smallest size that counts."""
    if value is None:
        return "not-seen"
    return "bad" if value >= 2 * counts else "sound" if value <= 0.05 * counts else "near"


def worst(*states: Clear) -> Clear:
    """The worst of several."""
    return max(states, key=lambda s: ORDER[s])


def _unless_hidden(state: Clear, values: dict[str, Any]) -> Clear:
    """A dry stretch that does not show may be there although what shows is sound."""
    return "not-seen" if state == "sound" and values.get("dry_hidden", 0.0) > HIDDEN_DRY else state


def _wetted_share(values: dict[str, Any]) -> Clear:
    """Clearly bad only with a dry stretch that is long enough to be seen for what it is."""
    state = at_least(values["wetted"], 0.75)
    short = state == "bad" and values["dry_stretch_conductor_diameters"] < LEAST_DRY
    return "near" if short else state


def _wetted(values: dict[str, Any]) -> Clear:
    return _unless_hidden(_wetted_share(values), values)


def _dry(values: dict[str, Any]) -> Clear:
    return _unless_hidden(at_most(values["dry_stretch_conductor_diameters"], 1.0), values)


def _wetting(values: dict[str, Any]) -> Clear:
    dry = at_most(values["dry_stretch_conductor_diameters"], 1.0)
    return _unless_hidden(worst(_wetted_share(values), dry), values)


def _fillet(values: dict[str, Any]) -> Clear:
    sides = values["fillet"]
    if not sides:
        return "not-seen"
    angle = max(max(f["angle_conductor_deg"], f["angle_cup_deg"], 0.0) for f in sides)
    convex = max(f["convexity"] for f in sides)
    shape: Clear = "bad" if convex > 0.12 else "near" if convex > 0.03 else "sound"
    return worst(at_most(angle, 90.0), shape)


def _excess(values: dict[str, Any]) -> Clear:
    outside = at_most(values["excess_D"], 0.1) if values["excess_D"] > 0.03 else "sound"
    if not values["hidden_contour"]:
        # solder on the insulation or on its way to the next pole is too much, whatever it is called
        state = worst(outside, "near" if values["surplus_area_D2"] > SEEN_D2 else "sound")
        return "not-seen" if state == "sound" and values.get("excess_hidden", False) else state
    return worst(outside, "bad" if values["surplus_share"] > 0.2 else "near")


def _rough(values: dict[str, Any]) -> Clear:
    # an area and not a share of the solder: flux and tinned strands are solder too
    shows = values["rough_D"] > SLIVER_D
    rough: Clear = "bad" if shows and values["rough_size"] > 0.5 else "near"
    return "sound" if values["rough_share"] < 0.02 else rough


def _hole(values: dict[str, Any]) -> Clear:
    return "not-seen" if values["hole_hidden"] else none_of(values["hole_D"], 0.04)


def _surface(values: dict[str, Any]) -> Clear:
    rough, hole = _rough(values), _hole(values)
    # not-seen counts as better than sound among several, but a hidden hole leaves the check open
    return "not-seen" if rough == "sound" and hole == "not-seen" else worst(rough, hole)


def _char(values: dict[str, Any]) -> Clear:
    if values["char_kind"] and values["char_D"] == 0.0:
        return "not-seen"  # burnt where this view does not show it
    char = none_of(values["char_D"], 0.125)
    # discolouration alone is allowed; how brown is too brown, nobody says
    return "near" if char == "bad" and values["char_kind"] == "browned" else char


def _ragged(values: dict[str, Any]) -> Clear:
    return at_most(values["ragged_D"], 0.25)


def _damage(values: dict[str, Any]) -> Clear:
    char, ragged = _char(values), _ragged(values)
    return "not-seen" if ragged == "sound" and char == "not-seen" else worst(char, ragged)


def _stray(truth: dict[str, Any]) -> Clear:
    shown = max((s["visible_mm"] for s in truth["strands"]), default=0.0)
    return "not-seen" if truth["strands"] and shown < 0.05 else none_of(shown, STRAND_MM)


def _bridge(values: dict[str, Any]) -> Clear:
    return none_of(values["bridge_D"], 0.1)


def _spike(values: dict[str, Any]) -> Clear:
    none_shows = values["spike_hidden"] and values["spike_mm"] == 0
    return "not-seen" if none_shows else none_of(values["spike_mm"], SPIKE_MM)


def _gap(truth: dict[str, Any]) -> Clear:
    gap = max(truth["values"]["gap_D"], 0.0)
    return worst(at_most(gap, 2.0), at_most(gap * truth["d_mm"], 6.35))


def _seating(values: dict[str, Any]) -> Clear:
    return at_least(values["seating"], 0.75) if values["seating_visible"] else "not-seen"


def faults(truth: dict[str, Any]) -> dict[str, Clear]:
    """Per fault, the parts of a check apart: sound, near, bad or not-seen."""
    v = truth["values"]
    return {
        "gap": _gap(truth),
        "embed": none_of(v["embed_D"], 0.1),
        "fill": at_least(v["fill"], 0.75),
        "wetted": _wetted(v),
        "dry": _dry(v),
        "fillet": _fillet(v),
        "excess": _excess(v),
        "bridge": _bridge(v),
        "spike": _spike(v),
        "strand": _stray(truth),
        "birdcage": at_most(v["birdcage_D"], 1.0),
        "rough": _rough(v),
        "hole": _hole(v),
        "char": _char(v),
        "ragged": _ragged(v),
        "seating": _seating(v),
    }


def clearness(truth: dict[str, Any]) -> dict[str, Clear]:
    """Per check: sound, near, bad or not-seen."""
    v = truth["values"]
    return {
        "insulation-gap": worst(_gap(truth), none_of(v["embed_D"], 0.1)),
        "solder-fill": at_least(v["fill"], 0.75),
        "wetting": _wetting(v),
        "fillet": _fillet(v),
        "excess-solder": _excess(v),
        "bridge": _bridge(v),
        "spike": _spike(v),
        "stray-strand": _stray(truth),
        "birdcage": at_most(v["birdcage_D"], 1.0),
        "surface": _surface(v),
        "insulation-damage": _damage(v),
        "seating": _seating(v),
    }
