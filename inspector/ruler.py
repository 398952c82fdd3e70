"""The ruler that turns lengths in the picture into millimetres, or into D without a scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspector.model import Unit, View

# Without a wire size, 0.5 mm is read as 0.11 D: its size at 4.5 mm overall. Soft wire is 1.5 to
# 6.3 mm overall (inspector/wire.py); taken as log-uniform, that is 41 % on a limit in D.
NOMINAL_D_MM = 4.5
WIRE_SPREAD = math.log(6.3 / 1.5) / math.sqrt(12)


@dataclass(frozen=True, slots=True)
class Ruler:
    """How lengths in patch pixels become the unit that this view allows.

    per_px: `unit` per patch pixel, with its relative standard uncertainty. coarse_px: size in
    `unit` of the coarser of a photo pixel and a patch pixel, since neither shows finer detail.
    """

    unit: Unit
    per_px: float
    relative: float
    coarse_px: float

    def of_mm(self, length_mm: float) -> float:
        """A length in mm in the ruler's unit; at the nominal wire if the scale is not known."""
        return length_mm if self.unit == "mm" else length_mm / NOMINAL_D_MM

    def name(self, name: str) -> str:
        """The measurement's name: with "-in-D" where millimetres are not known."""
        return name if self.unit == "mm" else f"{name}-in-D"

    def spread(self, limit_mm: float) -> float:
        """Standard uncertainty of a limit of `limit_mm` for want of the wire's size."""
        return 0.0 if self.unit == "mm" else WIRE_SPREAD * self.of_mm(limit_mm)


def ruler(view: View, *, in_d: bool = False) -> Ruler:
    """Millimetres if the view has a scale and `in_d` is not asked for, else D."""
    joint, scale = view.joint, view.scale
    step = joint.patch.step
    if scale.mm_per_px is not None and not in_d:
        u = scale.standard_uncertainty or 0.0
        size = scale.mm_per_px
        return Ruler("mm", size * step, u / size, size * max(1.0, step))
    relative = joint.d_standard_uncertainty_px / joint.d_px
    return Ruler("D", 1.0 / joint.d_px, relative, max(1.0, 1.0 / step) / joint.d_px)
