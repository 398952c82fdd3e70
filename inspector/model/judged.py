"""What is measured and judged: quantities and their limits, checks, findings, the inspection."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Literal

from inspector.model.seen import Fault, Job, Joint, Patch, Photo, Points, Scale, View


class Outcome(StrEnum):
    """A check's outcome on one joint."""

    FINE = "fine"
    REWORK = "rework"
    DOUBT = "doubt"
    NOT_SEEN = "not-seen"


class Verdict(StrEnum):
    """What the user is told."""

    PASS = "pass"  # noqa: S105 - a verdict, not a password
    REWORK = "rework"
    RETAKE = "retake"


Unit = Literal["D", "mm", "px", "%", "deg", "1", "chord", "conductor diameters"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its standard uncertainty (k = 1), both in `unit`.

    `parts` names the standard uncertainties that were combined, same unit.
    """

    value: float
    standard_uncertainty: float
    unit: Unit
    parts: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def expanded_uncertainty(self) -> float:
        """Expanded uncertainty, k = 2."""
        return 2.0 * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class Evidence:
    """Where in the photo: what the overlay draws, and nothing else.

    shape: "dimension" is a line from the first to the last point with its value beside it,
    "line" an open line, "outline" a closed one, "spot" a single place.
    """

    shape: Literal["dimension", "line", "outline", "spot"]
    points: Points


@dataclass(frozen=True, slots=True)
class Measurement:
    """One measured quantity of one joint.

    `presence` is the probability that what was measured is there at all (a strand, a spike); 1 for
    what every joint has. If it is not there, the joint conforms. `second` is the network's second
    opinion: the log-odds that the joint has the fault that the measurement is about, if it has one.
    """

    name: str
    quantity: Quantity
    evidence: tuple[Evidence, ...] = ()
    presence: float = 1.0
    second: float | None = None


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """A quantity that this photo does not show; `because` is a clause for users.

    by_eye: it does show, but what it is an eye has to decide.
    """

    name: str
    because: str
    by_eye: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """The limit on the measurement of the same name.

    sense: "max" value <= limit; "min" value >= limit. `sure` is how sure the figure is, in the
    words of the project: seen, quoted, memory, derived, house, common practice.
    """

    name: str
    sense: Literal["max", "min"]
    value: float
    unit: Unit
    source: str
    sure: str
    reason: str  # sentence for a rework; may use {value}, {limit}
    remedy: str
    of: str = ""  # what a share is a share of, such as "of the contact line"
    thing: str = ""  # what may be there or not, such as "a spike"

    @property
    def text(self) -> str:
        """As people write it, such as "<= 2 D"."""
        sign = "<=" if self.sense == "max" else ">="
        return f"{sign} {self.value:g} {self.unit}".removesuffix(" 1")


Measured = Measurement | NotMeasured


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked for. `limits` see no pixels.

    `measure` judges nothing; of several things found it names the one that its usual limit makes
    the worst (decision 0015).
    """

    name: str
    title: str
    measure: Callable[[View], tuple[Measured, ...]]
    limits: tuple[Limit, ...]
    page: str  # the module's docstring: its page in the guide
    # measurements of things that may not be there: "none seen" lets a joint pass only once
    # calibration scenes have shown how many are overlooked
    proof: tuple[str, ...] = ()
    seeks: str = ""  # these things, in the plural
    # which fault the network's second opinion is asked of, by measurement, without its side
    faults: Mapping[str, Fault] = field(default_factory=lambda: MappingProxyType({}))
    # measurements that next to no sound joint shows, so that none could calibrate them: over
    # their limit they mean rework only where the second opinion, if there is one, is as sure
    backed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """A check's outcome on one joint (joint None: the photo as a whole)."""

    check: str
    outcome: Outcome
    text: str
    remedy: str
    joint: int | None = None
    conformance: float | None = None  # probability that the joint conforms
    measured: tuple[Measured, ...] = ()
    limits: tuple[Limit, ...] = ()
    needed: bool = True  # False: this joint may pass although the check was not seen
    about: str = ""  # name of the measurement that decided, if one did
    beside: bool = False  # a rework only because the joint is to be reworked anyway


@dataclass(frozen=True, slots=True)
class JointResult:
    """One joint with its findings and verdict.

    `quality` holds what was measured of its picture, by the names of quality.GATES.
    """

    joint: Joint
    findings: tuple[Finding, ...]
    verdict: Verdict
    quality: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Inspection:
    """Everything that a look found; overlay, report, record and page read only this."""

    photo: Photo
    job: Job
    scale: Scale
    patches: tuple[Patch, ...]  # the whole photo at small scale first, then the close windows
    results: tuple[JointResult, ...]
    findings: tuple[Finding, ...]  # about the photo as a whole
    quality: Mapping[str, float]
    verdict: Verdict
    seconds: float
