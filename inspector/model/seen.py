"""What the photo, the network and the user say: regions, marks, patches, joints, scale, job."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Region(IntEnum):
    """What a pixel is; the numbers are those of the saved region map."""

    BACKGROUND = 0
    INSULATION = 1
    CONDUCTOR = 2
    SOLDER = 3
    TERMINAL = 4
    HOUSING = 5
    STRAND = 6
    SLEEVE = 7


class Mark(IntEnum):
    """What else the network says of a pixel, each a probability of its own.

    The first three are peaks at a point; the others are areas.
    """

    END = 0  # centre of the insulation's end
    LIP = 1  # the axis where the terminal begins: the cup's lip
    TOE = 2  # the conductor's tip, where it shows inside the cup
    MOUTH = 3  # the cup's opening, whatever fills it
    SHORT = 4  # opening not filled: bare wall, void, or solder far below the rim
    DRY = 5  # stretch of the contact line that solder did not wet
    ROUGH = 6  # lumpy, wrinkled, grainy or sharply demarcated solder
    HOLE = 7  # pin hole, blow hole, crack
    CHAR = 8  # burnt, melted or cut insulation; melted housing
    SPIKE = 9  # icicle, tail, peak
    SURPLUS = 10  # solder outside the terminal's own outline, or that hides the conductor
    EMBED = 11  # insulation in the solder, or solder over the insulation
    BRIDGE = 12  # solder or strand that joins two poles


class Fault(IntEnum):
    """What may be wrong with a joint as a whole: the network's second opinion on each."""

    GAP = 0  # too much bare conductor
    EMBED = 1  # insulation in the solder
    FILL = 2  # too little solder in the cup
    WETTED = 3  # too small a share of the contact line is wetted
    DRY = 4  # a stretch of it is dry
    FILLET = 5  # convex, or too steep
    EXCESS = 6  # too much solder, or outside
    BRIDGE = 7
    SPIKE = 8
    STRAND = 9
    BIRDCAGE = 10
    ROUGH = 11
    HOLE = 12
    CHAR = 13
    RAGGED = 14  # the insulation's end
    SEATING = 15


class Hindrance(IntEnum):
    """What keeps a joint from being judged, whatever its state; numbered on from the faults."""

    STEEP = 16  # the wire leaves the picture's plane by more than the usable 50 degrees
    PAIR = 17  # more than one wire in its cup


OPINIONS = len(Fault) + len(Hindrance)  # what the network says of a joint as a whole


@dataclass(frozen=True, slots=True)
class Photo:
    """One picture: upright, sRGB, 8 bit, (H, W, 3), read-only."""

    name: str
    rgb: NDArray[np.uint8]
    taken: str | None = None  # EXIF date and time as written, if any


@dataclass(frozen=True, slots=True)
class Faults:
    """Local log-odds of each fault and hindrance on a coarse grid, (OPINIONS, h, w) float32.

    A network from before the hindrances gives the faults alone.

    Cell (i, j) covers `cell_px` patch pixels a side; `corner` is the patch position (x, y) of the
    middle of cell (0, 0).
    """

    grid: NDArray[np.float32]
    corner: tuple[float, float]
    cell_px: float


@dataclass(frozen=True, slots=True)
class Along:
    """The opinions on one joint from a window of its own, turned along its axis and mirrored.

    grid (OPINIONS, h, w) float32 as in Faults; `places` (h, w, 2): middle of each cell in the
    joint's frame, (s, t) in D.
    """

    grid: NDArray[np.float32]
    places: Points


@dataclass(frozen=True, slots=True)
class Patch:
    """A window of the photo at working scale, as the network sees it, with its answer.

    rgb (h, w, 3) uint8; labels (h, w) uint8 of Region; sure (h, w) float32, probability of the
    label; marks (len(Mark), h, w) float32 in 0..1. Photo position = origin + position * step.
    """

    rgb: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    sure: NDArray[np.float32]
    marks: NDArray[np.float32]
    origin: tuple[float, float]
    step: float  # photo pixels for one patch pixel
    faults: Faults | None = None

    def to_photo(self, points: Points) -> Points:
        """Patch positions (N, 2) to photo positions (N, 2)."""
        return np.asarray(np.asarray(points, float) * self.step + np.asarray(self.origin))

    def from_photo(self, points: Points) -> Points:
        """Photo positions (N, 2) to patch positions (N, 2)."""
        return np.asarray((np.asarray(points, float) - np.asarray(self.origin)) / self.step)


@dataclass(frozen=True, slots=True)
class Joint:
    """One wire on one terminal, in one patch.

    `end` and `lip` are patch positions of the insulation's end and of the terminal's lip on the
    axis; `axis` is the unit vector (x, y) along s, from insulation to terminal. `own` marks the
    patch pixels that belong to this joint. Patch pixels and photo pixels differ by patch.step.
    """

    number: int
    kind: str
    patch: Patch
    end: tuple[float, float]
    lip: tuple[float, float]
    axis: tuple[float, float]
    d_px: float  # overall diameter D of the insulated wire, patch pixels
    d_standard_uncertainty_px: float
    own: Mask
    sure: float  # 0..1, how sure that this is a joint of this kind
    problems: tuple[str, ...] = ()  # names from the registry in quality.py
    along: Along | None = None  # as seen once more, for the second opinion alone

    def to_frame(self, points: Points) -> Points:
        """Patch positions (N, 2) to (s, t) in D; s is 0 at the end of the insulation."""
        offset = np.asarray(points, float) - np.asarray(self.end)
        ax, ay = self.axis
        return np.stack([offset @ (ax, ay), offset @ (-ay, ax)], axis=-1) / self.d_px

    def from_frame(self, points: Points) -> Points:
        """(s, t) in D to patch positions (N, 2)."""
        st = np.asarray(points, float) * self.d_px
        ax, ay = self.axis
        return np.asarray(self.end) + np.stack(
            [st[..., 0] * ax - st[..., 1] * ay, st[..., 0] * ay + st[..., 1] * ax], axis=-1
        )

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Bounding box (x0, y0, x1, y1) of `own` in the photo."""
        ys, xs = np.nonzero(self.own)
        if len(xs) == 0:
            corner = self.patch.to_photo(np.array([self.end, self.lip]))
        else:
            low_high = np.array([[xs.min(), ys.min()], [xs.max(), ys.max()]], float)
            corner = self.patch.to_photo(low_high)
        (x0, y0), (x1, y1) = corner.min(axis=0), corner.max(axis=0)
        return (float(x0), float(y0), float(x1), float(y1))


@dataclass(frozen=True, slots=True)
class Scale:
    """Millimetres per photo pixel, or none known."""

    mm_per_px: float | None
    standard_uncertainty: float | None
    origin: Literal["wire", "mat", "none"]


@dataclass(frozen=True, slots=True)
class Job:
    """What the user says about the photo."""

    kind: str = "cup"
    poles: int | None = None
    wire_od_mm: float | None = None
    alloy: Literal["tin-lead", "lead-free", "unknown"] = "unknown"


@dataclass(frozen=True, slots=True)
class View:
    """All that a check may look at: one joint with its surroundings."""

    joint: Joint
    neighbours: tuple[Joint, ...]
    scale: Scale
    job: Job
