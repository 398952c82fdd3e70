"""What a picture lacks, where that is the likely cause of what the judge says about it.

It takes the place of guesses: in the advice on a joint's doubts, and where no joint is found.
"""

from __future__ import annotations

from dataclasses import replace

from inspector.model import Finding, Inspection, JointResult, Outcome, Photo
from inspector.problems import PROBLEMS, colourless, no_joint_finding
from inspector.quality import GATES
from inspector.wording import shared_advice

STRAINED = 2.0  # a measure within this factor of its gate is what a doubt is put down to


def advised(photo: Photo, result: JointResult, found: list[Finding]) -> list[Finding]:
    """The reasons, the doubts among them with what the picture lacks as their remedy."""
    doubts = [finding for finding in found if finding.outcome is Outcome.DOUBT]
    problem = _weakness(photo, result) if doubts else None
    if problem is None:
        return found
    remedies = iter(shared_advice([doubt.remedy for doubt in doubts], PROBLEMS[problem].advice))
    return [
        replace(finding, remedy=next(remedies)) if finding.outcome is Outcome.DOUBT else finding
        for finding in found
    ]


def _weakness(photo: Photo, result: JointResult) -> str | None:
    """The problem that this picture of the joint comes nearest to; None if it is near none.

    Near is within a factor of STRAINED of the gate at which nothing would be judged at all.
    """
    if colourless(photo):
        return "grey"
    strains: dict[str, float] = {}
    for name, value in result.quality.items():
        gate = GATES[name]
        parts = (value, gate.value) if gate.sense == "max" else (gate.value, value)
        if parts[1] > 0:
            strains[gate.problem] = parts[0] / parts[1]
    worst = max(strains, key=lambda problem: strains[problem], default=None)
    return worst if worst is not None and strains[worst] * STRAINED >= 1 else None


def likely_cause(inspection: Inspection, finding: Finding) -> Finding:
    """A finding on the whole photo; that no joint is found has its likely cause named."""
    if finding.check != "no-joint":
        return finding
    labels = inspection.patches[0].labels if inspection.patches else None
    return no_joint_finding(inspection.photo, labels)
