"""Shares with their 95 % intervals, and agreement beyond chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scipy.stats import binomtest

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """`hits` of `n` with the exact 95 % interval (Clopper-Pearson), which never claims too much."""

    hits: int
    n: int

    @property
    def value(self) -> float | None:
        """The share; None of nothing."""
        return self.hits / self.n if self.n else None

    @property
    def interval(self) -> tuple[float, float]:
        """Lower and upper end; 0 to 1 of nothing."""
        if not self.n:
            return (0.0, 1.0)
        found = binomtest(self.hits, self.n).proportion_ci(CONFIDENCE, method="exact")
        return (float(found.low), float(found.high))

    @property
    def text(self) -> str:
        """Such as "2.0 % (0.2 to 7.0), 2 of 100"."""
        if not self.n:
            return "no cases"
        value, low, high = (f"{100 * x:.1f}" for x in (self.hits / self.n, *self.interval))
        return f"{value} % ({low} to {high}), {self.hits} of {self.n}"


def share(flags: Sequence[bool]) -> Share:
    """How many are true."""
    return Share(sum(map(bool, flags)), len(flags))


def kappa(both: int, first_only: int, second_only: int, neither: int) -> float | None:
    """Cohen's kappa of two judges with two answers; None where one answer alone was given."""
    n = both + first_only + second_only + neither
    if not n:
        return None
    agreed = (both + neither) / n
    first, second = (both + first_only) / n, (both + second_only) / n
    chance = first * second + (1 - first) * (1 - second)
    return None if chance >= 1 else (agreed - chance) / (1 - chance)
