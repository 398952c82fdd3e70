"""A pass says what it rests on and what to look for: alike in table, picture, page and JSON."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import scenes
from api import html
from inspector import overlay, passing, strokes
from inspector.model import Fault, Faults, Job, Outcome, Verdict
from inspector.passing import LOOK_YOURSELF, judged_words, pass_lines, rests_on
from inspector.problems import problem_finding
from inspector.report import as_json

ALONE = (
    "This pass rests on each check alone: those that were seen are fine, each with a probability of"
    " at least 99 %, as known from rendered pictures."
)
PAIR = {"size": (2000, 1500), "centres": ((900, 700), (900, 1000)), "d_px": 100}
LINKS = {"self": "/inspections/a", "overlay": "/inspections/a/overlay"}


def whole(percent):
    return (
        "This pass rests on what is measured and on the joint as a whole: fewer than"
        f" {percent} of 100 clearly bad joints in rendered pictures would pass like this"
        " (upper bound)."
    )


def vouched(result, odds=-6.0):
    """The joint's result as the judge leaves it where the whole joint is vouched for."""
    faults = Faults(np.full((len(Fault), 200, 200), odds, np.float32), (3.5, 3.5), 8.0)
    patch = replace(result.joint.patch, faults=faults)
    found = tuple(
        replace(f, conformance=None) if f.outcome is Outcome.FINE else f for f in result.findings
    )
    return replace(result, joint=replace(result.joint, patch=patch), findings=found)


@pytest.fixture
def share(monkeypatch):
    """Sets the upper bound on the bad joints that would pass, by what speaks against one."""

    def put(found):
        monkeypatch.setattr(passing, "share_of_bad", found if callable(found) else lambda _: found)

    return put


def everywhere(inspection):
    """The words of table, picture, page and JSON, each as one line."""
    rows = overlay._rows(inspection)
    page = bytes(html.answer(inspection, LINKS).body).decode()
    return {
        "table": " ".join(scenes.printed(inspection).split()),
        "picture": " ".join(line for row in rows for line in row.lines),
        "page": page,
        "json": " ".join(as_json(inspection)["pass_words"]),
    }


def test_a_pass_says_in_all_places_what_it_rests_on_and_what_to_look_for(share):
    share(0.0241)
    alone = scenes.inspection(verdict=Verdict.PASS)
    as_whole = replace(alone, results=tuple(map(vouched, alone.results)))
    for inspection, words in ((alone, ALONE), (as_whole, whole(3))):
        assert pass_lines(inspection) == (words, LOOK_YOURSELF, judged_words(1))
        for place, text in everywhere(inspection).items():
            assert words in text, place
            assert LOOK_YOURSELF in text, place
            assert text.count("This pass rests on") == 1, place


def test_how_many_joints_were_judged_is_said_unless_the_number_was_given():
    both = scenes.inspection(**PAIR, verdict=Verdict.PASS)
    assert judged_words(2).startswith("2 joints are judged here; one that hides")
    assert judged_words(1).startswith("1 joint is judged")
    for place, text in everywhere(both).items():
        assert judged_words(2) in text, place
    blind = replace(both.results[1], findings=(problem_finding("size", 2),), verdict=Verdict.RETAKE)
    one = replace(both, results=(both.results[0], blind), verdict=Verdict.RETAKE)
    assert pass_lines(one)[-1] == judged_words(1)  # what was sent back was not judged
    told = replace(both, job=Job(poles=2))
    assert not any("not among them" in line for line in pass_lines(told))


def test_what_is_to_be_looked_for_is_named():
    for part in ("strands", "spikes", "side that the photo does not show", "tug", "battery"):
        assert part in LOOK_YOURSELF


@pytest.mark.parametrize("verdict", [Verdict.REWORK, Verdict.RETAKE])
def test_without_a_pass_nothing_is_added(verdict):
    inspection = scenes.inspection(verdict=verdict)
    assert as_json(inspection)["pass_words"] == []
    for place, text in everywhere(inspection).items():
        assert "pass rests on" not in text, place
        assert "Before the sleeve" not in text, place


@pytest.mark.parametrize(
    ("bound", "percent"), [(0.0, 1), (0.0099, 1), (0.0101, 2), (0.02, 3), (0.0299, 3)]
)
def test_the_number_is_never_less_than_the_bound(share, bound, percent):
    share(bound)
    assert 100 * bound < percent
    result = vouched(scenes.inspection(verdict=Verdict.PASS).results[0])
    assert rests_on(result) == whole(percent)


def test_the_share_is_that_of_what_speaks_against_this_joint(share):
    share(lambda against: 0.005 if against < 0.01 else 0.025)
    result = scenes.inspection(verdict=Verdict.PASS).results[0]
    assert rests_on(vouched(result, -9.0)) == whole(1)
    assert rests_on(vouched(result, -4.0)) == whole(3)


@pytest.mark.parametrize(("least", "said"), [(0.95, 95), (0.9599, 95), (0.97, 97), (1.0, 99)])
def test_each_check_alone_gives_the_least_probability_rounded_down(least, said):
    result = scenes.inspection(verdict=Verdict.PASS).results[0]
    sure = replace(result.findings[0], check="wetting", conformance=0.999)
    least_sure = replace(result.findings[0], conformance=least)
    assert f"at least {said} %," in rests_on(replace(result, findings=(sure, least_sure)))


def test_one_finding_that_rests_on_the_whole_joint_is_enough(share):
    share(0.001)
    result = scenes.inspection(verdict=Verdict.PASS).results[0]
    mixed = vouched(result)
    sure = replace(result.findings[0], check="wetting", conformance=0.999)
    assert rests_on(replace(mixed, findings=(sure, *mixed.findings))) == whole(1)


def test_joints_are_named_where_they_differ_and_else_said_once(share):
    share(0.0241)
    both = scenes.inspection(**PAIR, verdict=Verdict.PASS)
    assert pass_lines(both) == (ALONE, LOOK_YOURSELF, judged_words(2))
    first, second = both.results
    mixed = replace(both, results=(vouched(first), second))
    assert pass_lines(mixed) == (
        f"Joint 1, pass: {whole(3)}", f"Joint 2, pass: {ALONE}", LOOK_YOURSELF,
        judged_words(2),
    )  # fmt: skip


def test_a_joint_that_passes_beside_one_that_does_not_is_named_in_all_places():
    bad, good = scenes.inspection(**PAIR).results[0], scenes.inspection(**PAIR)
    fine = replace(good.results[1], findings=good.results[1].findings[:1], verdict=Verdict.PASS)
    inspection = replace(good, results=(bad, fine))
    for place, text in everywhere(inspection).items():
        assert f"Joint 2, pass: {ALONE}" in text, place
        assert text.count("This pass rests on") == 1, place
    photo_fails = replace(inspection, results=(replace(fine, joint=bad.joint), fine))
    assert pass_lines(photo_fails)[0] == f"Joints 1 and 2, pass: {ALONE}"


def test_the_pictures_lines_are_legible_at_phone_size_and_within_its_width():
    inspection = scenes.inspection(verdict=Verdict.PASS)
    rows = [row for row in overlay._rows(inspection) if row.loud]
    assert len(rows) == 3
    assert overlay._KEY_PX * 360 / overlay.WIDE_PX >= 10
    widths = [strokes.text_width(line, overlay._KEY_PX) for row in rows for line in row.lines]
    assert max(widths) <= overlay.WIDE_PX - 72


def test_the_lines_stand_below_the_joint_and_not_on_it(monkeypatch):
    inspection = scenes.inspection(verdict=Verdict.PASS)
    spoken = overlay.draw(inspection)
    monkeypatch.setattr(overlay, "pass_lines", lambda _: ())
    silent = overlay.draw(inspection)
    key = overlay._key(inspection).shape[0]
    assert spoken.shape[0] > silent.shape[0]
    above = silent.shape[0] - key - overlay._GAP_PX
    assert (spoken[:above] == silent[:above]).all()
