"""What may be asked of the studio: one scene by its seed, its look and what becomes of it."""

from __future__ import annotations

from dataclasses import dataclass

# Seeds are kept apart by range, so that no scene serves two purposes.
SEEDS = {
    "train": 0,
    "tuning": 1_000_000,
    "calibration": 2_000_000,
    "test": 3_000_000,
    "demo": 4_000_000,
}


UNUSABLE = (
    "focus",
    "exposure",
    "size",
    "cropped",
    "covered",
    "no-joint",
    "sleeved",
    "two-wires",
    "tilt",
)


FATES = ("usable", *UNUSABLE)


MOST_TILT_DEG = 50.0  # views are 0 to 50 degrees off square; beyond, unusable by definition (ours)
MINIMUM_D_PX = 24.0  # under this a photo is unusable by definition, whatever it shows


@dataclass(frozen=True)
class Request:
    """What to render. look: train or test; fate: usable or one of UNUSABLE; defects None: drawn."""

    seed: int
    look: str
    fate: str = "usable"
    width: int = 768
    height: int = 576
    d_px: float = 90.0
    samples: int = 24
    defects: tuple[tuple[str, ...], ...] | None = None
    poles: int | None = None
    share_bad: float = 0.55  # of the poles, where defects are drawn
    share_stray: float = 0.0  # of the poles that get stray strands besides
    share_apart: float = 0.0  # of the poles that nobody soldered; as many whose solder is a bead
    share_tinned: float = 0.0  # of the connectors whose terminals the joints' own solder tinned
    several: bool = False  # two or three defects to a bad pole rather than one
    plain: bool = False  # few props and one connector, for demo pictures and lessons
