"""The JSON of an inspection, as OpenAPI tells it."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Verdict = Literal["pass", "rework", "retake"]


class Reason(BaseModel):
    """Why the verdict is no pass; joint null: about the photo as a whole."""

    joint: int | None
    check: str
    outcome: Literal["rework", "doubt", "not-seen"]
    text: str
    remedy: str


class Measured(BaseModel):
    """One measured quantity; uncertainty is expanded, k = 2; where is in photo pixels.

    presence: probability that what was measured is there at all.
    """

    check: str
    name: str
    value: float | None
    unit: str
    uncertainty: float | None
    presence: float | None
    limit: str | None
    source: str | None
    where: list[tuple[float, float]]


class Outcome(BaseModel):
    """What one check said of a joint: fine, rework, doubt or not-seen."""

    check: str
    outcome: Literal["fine", "rework", "doubt", "not-seen"]
    text: str


class Joint(BaseModel):
    """One joint; box is x0, y0, x1, y1 in photo pixels."""

    joint: int
    kind: str
    verdict: Verdict
    box: tuple[float, float, float, float]
    measurements: list[Measured]
    findings: list[Outcome]


class Scale(BaseModel):
    """Millimetres per photo pixel with the expanded uncertainty, k = 2."""

    model_config = ConfigDict(populate_by_name=True)

    mm_per_px: float | None
    uncertainty: float | None
    origin: Literal["wire", "mat", "none"] = Field(alias="from")


class Links(BaseModel):
    """Where to find this inspection and its pictures."""

    self: str
    overlay: str
    regions: str


class Inspection(BaseModel):
    """One photo's verdict, reasons and measurements.

    pass_words: what each joint's pass rests on, what to look for oneself, how many joints were
    judged; empty without a pass.
    """

    id: str
    photo: str
    verdict: Verdict
    side_only: bool
    seconds: float
    reasons: list[Reason]
    pass_words: list[str]
    joints: list[Joint]
    scale: Scale
    quality: dict[str, float | None]
    overlay: str | None
    regions: str | None
    links: Links
