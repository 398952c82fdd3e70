"""What can go wrong for a user, each as one sentence and a hint.

Every error that reaches a user is an `InspectorError`: `sentence` says what is wrong, `hint` says
what to do. The command line prints both on one line, the API puts them into problem details.
"""

from __future__ import annotations


class InspectorError(Exception):
    """Base of all errors meant for users; `title` is its short heading."""

    title = "This did not work"

    def __init__(self, sentence: str, hint: str = "") -> None:
        """Keep the sentence (what is wrong) and the hint (what to do about it)."""
        super().__init__(sentence)
        self.sentence = sentence
        self.hint = hint

    def __str__(self) -> str:
        """Sentence and hint, one after the other."""
        return f"{self.sentence} {self.hint}".strip()


class PhotoError(InspectorError):
    """The bytes are no photo that can be used."""

    title = "This photo cannot be used"


class WireError(InspectorError):
    """The wire size is not known or makes no sense."""

    title = "This wire size is not known"


class JobError(InspectorError):
    """What the user said about the photo does not fit together."""

    title = "This request does not fit together"


class SettingsError(InspectorError):
    """A setting is outside what makes sense."""

    title = "This setting cannot be used"


class InstallError(InspectorError):
    """A part of the program itself is missing or damaged."""

    title = "The installation is not complete"
