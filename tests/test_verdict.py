"""Joints and photos judged: what never passes, and in whose words."""

from dataclasses import replace

import numpy as np
import pytest

from inspector import quality, verdict as verdicts, wording
from inspector.checks import registry
from inspector.kinds import registry as kinds
from inspector.model import (
    Fault,
    Faults,
    Finding,
    JointResult,
    Measurement,
    Outcome,
    Verdict,
)
from inspector.problems import PROBLEMS, problem_finding
from inspector.settings import Settings
from inspector.uncertainty import key_of
from inspector.verdict import (
    joint_verdict,
    judge,
    judge_photo,
)
from tests.defects import Drawing, changed, view
from tests.made_checks import measured, table

S = Settings()


def finding(check, outcome):
    return Finding(check, Outcome(outcome), "text", "remedy", 1)


@pytest.mark.parametrize(
    ("outcomes", "verdict_"),
    [
        ({"a": "fine", "b": "fine"}, "pass"),
        ({"a": "fine", "b": "not-seen"}, "pass"),  # b is not needed
        ({"a": "not-seen", "b": "fine"}, "retake"),
        ({"b": "fine"}, "retake"),  # needed a never ran
        ({"a": "fine", "b": "doubt"}, "retake"),
        ({"a": "doubt", "b": "rework"}, "rework"),
        ({"a": "not-seen", "b": "rework"}, "rework"),
    ],
)
def test_joint_verdict(outcomes, verdict_):
    findings = [finding(check, outcome) for check, outcome in outcomes.items()]
    assert joint_verdict(findings, frozenset({"a"})) == verdict_


def result(drawing, **how):
    v = view(drawing)
    return judge(v.joint, v, registry(), kinds()["cup"], S, **how)


@pytest.mark.parametrize("name", sorted(PROBLEMS))
def test_no_problem_of_the_registry_lets_a_joint_pass(name):
    assert judge_photo([], [problem_finding(name)]) is Verdict.RETAKE
    found = result(Drawing(), quality=[problem_finding(name, 1)])
    assert found.verdict is Verdict.RETAKE
    assert found.findings[0].text == PROBLEMS[name].meaning


def test_a_joint_with_a_problem_is_not_judged():
    v = view(Drawing())
    joint = type(v.joint)(
        **{f: getattr(v.joint, f) for f in v.joint.__slots__} | {"problems": ("two-wires",)}
    )
    found = judge(joint, v, registry(), kinds()["cup"], S)
    assert found.verdict is Verdict.RETAKE
    assert [f.check for f in found.findings] == ["two-wires"]
    assert found.findings[0].joint == 1


def test_an_overlooking_finder_is_named_even_for_a_check_that_is_not_needed(monkeypatch):
    # 0.9 leans to sound, which lets a mere doubt on such a check be: not one on the finder itself
    table(monkeypatch, {"solder-fill.fill": 0.9})
    full = replace(registry()["solder-fill"], measure=lambda _: (measured(100, 2, "fill", "%"),))
    v = view(Drawing())
    found = judge(v.joint, v, {**registry(), "solder-fill": full}, kinds()["cup"], S)
    by_name = {f.check: f for f in found.findings}
    assert by_name["solder-fill"].outcome is Outcome.NOT_SEEN
    assert "cups short of solder" in by_name["unproven"].text
    assert found.verdict is Verdict.RETAKE


def test_low_certainty_of_the_regions_adds_a_doubt():
    found = result(changed(Drawing(), sure=0.6, strand_sure=0.6))
    assert found.verdict is not Verdict.PASS
    assert any(f.check == "unsure" and f.outcome is Outcome.DOUBT for f in found.findings)


def test_every_check_of_the_kind_has_its_finding():
    found = result(Drawing())
    assert {f.check for f in found.findings} >= set(kinds()["cup"].checks)
    assert all(f.joint == 1 for f in found.findings)


def test_every_measurement_bears_the_second_opinion_on_its_fault(monkeypatch):
    proven = {f"{c.name}.{name}": 0.99 for c in registry().values() for name in c.proof}
    table(monkeypatch, proven)  # so that nothing is taken back as unproven
    grid = np.zeros((len(Fault), 60, 60), np.float32)
    grid[Fault.STRAND] = 3.0
    v = view(Drawing())
    patch = replace(v.joint.patch, faults=Faults(grid, (3.5, 3.5), 8.0))
    joint = replace(v.joint, patch=patch)
    found = judge(joint, replace(v, joint=joint), registry(), kinds()["cup"], S)
    said = seconds(found)
    assert said["stray-strand", "length"] == pytest.approx(14 * np.tanh(3 / 14))
    assert said["spike", "height"] == pytest.approx(0.0, abs=1e-6)
    for (check, name), second in said.items():
        assert (second is not None) == (key_of(name) in registry()[check].faults)
    assert set(seconds(result(Drawing())).values()) == {None}


def seconds(found):
    items = [(f.check, m) for f in found.findings for m in f.measured]
    return {(check, m.name): m.second for check, m in items if isinstance(m, Measurement)}


def test_a_check_may_ask_for_more_pixels_than_the_gate(monkeypatch):
    monkeypatch.setattr(quality, "LEAST_D_PX", {"stray-strand": 120.0})
    found = result(Drawing())
    strand = next(f for f in found.findings if f.check == "stray-strand")
    assert strand.outcome is Outcome.NOT_SEEN
    assert "120 pixels" in strand.text
    assert found.verdict is Verdict.RETAKE


def joint_result(outcome):
    return JointResult(view(Drawing(side=60, d_px=10, end=(30, 30))).joint, (), Verdict(outcome))


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        ([], "retake"),
        (["pass"], "pass"),
        (["pass", "retake"], "retake"),
        (["retake", "rework", "pass"], "rework"),
    ],
)
def test_photo_verdict(verdicts, expected):
    assert judge_photo([joint_result(v) for v in verdicts]) == expected


@pytest.mark.parametrize(("angle", "left"), [(0, "upper"), (180, "lower"), (90, "right")])
def test_a_finding_says_its_side_as_the_picture_shows_it(angle, left):
    # the joint's left is that of someone who looks along the wire toward the terminal
    bad = measured(150.0, 2.0, "angle-cup-left", "deg")
    fillet = replace(registry()["fillet"], measure=lambda _: (bad,))
    v = view(Drawing(angle_deg=angle, side=600, end=(300, 300)))
    found = judge(v.joint, v, {**registry(), "fillet": fillet}, kinds()["cup"], S)
    one = next(f for f in found.findings if f.check == "fillet")
    assert one.outcome is Outcome.REWORK
    assert one.text.startswith(f"On the {left} side in the picture solder meets the cup at 150")
    assert one.measured == (bad,)  # which keeps the joint's own side in its name


def test_limits_of_all_checks_speak_and_name_their_source():
    for check in registry().values():
        for limit in check.limits:
            assert limit.reason.format(value="1 D", limit="2 D").endswith(".")
            assert limit.source
            assert limit.sure
            assert limit.remedy.endswith(".")


def judged_beside(gap, damage):
    """A joint with a gap measured so within 0.1 D (k = 1), and that of its insulation's damage."""
    gapped = (measured(gap),)
    bare = replace(registry()["insulation-gap"], measure=lambda _: gapped)
    melted = replace(registry()["insulation-damage"], measure=lambda _: (damage,))
    v = view(Drawing())
    known = {**registry(), "insulation-gap": bare, "insulation-damage": melted}
    found = judge(v.joint, v, known, kinds()["cup"], S)
    return found.verdict, {f.check: f for f in found.findings}


def ragged(size):
    return measured(size, name="ragged")


def test_at_a_joint_to_be_reworked_what_is_likelier_wrong_than_not_is_named_too(monkeypatch):
    table(monkeypatch, {})
    verdict, by_name = judged_beside(1.0, ragged(0.27))  # limits 2 D and 0.25 D
    assert verdict is Verdict.RETAKE
    assert by_name["insulation-damage"].outcome is Outcome.DOUBT
    verdict, by_name = judged_beside(3.0, ragged(0.27))
    assert verdict is Verdict.REWORK
    also = by_name["insulation-damage"]
    assert also.outcome is Outcome.REWORK
    assert also.beside
    assert wording.RATHER_BAD in also.text
    assert also.remedy == next(m.remedy for m in also.limits if m.name == "ragged")
    assert wording.RATHER_BAD not in by_name["insulation-gap"].text
    _, by_name = judged_beside(3.0, ragged(0.23))  # more likely sound
    assert by_name["insulation-damage"].outcome is Outcome.DOUBT


@pytest.mark.parametrize(
    ("size", "worth", "second", "outcome"),
    [(0.0, 0.1, 2.0, "rework"), (0.0, 0.4, 2.0, "doubt"), (0.2, 0.1, -4.0, "doubt")],
)
def test_there_a_table_alone_may_name_what_the_network_is_sure_of(
    monkeypatch, size, worth, second, outcome
):
    # 0.1 by even odds is 0.31 on a bench of which four joints in five are sound; 0.4 is 0.73
    table(monkeypatch, {"insulation-damage.char": worth})
    monkeypatch.setattr(verdicts, "asked", lambda _check, items, _joint: items)
    char = replace(measured(size, 0.01, name="char"), second=second)
    verdict, by_name = judged_beside(3.0, char)
    assert verdict is Verdict.REWORK
    assert by_name["insulation-damage"].outcome == outcome
    assert judged_beside(1.0, char)[0] is Verdict.RETAKE  # it makes no rework on its own
    # nor does it name what, by the picture alone, is likelier not there
    faint = replace(char, quantity=replace(char.quantity, value=0.5), presence=0.45)
    assert judged_beside(3.0, faint)[1]["insulation-damage"].outcome is Outcome.DOUBT
