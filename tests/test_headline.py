"""What people read first: what only an eye decides, and no more doubts than anybody reads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import scenes
from inspector import headline
from inspector.model import Evidence, Finding, Measurement, Outcome, Quantity, Verdict
from inspector.problems import problem_finding
from inspector.report import as_json, reasons
from scenes import printed


@pytest.fixture
def inspection():
    return scenes.inspection()


def judged(inspection, *findings, verdict=Verdict.RETAKE):
    """The inspection with these findings on its only joint."""
    result = replace(inspection.results[0], findings=findings, verdict=verdict)
    return replace(inspection, results=(result,), verdict=verdict)


def doubt(name, conformance):
    return Finding(name, Outcome.DOUBT, f"{name} may be.", "Go closer.", 1, conformance=conformance)


UNPROVEN = problem_finding("unproven", 1)


def test_what_only_an_eye_decides_is_no_retake_in_words(inspection):
    only = judged(inspection, UNPROVEN)
    assert headline.undecided(only)
    assert headline.verdict_words(only) == "look by eye"
    assert as_json(only)["verdict"] == "retake"  # the contract's words stay
    text = printed(only)
    assert "LOOK BY EYE" in text
    assert "RETAKE" not in text


def test_a_joint_is_named_as_its_photo_is(inspection):
    only = judged(inspection, UNPROVEN).results[0]
    assert headline.joint_words(only) == "look by eye"
    both = judged(inspection, doubt("surface", 0.6), UNPROVEN).results[0]
    assert headline.joint_words(both) == "retake"
    rework = judged(inspection, UNPROVEN, verdict=Verdict.REWORK).results[0]
    assert headline.joint_words(rework) == "rework"
    hidden = Finding("solder-fill", Outcome.NOT_SEEN, "It is hidden.", "Turn it.", 1, needed=True)
    unseen = judged(inspection, hidden, UNPROVEN).results[0]
    assert headline.joint_words(unseen) == "retake"
    assert headline.joint_words(judged(inspection, verdict=Verdict.PASS).results[0]) == "pass"


@pytest.mark.parametrize("verdict", [Verdict.RETAKE, Verdict.REWORK])
def test_beside_a_doubt_or_a_rework_it_decides_nothing(inspection, verdict):
    both = judged(inspection, doubt("surface", 0.6), UNPROVEN, verdict=verdict)
    assert not headline.undecided(both)
    assert headline.verdict_words(both) == verdict.value
    assert [f.check for f in reasons(both)] == ["surface", "unproven"]


def test_a_pass_is_decided(inspection):
    assert not headline.undecided(judged(inspection, verdict=Verdict.PASS))


def bridge(joint, at, *, outcome=Outcome.REWORK, beside=False):
    spot = Measurement("bridge", Quantity(0.7, 0.1, "D"), (Evidence("spot", np.array([at])),))
    return Finding(
        "bridge", outcome, "Metal joins two poles.", "Wick it off.", joint,
        measured=(spot,), about="bridge", beside=beside,
    )  # fmt: skip


def two_poles(inspection, first, second):
    """Two joints to be reworked, with a finding each."""
    one = inspection.results[0]
    results = [
        replace(one, joint=replace(one.joint, number=n), findings=(f,), verdict=Verdict.REWORK)
        for n, f in ((1, first), (2, second))
    ]
    return replace(inspection, results=tuple(results), verdict=Verdict.REWORK)


def test_a_bridge_is_told_once_and_its_other_joint_says_where(inspection):
    d_px = inspection.results[0].joint.d_px * inspection.results[0].joint.patch.step
    both = two_poles(inspection, bridge(1, (50.0, 40.0)), bridge(2, (50.0 + 0.3 * d_px, 40.0)))
    shown, more = headline.pressing(both)
    assert [(n, f.joint) for n, f in shown] == [(1, 1)]
    assert more == ("Joint 2, rework: bridge (2), the same as 1.",)
    assert [f["joint"] for f in as_json(both)["reasons"]] == [1, 2]  # each joint keeps its own


@pytest.mark.parametrize(
    ("away", "how"),
    [(2.0, {}), (0.3, {"beside": True}), (0.3, {"outcome": Outcome.DOUBT})],
)
def test_another_bridge_or_a_doubt_is_told_by_itself(inspection, away, how):
    d_px = inspection.results[0].joint.d_px * inspection.results[0].joint.patch.step
    second = bridge(2, (50.0 + away * d_px, 40.0), **how)
    shown, more = headline.pressing(two_poles(inspection, bridge(1, (50.0, 40.0)), second))
    assert not any("the same as" in line for line in more)
    assert [f.joint for _, f in shown] == [1, 2]


def test_the_three_strongest_doubts_come_first_the_rest_in_a_line(inspection):
    chances = {"spike": 0.9, "surface": 0.3, "bridge": 0.7, "fillet": 0.25, "wetting": 0.8}
    many = judged(inspection, UNPROVEN, *(doubt(n, p) for n, p in chances.items()))
    shown, more = headline.pressing(many)
    assert [(n, f.check) for n, f in shown] == [
        (1, "fillet"), (2, "surface"), (3, "bridge"), (4, "unproven"),
    ]  # fmt: skip
    assert more == ("Joint 1, also in doubt: wetting (5), spike (6).",)
    assert len(reasons(many)) == len(as_json(many)["reasons"]) == 6  # nothing is lost
    assert "also in doubt: wetting (5), spike (6)" in printed(many)
    assert "also in doubt" not in printed(many, everything=True)


def test_doubts_of_a_joint_to_be_reworked_take_a_line(inspection):
    bad = Finding("bridge", Outcome.REWORK, "Metal joins two poles.", "Wick it off.", 1)
    hidden = Finding("wetting", Outcome.NOT_SEEN, "It is hidden.", "Turn it.", 1, needed=True)
    found = judged(
        inspection, bad, doubt("spike", 0.9), doubt("surface", 0.3), UNPROVEN, hidden,
        verdict=Verdict.REWORK,
    )  # fmt: skip
    shown, more = headline.pressing(found)
    assert [(n, f.check) for n, f in shown] == [(1, "bridge")]
    (line,) = more
    assert line.endswith("before and after the rework: surface (2), spike (3).")
    told = {f.check: n for n, f in headline.numbered(found)}
    assert told["unproven"] > 3 < told["wetting"]  # not printed, so that no number is missing
    assert len(as_json(found)["reasons"]) == 5  # nothing is lost
    assert "spike, doubt" in printed(found, everything=True)
    assert "spike, doubt" not in printed(found)


def test_a_rework_that_is_only_likelier_than_not_comes_after_the_others(inspection):
    sure = Finding("spike", Outcome.REWORK, "A spike stands out.", "Wick it off.", 1)
    likely = Finding("insulation-gap", Outcome.REWORK, "6.4 mm.", "Strip again.", 1, beside=True)
    found = judged(inspection, likely, sure, doubt("surface", 0.3), verdict=Verdict.REWORK)
    assert [f.check for f in reasons(found)] == ["spike", "insulation-gap", "surface"]
