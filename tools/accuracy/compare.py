"""Which measurement stands against which true value, and when the two may be compared."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from .records import Case, Record

LITTLE_MM, LITTLE_D, LITTLE_SHARE = 0.05, 0.005, 0.5  # truths under this are "none"; share in %


@dataclass(frozen=True, slots=True)
class Pair:
    """One measured quantity beside its truth, both in `unit`; uncertainties are standard ones."""

    case: Case
    check: str
    name: str  # without the side
    value: float
    u: float
    raw: float
    truth: float
    unit: str

    @property
    def key(self) -> str:
        """As calibrations are named."""
        return f"{self.check}.{self.name}"

    @property
    def error(self) -> float:
        """Measured less true."""
        return self.value - self.truth


def _scaled(name: str, factor: float = 1.0) -> Callable[[Record], float | None]:
    def truth(joint: Record) -> float | None:
        value = joint["values"].get(name)
        return None if value is None else factor * float(value)

    return truth


def _gap(joint: Record) -> float:
    return max(0.0, float(joint["values"]["gap_D"]))


def _excess(joint: Record) -> float | None:
    values = joint["values"]
    return None if values.get("excess_hidden") else float(values["excess_D"])


def longest_strand_mm(joint: Record) -> float:
    """Visible length of the longest stray strand."""
    return max((float(s["visible_mm"]) for s in joint["strands"]), default=0.0)


def _if_seating(joint: Record) -> float | None:
    values = joint["values"]
    return 100.0 * values["seating"] if values.get("seating_visible") else None


@dataclass(frozen=True, slots=True)
class Rule:
    """How one measurement is compared with the truth of the joint.

    Of a thing that may be absent, only pairs with at least `least` of it in truth and something
    measured say anything about the error.
    """

    truth: Callable[[Record], float | None]
    least: float | None = None


RULES: dict[str, Rule] = {
    "insulation-gap.gap": Rule(_gap),
    "insulation-gap.gap_mm": Rule(lambda joint: _gap(joint) * joint["d_mm"]),
    "solder-fill.fill": Rule(_scaled("fill", 100.0)),
    "wetting.wetted": Rule(_scaled("wetted", 100.0)),
    "wetting.dry-stretch": Rule(_scaled("dry_stretch_conductor_diameters")),
    "excess-solder.outside": Rule(_excess),
    "excess-solder.surplus": Rule(_scaled("surplus_area_D2", 100.0), LITTLE_SHARE),
    "insulation-gap.embedded": Rule(_scaled("embed_area_D2", 100.0), LITTLE_SHARE),
    "seating.reach": Rule(_if_seating),
    "bridge.bridge": Rule(_scaled("bridge_D"), LITTLE_D),
    "spike.height": Rule(_scaled("spike_mm"), LITTLE_MM),
    "spike.height-in-D": Rule(lambda j: j["values"]["spike_mm"] / j["d_mm"], LITTLE_D),
    "stray-strand.length": Rule(longest_strand_mm, LITTLE_MM),
    "stray-strand.length-in-D": Rule(lambda j: longest_strand_mm(j) / j["d_mm"], LITTLE_D),
    "surface.rough": Rule(_scaled("rough_share", 100.0), 1.0),
    "surface.hole": Rule(_scaled("hole_D"), LITTLE_D),
    "birdcage.width": Rule(_scaled("birdcage_D")),
    "insulation-damage.char": Rule(_scaled("char_D"), LITTLE_D),
    "insulation-damage.ragged": Rule(_scaled("ragged_D")),
}
_SIDES = {"-left": -1, "-right": 1}
_FILLET = {
    "convexity": "convexity",
    "angle-conductor": "angle_conductor_deg",
    "angle-cup": "angle_cup_deg",
}


def without_side(name: str) -> str:
    """The measurement's name as calibrations know it."""
    return name.removesuffix("-left").removesuffix("-right")


def measured_items(case: Case) -> Iterator[tuple[str, Record]]:
    """(check, item) of all that was measured on a found joint."""
    for finding in (case.found or {"findings": ()})["findings"]:
        for item in finding["measured"]:
            if "value" in item:
                yield finding["check"], item


def _truth(case: Case, check: str, item: Record) -> float | None:
    if check == "fillet":
        side = next((s for ending, s in _SIDES.items() if item["name"].endswith(ending)), None)
        true = next((f for f in case.truth["values"]["fillet"] if f["side"] == side), None)
        if true is None:
            return None
        angle = float(true[_FILLET[without_side(item["name"])]])
        return angle if item["unit"] == "chord" else max(0.0, angle)
    rule = RULES.get(f"{check}.{item['name']}")
    if rule is None:
        return None
    truth = rule.truth(case.truth)
    absent = rule.least is not None and (truth is None or truth < rule.least or item["value"] <= 0)
    return None if absent else truth


def pairs(cases: Iterable[Case]) -> list[Pair]:
    """All measurements that have a truth beside them."""
    found = []
    for case in cases:
        for check, item in measured_items(case):
            truth = _truth(case, check, item)
            if truth is not None:
                name = without_side(item["name"])
                value, u, raw = float(item["value"]), float(item["u"]), float(item["raw"])
                found.append(Pair(case, check, name, value, u, raw, float(truth), item["unit"]))
    return found
