"""The committed demo photos: invented joints of one robot's wiring, each named for what it shows.

They carry their truth but serve no training, tuning or test. Seeds were chosen by eye, so that
the picture shows what its name says; a joint called sound is sound by every check.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from .request import SEEDS, Request
from .scene import compose
from .worker import save

Poles = tuple[tuple[str, ...], ...]
SAMPLES = 96
WIDTH, HEIGHT = 832, 624


@dataclass(frozen=True)
class Photo:
    """One demo photo: `seed` counts from the demo's first seed, d_px is D in the picture."""

    name: str
    seed: int
    poles: Poles = ((),)
    fate: str = "usable"
    d_px: float = 85.0
    upright: bool = False  # portrait

    @property
    def request(self) -> Request:
        """What to render."""
        size = (HEIGHT, WIDTH) if self.upright else (WIDTH, HEIGHT)
        return Request(
            SEEDS["demo"] + self.seed, "train", self.fate, *size, self.d_px, SAMPLES,
            self.poles, len(self.poles), plain=True,
        )  # fmt: skip


PHOTOS = (
    Photo("12-awg-sound", 57, d_px=100),
    Photo("sound-half-open-cup", 102),
    Photo("sound-closed-cup", 214, d_px=77),
    Photo("sound-two-pole", 304, ((), ()), d_px=69),
    Photo("sound-three-pole", 405, ((), (), ()), d_px=61),
    Photo("sound-thin-wire", 508, d_px=65, upright=True),
    Photo("stray-strand-long", 607, (("stray",),)),
    Photo("gap-too-long", 701, (("long-gap",),), d_px=69),
    Photo("insulation-in-solder", 804, (("embed",),)),
    Photo("under-filled-cup", 904, (("underfill",),)),
    Photo("wire-not-seated", 1028, (("unseated",),)),
    Photo("not-wetted", 1112, (("dry",),)),
    Photo("beaded-solder", 1203, (("beaded",),)),
    Photo("excess-solder", 1301, (("excess",),)),
    Photo("bridge-between-poles", 1400, (("bridge",), ()), d_px=65),
    Photo("solder-near-next-pole", 1504, (("near-bridge",), ()), d_px=65),
    Photo("spike", 1600, (("spike",),)),
    Photo("cold-lumpy-and-wrinkled", 1700, (("lumpy",), ("wrinkled",)), d_px=69),
    Photo("overheated-grainy-charred", 1801, (("grainy", "char"),)),
    Photo("pin-holes", 1902, (("holes",),), d_px=98),
    Photo("birdcage", 2004, (("birdcage",),), d_px=73, upright=True),
    Photo("melted-insulation-and-housing", 2105, (("melted", "melted-housing"), ()), d_px=65),
    Photo("two-poles-strand-and-underfill", 2200, (("stray",), ("underfill",)), d_px=65),
    Photo("unusable-out-of-focus", 2300, fate="focus"),
    Photo("unusable-too-dark", 2400, fate="exposure"),
    Photo("unusable-no-joint", 2500, fate="no-joint"),
    Photo("unusable-sleeved", 2600, fate="sleeved", d_px=77),
    Photo("unusable-two-wires-one-cup", 2700, fate="two-wires", d_px=69),
    Photo("unusable-cropped", 2800, fate="cropped"),
)


def render_demo(out: Path, only: Sequence[str] | None = None) -> None:
    """Render the demo photos with truth and region maps into `out`, or only those named."""
    names = {p.name for p in PHOTOS}
    unknown = sorted(set(only or ()) - names)
    if unknown:
        sys.stderr.write(f"There is no demo photo {unknown[0]}; there are {sorted(names)}.\n")
        return
    for photo in PHOTOS:
        if only is None or photo.name in only:
            save(compose(photo.request), out, photo.name, marks=False)
