"""The numbers of a sound joint turned into those of a joint with one defect."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .fields import Rng
from .joint import Defect, Joint


def spoil(rng: Rng, joint: Joint, check: str, variant: str) -> Joint:
    """The joint with that defect; a bridge needs two joints and is made by `bridged`."""
    changed, what, size, unit = DEFECTS[check](rng, joint, variant)
    return replace(changed, defect=Defect(check, variant, what, float(size), unit))


def bridged(joints: tuple[Joint, ...], first: int, pitch: float) -> tuple[Joint, ...]:
    """The joints with a bridge between the first-th and the next; one defect, told of both."""
    what = f"solder between poles {first} and {first + 1}"
    space = pitch - 2 * joints[first].cup.outer
    defect = Defect("bridge", "bridge", what, space, "D")
    return tuple(
        replace(joint, defect=defect) if i in (first, first + 1) else joint
        for i, joint in enumerate(joints)
    )


Spoilt = tuple[Joint, str, float, str]  # joint, what is wrong, size, unit


def _lowest(joint: Joint, part: float = 0.9) -> float:
    """Drop that lays the conductor that part of the way down to the hollow's floor."""
    return -(joint.cup.inner - joint.conductor_radius) * part


def _insulation_gap(rng: Rng, joint: Joint, _variant: str) -> Spoilt:
    gap = rng.uniform(2.7, 4.0)
    return replace(joint, gap=gap), "bare length too long", gap, "D"


def _embedded(rng: Rng, joint: Joint, _variant: str) -> Spoilt:
    over = rng.uniform(0.15, 0.35)
    gap = -over if joint.cup.scoop else -0.5 * over
    climb = rng.uniform(0.2, 0.35)
    what = "insulation end in the solder of the cup"
    return replace(joint, gap=gap, climb=climb), what, -gap + climb, "D"


def _solder_fill(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    joint = replace(joint, share=rng.uniform(0.18, 0.42))
    if variant == "low":
        joint = replace(joint, fillet=0.05, drop=_lowest(joint))
    return joint, "cup filled to less than half", 100 * joint.share, "%"


def _unsoldered(_rng: Rng, joint: Joint, variant: str) -> Spoilt:
    return replace(joint, tinned=variant == "tinned"), f"no solder, {variant} wire", 0.0, "%"


def _wetting(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    if variant == "bead":
        space, gap = rng.uniform(0.06, 0.1), max(joint.gap, 0.8)
        joint = replace(joint, drop=0.0, aside=0.0, space=space, gap=gap)
        return joint, "solder bead on the wire, not joined to the cup", 5.0, "%"
    side = rng.choice([-1, 1])
    spare = joint.cup.inner - joint.conductor_radius
    joint = replace(
        joint, side=int(side), tinned=True, drop=_lowest(joint, 0.5), aside=side * spare * 0.5
    )
    return joint, "one side of the cup not wetted", 48.0, "%"


def _excess_solder(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    if variant == "blob":
        return joint, "blob beyond the cup", rng.uniform(0.22, 0.5), "D"
    joint = replace(joint, gap=rng.uniform(0.35, 0.7))
    return joint, "solder run over the insulation", rng.uniform(0.3, 0.6), "D"


def _spike(rng: Rng, joint: Joint, _variant: str) -> Spoilt:
    return joint, "solder spike", rng.uniform(max(1.1, 0.28 * joint.overall_mm), 3.0), "mm"


def _stray_strand(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    number = 1 if variant == "one" else int(rng.integers(2, 6))
    mm = joint.overall_mm
    lengths = np.minimum(rng.uniform(max(1.5, 0.5 * mm), 6.0, number), 1.6 * mm)
    strays = tuple(float(length) for length in lengths)
    joint = replace(joint, gap=max(joint.gap, 0.6), strays_mm=strays)
    return joint, f"{number} strand(s) outside the bundle", max(strays), "mm"


def _birdcage(rng: Rng, joint: Joint, _variant: str) -> Spoilt:
    gap = rng.uniform(0.9, 1.4)
    joint = replace(joint, gap=gap, fillet=min(joint.fillet, 0.3), tinned=False)
    return joint, "strands bulge", rng.uniform(1.32, 1.6), "D"


def _surface(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    if variant == "lumpy":
        return joint, "lumpy grainy solder", rng.uniform(0.06, 0.09), "D"
    if variant == "crack":
        return joint, "crack in the solder", rng.uniform(0.55, 0.9), "D"
    size = rng.uniform(0.32, 0.44)
    # the conductor ends before the hole, which would else open on it
    joint = replace(joint, reach=0.45 * joint.cup.run - 0.6 * size, level=0.14)
    return joint, "hole in the solder", size, "D"


def _insulation_damage(rng: Rng, joint: Joint, variant: str) -> Spoilt:
    # all three are drawn for each: the draws that follow must stay what they were
    kinds = {
        "char": ("charred end", rng.uniform(0.5, 0.9)),
        "cut": ("cut in the insulation", rng.uniform(0.5, 0.9)),
        "melted": ("ragged melted-back end", rng.uniform(0.38, 0.65)),
    }
    return replace(joint, gap=max(joint.gap, joint.fillet + 0.3)), *kinds[variant], "D"


def _seating(rng: Rng, joint: Joint, _variant: str) -> Spoilt:
    share = rng.uniform(0.2, 0.5)
    joint = replace(joint, reach=share * joint.cup.run, drop=_lowest(joint))
    return joint, "wire ends short in the cup", 100 * share, "%"


DEFECTS: dict[str, Callable[[Rng, Joint, str], Spoilt]] = {
    "insulation-gap": _insulation_gap,
    "embedded": _embedded,
    "solder-fill": _solder_fill,
    "unsoldered": _unsoldered,
    "wetting": _wetting,
    "excess-solder": _excess_solder,
    "spike": _spike,
    "stray-strand": _stray_strand,
    "birdcage": _birdcage,
    "surface": _surface,
    "insulation-damage": _insulation_damage,
    "seating": _seating,
}
