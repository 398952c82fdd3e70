"""Whether a joint holds at the default limits, clearly or nearly, from its true values.

The figures are those of the criteria (NASA-STD-8739.3, IPC-A-610 and the house limits beside
them), written a second time on purpose: the truth must not depend on the code that it judges.
Clearly bad is 1.3 times a maximum or 0.7 of a minimum, and for "none allowed" twice the smallest
size that counts; clearly sound is the other side by the same factors.
"""

from __future__ import annotations

from typing import Any, Literal

Clear = Literal["sound", "near", "bad", "not-seen"]
ORDER = {"bad": 3, "near": 2, "sound": 1, "not-seen": 0}


def at_most(value: float | None, limit: float) -> Clear:
    """A maximum."""
    if value is None:
        return "not-seen"
    return "bad" if value >= 1.3 * limit else "sound" if value <= limit / 1.3 else "near"


def at_least(value: float | None, limit: float) -> Clear:
    """A minimum."""
    if value is None:
        return "not-seen"
    return "bad" if value <= 0.7 * limit else "sound" if value >= limit / 0.7 or value >= 0.97 else "near"


def none_of(value: float | None, counts: float) -> Clear:
    """None allowed: `counts` is the smallest size that counts."""
    if value is None:
        return "not-seen"
    return "bad" if value >= 2 * counts else "sound" if value <= 0.05 * counts else "near"


def worst(*states: Clear) -> Clear:
    """The worst of several."""
    return max(states, key=lambda s: ORDER[s])


def clearness(truth: dict[str, Any]) -> dict[str, Clear]:
    """Per check: sound, near, bad or not-seen."""
    v = truth["values"]
    angle = max((max(f["angle_conductor_deg"], 0.0) for f in v["fillet"]), default=None)
    convex = max((f["convexity"] for f in v["fillet"]), default=None)
    fillet = worst(at_most(angle, 90.0), "not-seen" if convex is None else "bad" if convex > 0.12 else "near" if convex > 0.03 else "sound")
    wet = worst(at_least(v["wetted"], 0.75), at_most(v["dry_stretch_conductor_diameters"], 1.0))
    strand = max((s["visible_mm"] for s in truth["strands"]), default=0.0)
    hidden = bool(truth["strands"]) and strand < 0.05
    rough = "sound" if v["rough_share"] < 0.02 else "bad" if v["rough_share"] > 0.25 and v["rough_size"] > 0.5 else "near"
    return {
        "insulation-gap": worst(at_most(max(v["gap_D"], 0.0), 2.0), at_most(v["gap_D"] * truth["d_mm"], 6.35), none_of(v["embed_D"], 0.1)),
        "solder-fill": at_least(v["fill"], 0.75),
        "wetting": wet,
        "fillet": fillet,
        "excess-solder": worst(at_most(v["excess_D"], 0.1) if v["excess_D"] > 0.03 else "sound", ("bad" if v["surplus_share"] > 0.2 else "near") if v["hidden_contour"] else "sound"),
        "bridge": "bad" if v["bridge_D"] > 0.1 else "sound",
        "spike": none_of(v["spike_mm"], 0.5),
        "stray-strand": "not-seen" if hidden else none_of(strand, 0.5),
        "birdcage": at_most(v["birdcage_D"], 1.0),
        "surface": worst(rough, none_of(v["hole_D"], 0.04)),
        "insulation-damage": worst(none_of(v["char_D"], 0.125), at_most(v["ragged_D"], 0.25)),
        "seating": at_least(v["seating"], 0.75) if v["seating_visible"] else "not-seen",
    }  # fmt: skip
