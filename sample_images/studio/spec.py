"""A joint as numbers: everything that the geometry is built from. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass, field

from .part import Material
from .terminal import Cup


@dataclass(frozen=True)
class Dry:
    """A stretch of the contact line without wetting, angles in degrees from +z toward y."""

    at: str  # "conductor" or "cup"
    middle_deg: float
    width_deg: float


@dataclass(frozen=True)
class Spot:
    """Something small on the solder: at x (share of the solder's stretch) and angle, size in mm."""

    x: float
    angle_deg: float
    size_mm: float
    kind: str = ""
    lean: tuple[float, float, float] = (0.0, 0.0, 1.0)


@dataclass(frozen=True)
class Stray:
    """A strand that left the bundle: start as a share of the bare length, true length in mm."""

    start: float
    angle_deg: float
    length_mm: float
    curl: float
    tinned: bool
    toward: tuple[float, float, float]


@dataclass(frozen=True)
class Planted:
    """A defect put in on purpose. size is in the unit of its limit."""

    check: str
    name: str
    size: float


@dataclass(frozen=True)
class JointSpec:
    """See the fields of solder_surfaces.py and joint.py for how each is used."""

    awg: int
    d_mm: float
    core_mm: float  # radius of the bundle
    strands: int
    cup: Cup
    gap_mm: float
    seat: float
    offset: tuple[float, float]
    insulation: Material
    metal: Material
    copper: Material
    solder: Material
    wire_length_mm: float = 40.0
    bend: float = 0.4
    theta_deg: float = 20.0
    pressure: float = 0.0  # 2H times the core radius
    bulge: bool = False
    attach: float = 0.5
    supply: bool = True
    bead: float = 0.0  # solder free of the cup: share of the room round the wire that it takes
    level: float = 1.0
    fill_from: float = 0.0
    fill_to: float = 1.0
    recess_mm: float = 0.0
    climb: float = 0.4
    cover: bool = True
    dome_mm: float = 0.0
    tinned: float = 1.0
    dry: tuple[Dry, ...] = ()
    rough: float = 0.0
    rough_kind: str = "lumpy"
    holes: tuple[Spot, ...] = ()
    blobs: tuple[Spot, ...] = ()
    spikes: tuple[Spot, ...] = ()
    strays: tuple[Stray, ...] = ()
    birdcage: float = 0.0  # widest bundle in D, 0 for none
    char_d: float = 0.0
    char_kind: str = "burnt"
    ragged_mm: float = 0.03
    flare: float = 0.0
    cut_tilt: float = 0.0
    embed_deg: float = 0.0
    flux: float = 0.0
    lay_mm: float = 25.0
    relief: float = 0.2  # how much of the strands shows through what solder covers them
    ropes: float = 1.0  # height of the groups that strands lie in, over what it is in a loose lay
    clump: float = 1.0  # strands that cling together and look like one
    ripple: tuple[float, float] = (0.0, 1.0)  # of sound solder: height and scale over core_mm
    blush_mm: float = 0.0  # over which copper's colour turns into the solder's
    sleeve_mm: tuple[float, float] | None = None  # from the insulation's end back, and length
    twin: bool = False  # a second wire in the same cup
    lean: tuple[float, float] = (0.0, 0.0)  # how the wire comes in askew, toward y and z; slopes
    planted: tuple[Planted, ...] = field(default=())
