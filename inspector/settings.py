"""What a workshop may set: the decision thresholds and limits of its own.

The defaults are the project's: conformance thresholds as docs/decisions says, limits as the
check files give them with their sources.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from inspector.errors import SettingsError

FINE_AT = 0.95  # probability of conformance from which a finding is fine; common practice
REWORK_AT = 0.2  # and up to which it is rework; house rule, no source
# Share of clearly bad joints that may pass with as little against them as one that passes: our own
# figure, no source; under the project's 3 % of misses, since a rework may also name the wrong thing
OVERLOOKED = 0.02


@dataclass(frozen=True, slots=True)
class Settings:
    """Thresholds and limits of one workshop.

    fine, rework: probabilities of conformance, 0 < rework < fine < 1. overlooked: share of bad
    joints that may pass with as little against them, 0 to under 1. limits: own values that
    replace a check's default, keyed "check.measurement" such as "insulation-gap.gap", in the
    unit of the default.

    Raises SettingsError for thresholds out of order and limits that are not finite.
    """

    fine: float = FINE_AT
    rework: float = REWORK_AT
    overlooked: float = OVERLOOKED
    limits: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        """Refuse what cannot mean anything, and make the limits read-only."""
        if not 0.0 < self.rework < self.fine < 1.0:
            raise SettingsError(
                f"The thresholds rework {self.rework:g} and fine {self.fine:g} are not in order.",
                "Use probabilities with 0 < rework < fine < 1, such as 0.2 and 0.95.",
            )
        if not 0.0 <= self.overlooked < 1.0:
            raise SettingsError(
                f"The share {self.overlooked:g} of overlooked joints cannot be used.",
                "Use a share from 0 to under 1, such as 0.02.",
            )
        for key, value in self.limits.items():
            if "." not in key or not math.isfinite(value):
                raise SettingsError(
                    f"The limit {key} = {value} cannot be used.",
                    'Name a check and its measurement, such as "insulation-gap.gap", and a number.',
                )
        object.__setattr__(self, "limits", MappingProxyType(dict(self.limits)))

    def limit(self, check: str, name: str, default: float) -> float:
        """The limit in force for a check's measurement, in the unit of the default."""
        return self.limits.get(f"{check}.{name}", default)
