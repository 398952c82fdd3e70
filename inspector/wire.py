"""Wire sizes: bundle and overall diameters.

Overall diameters of soft silicone wire with 0.08 mm strands are common practice, no source, and
hold within 0.1 mm; a bundle is 1.155 x 0.08 mm x sqrt(strands) wide (derived).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from inspector.errors import WireError

STRAND_MM = 0.08
OVERALL_TOLERANCE_MM = 0.1  # common practice, no source
OVERALL_STANDARD_UNCERTAINTY_MM = OVERALL_TOLERANCE_MM / math.sqrt(3)  # taken as rectangular
SMALLEST_OD_MM, LARGEST_OD_MM = 0.5, 20.0
LONGEST_SIZE = 30  # characters of a size that cannot be read, to show

# AWG: strands, bundle and overall diameter in mm; soft silicone wire, common practice, no source
_SOFT_SILICONE = {
    8: (1650, 3.75, 6.3),
    10: (1050, 3.00, 5.5),
    12: (680, 2.41, 4.5),
    14: (400, 1.85, 3.5),
    16: (252, 1.46, 3.0),
    18: (150, 1.14, 2.3),
    20: (100, 0.94, 1.8),
    22: (60, 0.72, 1.7),
    24: (40, 0.58, 1.6),
    26: (30, 0.51, 1.5),
}

SIZES = tuple(_SOFT_SILICONE)


@dataclass(frozen=True, slots=True)
class Wire:
    """One size of soft silicone wire; diameters in mm."""

    awg: int
    strands: int
    bundle_mm: float
    overall_mm: float

    @property
    def name(self) -> str:
        """As people write it, such as "12 AWG"."""
        return f"{self.awg} AWG"


def soft_silicone(gauge: int) -> Wire:
    """The soft silicone wire of an AWG size; WireError for a size not in the table."""
    if gauge not in _SOFT_SILICONE:
        raise WireError(
            f"Wire size {gauge} AWG is not in the table of soft silicone wire.",
            f"Use an even size from {SIZES[0]} to {SIZES[-1]} AWG,"
            " or measure the wire over its insulation and give that in mm (--wire-od, wire_od).",
        )
    return Wire(gauge, *_SOFT_SILICONE[gauge])


def parse_wire(text: str) -> Wire:
    """Read "12 AWG", "12awg", "AWG 12", "#12" or "12"; WireError for anything else."""
    match = re.fullmatch(
        r"\s*(?:awg\s*|\#\s*)?(\d{1,2})\s*(?:awg|ga|gauge)?\s*", text, flags=re.IGNORECASE
    )
    if match is None:
        raise WireError(
            f"The wire size {text.strip()[:LONGEST_SIZE]!r} cannot be read.",
            'Write it like "12 AWG", or give the diameter over the insulation in mm.',
        )
    return soft_silicone(int(match[1]))


def check_od_mm(overall_mm: float) -> float:
    """Return a usable overall diameter in mm; WireError outside 0.5 to 20 mm."""
    if not SMALLEST_OD_MM <= overall_mm <= LARGEST_OD_MM:  # also refuses nan
        raise WireError(
            f"A diameter over the insulation of {overall_mm:g} mm makes no sense here.",
            f"Give millimetres from {SMALLEST_OD_MM:g} to {LARGEST_OD_MM:g}, such as 4.5.",
        )
    return overall_mm
