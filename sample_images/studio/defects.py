"""Defects: each turns a sound joint into a bad one, from barely to grossly (q from 0 to 1)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from . import materials
from .spec import Dry, JointSpec, Planted, Spot, Stray

Rng = np.random.Generator
HALF = 0.5  # of the cups; ours, no source


Defect = Callable[[Rng, JointSpec, float], JointSpec]


def _plant(spec: JointSpec, check: str, name: str, size: float) -> JointSpec:
    return replace(spec, planted=(*spec.planted, Planted(check, name, size)))


def _own(s: JointSpec, purpose: int) -> Rng:
    """Chance by the joint's own diameter, so that all else stays as it was without."""
    return np.random.default_rng([int(s.d_mm * 1e9), purpose])


def _stray(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    found = list(s.strays)
    for _ in range(1 + int(rng.poisson(0.6 + q))):
        length = float(np.clip(0.3 + 5.7 * (0.25 * q + 0.75 * q * rng.random()), 0.3, 6.0))
        side = (
            0.0,
            float(rng.choice([-1, 1])) * rng.uniform(0, 1.5),
            float(rng.uniform(-0.3, 1.0)),
        )
        found.append(
            Stray(
                float(rng.uniform(0.02, 1.0)),
                float(rng.uniform(-170, 170)),
                length,
                float(rng.choice([0.1, 0.4, 1.2])) / max(0.6, length / 2),
                bool(rng.random() < 0.3),
                side,
            )
        )
    return _plant(
        replace(s, strays=tuple(found)), "stray-strand", "stray", max(f.length_mm for f in found)
    )


def _long_gap(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    gap = s.d_mm * (1.8 + 2.6 * q)
    tinned = float(rng.choice([1.3, rng.uniform(0.05, 0.6)]))
    return _plant(replace(s, gap_mm=gap, tinned=tinned), "insulation-gap", "long gap", gap / s.d_mm)


def _embed(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    s = replace(s, gap_mm=s.d_mm * float(rng.uniform(0.02, 0.25)), embed_deg=60 + 280 * q)
    return _plant(s, "insulation-gap", "insulation in the solder", s.embed_deg)


def _underfill(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    cover = bool(rng.random() < 0.3)
    if s.cup.cut == "closed":
        s = replace(s, recess_mm=s.cup.inner * (0.3 + 1.2 * q), cover=True)
    elif rng.random() < 0.5:
        s = replace(s, level=float(np.clip(0.85 - 0.8 * q, 0.03, 1)), cover=cover, climb=0.1)
        s = _bridged_over(s)
    elif rng.random() < 0.5:
        s = replace(s, fill_to=float(0.8 - 0.65 * q), cover=cover)
    else:
        s = replace(s, fill_from=float(0.1 + 0.6 * q), cover=cover)
    return _plant(s, "solder-fill", "under-filled", q)


def _bridged_over(s: JointSpec) -> JointSpec:
    """Of every second cup that lacks solder: a wire tinned like a rope that lies high over it."""
    own = _own(s, 10)
    if own.random() < HALF:
        return s
    room = s.cup.inner - s.core_mm
    return replace(
        s, cover=False, tinned=float(own.choice([1.0, 1.3])), climb=float(own.uniform(0.0, 0.1)),
        offset=(s.offset[0], float(own.uniform(-0.2, 0.6)) * room),
        relief=float(own.uniform(0.4, 0.9)), lay_mm=float(own.uniform(3, 9) * s.core_mm),
        level=float(s.level * own.uniform(0.3, 1.0)),
    )  # fmt: skip


def _unsoldered(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    """The pole that was forgotten: the wire lies in its cup, bare or tinned, and that is all."""
    tinned = 0.0 if rng.random() < 0.6 else float(rng.choice([1.0, 1.3]))
    s = replace(
        s, supply=False, cover=False, tinned=tinned, seat=float(np.clip(1.0 - 0.5 * q, 0.3, 1)),
        flux=0.0, dome_mm=0.0, spikes=(), holes=(), blobs=(), dry=(),
    )  # fmt: skip
    return _plant(s, "solder-fill", "not soldered", 1.0)


def _unseated(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    seat = float(0.8 - 0.65 * q)
    s = replace(s, seat=seat, cover=bool(rng.random() < 0.4))
    own = _own(s, 11)
    if own.random() < HALF:  # the solder stops with the wire, and the cup beyond is empty
        fill_to = float(min(seat + own.uniform(-0.05, 0.15), 1.0))
        s = replace(s, fill_to=fill_to, level=float(s.level * own.uniform(0.6, 1.0)))
    return _plant(s, "seating", "wire not seated", seat)


def _dry(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    width = 40 + 260 * q
    first = float(rng.uniform(-90, 90))
    at = str(rng.choice(["conductor", "cup", "both"], p=[0.5, 0.3, 0.2]))
    places = ["conductor", "cup"] if at == "both" else [at]
    dry = tuple(Dry(p, first + float(rng.normal(0, 20)), width) for p in places)
    tinned = float(rng.choice([0.0, 0.15, s.tinned], p=[0.55, 0.35, 0.1]))
    s = replace(
        s,
        dry=s.dry + dry,
        tinned=tinned,
        cover=False,
        climb=0.15,
        pressure=s.pressure + float(rng.uniform(0, 0.5)),
    )
    return _plant(s, "wetting", "not wetted", width)


def _beaded(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    s = replace(
        s,
        theta_deg=float(60 + 70 * q),
        pressure=float(rng.uniform(0.3, 0.9)),
        bulge=True,
        cover=False,
        tinned=float(rng.uniform(0, 0.2)),
        climb=0.1,
        dome_mm=0.0,
        dry=(*s.dry, Dry("conductor", 0.0, 120 + 240 * q)),
    )
    return _plant(s, "fillet", "beaded", s.theta_deg)


def _loose_bead(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    """Solder that took to the wire alone: a gap all round it, wider the worse."""
    s = replace(
        s, bead=float(0.85 - 0.5 * q), cover=False, dome_mm=0.0, dry=(), blobs=(),
        tinned=float(rng.choice([0.2, rng.uniform(0.2, 1.0), 1.3])),
    )  # fmt: skip
    return _plant(s, "wetting", "loose bead", s.bead)


def _excess(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    over = s.offset[1] + s.core_mm
    blobs = list(s.blobs)
    blobs.extend(
        Spot(
            float(rng.uniform(0, 0.9)),
            float(rng.uniform(-150, 150)),
            (0.12 + 0.28 * q * rng.random()) * s.d_mm,
            "outer",
        )
        for _ in range(int(rng.poisson(0.7 + q)))
    )
    s = replace(
        s,
        dome_mm=max(0.1, over + (0.06 + 0.30 * q) * s.d_mm),
        bulge=True,
        pressure=float(rng.uniform(0.45, 1.0)),
        attach=1.0,
        theta_deg=float(rng.uniform(25, 75)),
        tinned=1.3,
        blobs=tuple(blobs),
    )
    return _plant(s, "excess-solder", "excess", q)


def _spike(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    n = 1 + int(rng.random() < 0.2)
    made = tuple(
        Spot(0.5, 0.0, float(0.3 + 2.9 * q * rng.uniform(0.7, 1)), "", tuple(rng.normal(0, 0.7, 3)))
        for _ in range(n)
    )  # type: ignore[arg-type]
    return _plant(
        replace(s, spikes=s.spikes + made), "spike", "spike", max(m.size_mm for m in made)
    )


def _cold(kind: str) -> Defect:
    def apply(rng: Rng, s: JointSpec, q: float) -> JointSpec:
        rough = 0.3 + 0.9 * q
        dull = float(rng.uniform(0.25, 1.0))
        more = replace(s, rough=rough, rough_kind=kind, solder=materials.solder(rng, dull=dull))
        if kind == "lumpy":
            more = replace(
                more,
                theta_deg=float(rng.uniform(35, 100)),
                pressure=float(rng.uniform(0, 0.7)),
                bulge=bool(rng.random() < 0.5),
                cover=False,
                tinned=float(rng.uniform(0, 0.6)),
            )
        if kind == "grainy":
            more = replace(more, flux=1.0, char_d=s.char_d or float(rng.choice([0.0, 0.3 * q])))
        return _plant(more, "surface", kind, rough)

    return apply


def _holes(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    made = tuple(
        Spot(
            0.5,
            0.0,
            float((0.05 + 0.14 * q) * s.d_mm * rng.uniform(0.5, 1)),
            str(rng.choice(["pit", "pit", "crack"])),
        )
        for _ in range(1 + int(rng.poisson(0.6)))
    )
    return _plant(
        replace(s, holes=s.holes + made), "surface", "holes", max(m.size_mm for m in made)
    )


def _birdcage(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    gap = max(s.gap_mm, s.d_mm * float(rng.uniform(0.8, 1.5)))
    return _plant(
        replace(s, gap_mm=gap, tinned=0.0, birdcage=0.85 + 1.0 * q, embed_deg=0.0),
        "birdcage",
        "birdcage",
        0.85 + 1.0 * q,
    )


def _char(rng: Rng, s: JointSpec, q: float) -> JointSpec:
    extent = 0.12 + 0.9 * q
    return _plant(
        replace(
            s,
            char_d=extent,
            ragged_mm=s.ragged_mm + 0.05 * q * s.d_mm,
            char_kind=str(rng.choice(["burnt", "burnt", "browned"])),
        ),
        "insulation-damage",
        "char",
        extent,
    )


def _melted(_rng: Rng, s: JointSpec, q: float) -> JointSpec:
    return _plant(
        replace(s, ragged_mm=(0.1 + 0.3 * q) * s.d_mm, flare=0.1 + 0.25 * q),
        "insulation-damage",
        "melted back",
        0.1 + 0.3 * q,
    )


DEFECTS: dict[str, Defect] = {
    "stray": _stray,
    "long-gap": _long_gap,
    "embed": _embed,
    "underfill": _underfill,
    "unseated": _unseated,
    "unsoldered": _unsoldered,
    "dry": _dry,
    "beaded": _beaded,
    "loose-bead": _loose_bead,
    "excess": _excess,
    "spike": _spike,
    "lumpy": _cold("lumpy"),
    "grainy": _cold("grainy"),
    "wrinkled": _cold("wrinkled"),
    "holes": _holes,
    "birdcage": _birdcage,
    "char": _char,
    "melted": _melted,
}


def with_defects(
    rng: Rng, spec: JointSpec, names: tuple[str, ...], severity: float | None = None
) -> JointSpec:
    """The joint with these defects, each at a severity of its own in 0..1 unless one is given."""
    for name in names:
        q = severity if severity is not None else float(np.clip(rng.beta(1.4, 1.1), 0.02, 1))
        spec = DEFECTS[name](rng, spec, q)
    return spec
