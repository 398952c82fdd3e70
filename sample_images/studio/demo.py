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
WIDTH, HEIGHT = 640, 480
LARGE = 1.3  # of those in which small things count


@dataclass(frozen=True)
class Photo:
    """One demo photo: `seed` counts from the demo's first seed, d_px is D in the picture."""

    name: str
    seed: int
    poles: Poles = ((),)
    fate: str = "usable"
    d_px: float = 65.0
    upright: bool = False  # portrait
    large: bool = False

    @property
    def request(self) -> Request:
        """What to render."""
        scale = LARGE if self.large else 1.0
        long, short = round(scale * WIDTH), round(scale * HEIGHT)
        width, height = (short, long) if self.upright else (long, short)
        return Request(
            SEEDS["demo"] + self.seed, "train", self.fate, width, height, self.d_px,
            SAMPLES, self.poles, len(self.poles), plain=True,
        )  # fmt: skip


PHOTOS = (
    Photo("12-awg-sound", 57, d_px=100, large=True),
    Photo("sound-half-open-cup", 102, d_px=85, large=True),
    Photo("sound-closed-cup", 214, d_px=59),
    Photo("sound-two-pole", 304, ((), ()), d_px=53),
    Photo("sound-three-pole", 405, ((), (), ()), d_px=47),
    Photo("sound-thin-wire", 508, d_px=50, upright=True),
    Photo("stray-strand-long", 607, (("stray",),)),
    Photo("gap-too-long", 701, (("long-gap",),), d_px=53),
    Photo("insulation-in-solder", 804, (("embed",),)),
    Photo("under-filled-cup", 904, (("underfill",),)),
    Photo("wire-not-seated", 1037, (("unseated",),)),
    Photo("not-soldered", 2901, (("unsoldered",),), d_px=70),
    Photo("loose-bead", 3047, (("loose-bead",),), d_px=70),
    Photo("not-wetted", 1125, (("dry",),), d_px=85, large=True),
    Photo("beaded-solder", 1203, (("beaded",),)),
    Photo("excess-solder", 1301, (("excess",),)),
    Photo("bridge-between-poles", 1400, (("bridge",), ()), d_px=50),
    Photo("solder-near-next-pole", 1504, (("near-bridge",), ()), d_px=50),
    Photo("spike", 1607, (("spike",),)),
    Photo("cold-lumpy-and-wrinkled", 1720, (("lumpy",), ("wrinkled",)), d_px=62, large=True),
    Photo("overheated-grainy-charred", 1811, (("grainy", "char"),), d_px=80, large=True),
    Photo("pin-holes", 1908, (("holes",),), d_px=75),
    Photo("birdcage", 2004, (("birdcage",),), d_px=56, upright=True),
    Photo("melted-insulation-and-housing", 2105, (("melted", "melted-housing"), ()), d_px=50),
    Photo(
        "two-poles-strand-and-underfill", 2232, (("stray",), ("underfill",)), d_px=65, large=True
    ),
    Photo("unusable-out-of-focus", 2301, fate="focus"),
    Photo("unusable-too-dark", 2405, fate="exposure"),
    Photo("unusable-no-joint", 2503, fate="no-joint"),
    Photo("unusable-sleeved", 2604, fate="sleeved", d_px=59),
    Photo("unusable-two-wires-one-cup", 2701, fate="two-wires", d_px=53),
    Photo("unusable-cropped", 2800, fate="cropped"),
)


def render_demo(out: Path, only: Sequence[str] | None = None) -> None:
    """Render the demo photos with truth and region maps into `out`, or only those named.

    A photo whose JSON is there already is left as it is.
    """
    names = {p.name for p in PHOTOS}
    unknown = sorted(set(only or ()) - names)
    if unknown:
        sys.stderr.write(f"There is no demo photo {unknown[0]}; there are {sorted(names)}.\n")
        return
    for photo in PHOTOS:
        wanted = only is None or photo.name in only
        if wanted and not (out / f"{photo.name}.json").exists():
            save(compose(photo.request), out, photo.name, marks=False)
