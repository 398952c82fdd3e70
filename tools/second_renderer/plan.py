"""What the photo of a number shows, and nothing else decides it.

Odd numbers are sound, even ones bad with one defect, every twelfth one unusable. The defects come
in the order of VARIANTS, a check's variants in turn. The set proper has 98 photos: the odd numbers
to 89 (45 sound), the even ones to 106 without the twelfths (45 bad) and 12, 24 ... 96 (8 unusable).
Higher numbers give new photos of the same kinds.
"""

from __future__ import annotations

from dataclasses import dataclass

BASE_SEED = 41000
UNUSABLE_EVERY = 12
VARIANTS = {
    "insulation-gap": ("gap",),
    "embedded": ("embedded",),
    "solder-fill": ("front", "back", "low"),
    "unsoldered": ("bare", "tinned"),
    "wetting": ("bead", "one-side"),
    "excess-solder": ("blob", "over"),
    "bridge": ("bridge",),
    "spike": ("spike",),
    "stray-strand": ("one", "several"),
    "birdcage": ("birdcage",),
    "surface": ("lumpy", "hole", "crack"),
    "insulation-damage": ("char", "cut", "melted"),
    "seating": ("short",),
}
ROUNDS = 12  # after which every variant of every check has had as many turns as its neighbours
# "none": no joint at all; "sleeve": joints under a shrunk sleeve; "half-out": beyond the edge
UNUSABLE = ("defocused", "dark", "half-out", "sleeve", "none", "defocused", "sleeve", "none")


@dataclass(frozen=True, slots=True)
class Plan:
    """What a photo shows.

    kind: "sound", "bad" or "unusable". check, variant: the defect of a bad photo, else "".
    hindrance: what makes an unusable photo so, else "".
    """

    number: int
    kind: str
    seed: int
    check: str = ""
    variant: str = ""
    hindrance: str = ""


def defects() -> tuple[tuple[str, str], ...]:
    """All pairs of check and variant in the order in which the bad photos take them."""
    return tuple(
        (check, variants[turn % len(variants)])
        for turn in range(ROUNDS)
        for check, variants in VARIANTS.items()
    )


def plan(number: int) -> Plan:
    """The plan of photo `number`, from 1."""
    seed = BASE_SEED + number
    if number % UNUSABLE_EVERY == 0:
        turn = number // UNUSABLE_EVERY - 1
        return Plan(number, "unusable", seed, hindrance=UNUSABLE[turn % len(UNUSABLE)])
    if number % 2:
        return Plan(number, "sound", seed)
    pairs = defects()
    order = number // 2 - number // UNUSABLE_EVERY - 1
    return Plan(number, "bad", seed, *pairs[order % len(pairs)])
