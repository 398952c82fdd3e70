"""The words of the project as frozen data: what passes from one stage to the next.

One direction: bytes -> Photo -> Regions -> Joints -> Measurements -> Findings -> Verdict.
Positions are pixels of the full-size upright photo unless a name says otherwise; points are
(N, 2) float arrays, x right, y down, pixel centres at integers. Arrays are read-only.

All of it is imported from here: `seen` is what photo, network and user say, `judged` what the
checks and the verdict make of it.
"""

from __future__ import annotations

from inspector.model.judged import (
    Check,
    Evidence,
    Finding,
    Inspection,
    JointResult,
    Limit,
    Measured,
    Measurement,
    NotMeasured,
    Outcome,
    Quantity,
    Unit,
    Verdict,
)
from inspector.model.seen import (
    OPINIONS,
    Along,
    Fault,
    Faults,
    Hindrance,
    Job,
    Joint,
    Mark,
    Mask,
    Patch,
    Photo,
    Points,
    Region,
    Scale,
    View,
)

__all__ = [
    "OPINIONS",
    "Along",
    "Check",
    "Evidence",
    "Fault",
    "Faults",
    "Finding",
    "Hindrance",
    "Inspection",
    "Job",
    "Joint",
    "JointResult",
    "Limit",
    "Mark",
    "Mask",
    "Measured",
    "Measurement",
    "NotMeasured",
    "Outcome",
    "Patch",
    "Photo",
    "Points",
    "Quantity",
    "Region",
    "Scale",
    "Unit",
    "Verdict",
    "View",
]
