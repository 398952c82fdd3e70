"""What a kind of joint declares."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of joint.

    checks: names of the checks that apply. needed: those that must have been seen for a pass.
    needed_beside: needed as well when another pole is in the photo or the job names several.
    unseen: what no photo of this kind shows, a clause each, for the words of a pass.
    """

    name: str
    title: str
    looks: str  # what it looks like, for help texts and the guide
    checks: tuple[str, ...]
    needed: frozenset[str]
    needed_beside: frozenset[str]
    unseen: tuple[str, ...]

    def needs(self, *, poles: int) -> frozenset[str]:
        """Names of the checks that must be seen with `poles` joints beside each other."""
        return self.needed | self.needed_beside if poles > 1 else self.needed
