"""A joint vouched for as a whole: the bound, what speaks against it, what that changes."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest, norm

from inspector import uncertainty, whole
from inspector.checks import registry
from inspector.kinds import registry as kinds
from inspector.model import Fault, Faults, NotMeasured, Outcome, Verdict
from inspector.one_check import judge_check
from inspector.passing import rests_on
from inspector.proof import vouched, would_pass_words
from inspector.second import log_odds, overall
from inspector.settings import Settings, SettingsError
from inspector.uncertainty import Calibration, read_calibrations, write_calibrations
from inspector.verdict import judge
from inspector.whole import WHOLE, fit_whole, share_of_bad
from inspector.wording import LENS, OTHER_SIDE
from tests.defects import Drawing, view
from tests.made_checks import a_check, a_limit, measured, table

S = Settings()


def fitted(monkeypatch, bad, count=None):
    entry = {} if bad is None else {WHOLE: fit_whole(bad, len(bad) if count is None else count)}
    text = write_calibrations(entry) if entry else "{}"
    found = read_calibrations(text)
    for module in (uncertainty, whole):
        monkeypatch.setattr(module, "calibrations", lambda: found)


def opinion(v, level, **faults):
    grid = np.full((len(Fault), 60, 60), level, np.float32)
    for name, odds in faults.items():
        grid[Fault[name]] = odds
    patch = replace(v.joint.patch, faults=Faults(grid, (3.5, 3.5), 8.0))
    return replace(v, joint=replace(v.joint, patch=patch))


def judged(v):
    return judge(v.joint, v, registry(), kinds()["cup"], S)


@pytest.mark.parametrize("k", [0, 1, 4, 9])
def test_the_bound_is_that_of_clopper_and_pearson(monkeypatch, k):
    fitted(monkeypatch, [float(n) / 500 for n in range(200)])
    exact = binomtest(k, 200, alternative="less").proportion_ci(0.95, method="exact")
    # k of the bad ones have no more against them than the one that stands at k - 1
    at = (k - 1.0) / 500 if k else -1.0
    assert share_of_bad(at) == pytest.approx(exact.high, abs=1e-9)


def test_between_two_bad_joints_the_larger_share_counts_more_the_nearer(monkeypatch):
    fitted(monkeypatch, [float(n) / 100 for n in range(50)])
    shares = [share_of_bad(x) for x in (0.0, 0.005, 0.01, 0.2, 0.49, 0.69)]
    assert shares == sorted(shares)
    assert shares[0] < shares[1] < shares[2]
    assert shares[-1] == shares[-2] == pytest.approx(1.0)


def test_equal_ones_are_counted_together(monkeypatch):
    fitted(monkeypatch, [0.1] * 10 + [0.5] * 90)
    exact = binomtest(10, 100, alternative="less").proportion_ci(0.95, method="exact")
    assert share_of_bad(0.1) == pytest.approx(exact.high, abs=1e-9)


def test_bad_joints_that_are_caught_by_what_is_measured_count_as_caught(monkeypatch):
    fitted(monkeypatch, [0.1, 0.2], 200)
    exact = binomtest(1, 200, alternative="less").proportion_ci(0.95, method="exact")
    assert share_of_bad(0.1) == pytest.approx(exact.high, abs=1e-9)
    fitted(monkeypatch, [], 200)
    none = binomtest(0, 200, alternative="less").proportion_ci(0.95, method="exact")
    assert share_of_bad(0.0) == share_of_bad(0.6) == pytest.approx(none.high, abs=1e-9)


def test_where_an_opinion_may_lean_to_bad_nothing_is_vouched_for(monkeypatch):
    fitted(monkeypatch, [], 1000)
    assert share_of_bad(np.log(2.0) - 1e-9) < 0.01
    assert share_of_bad(np.log(2.0)) == 1.0


def test_without_calibration_nothing_is_vouched_for(monkeypatch):
    fitted(monkeypatch, None)
    assert share_of_bad(0.0) is None
    with pytest.raises(ValueError, match="9 bad joints"):
        fit_whole([0.1] * 9, 9)


def test_what_speaks_against_a_joint_is_the_log_of_the_chance_of_none():
    v = opinion(view(Drawing()), -4.0, HOLE=1.0)
    chances = [1 / (1 + np.exp(-log_odds(v.joint, fault))) for fault in Fault]
    assert overall(v.joint) == pytest.approx(-np.log(1 - np.array(chances)).sum(), abs=1e-9)
    assert overall(view(Drawing()).joint) is None


def test_a_wire_that_may_end_early_speaks_against_its_joint():
    clear, loud = (opinion(view(Drawing()), -6.0, SEATING=odds) for odds in (-6.0, 9.0))
    assert overall(loud.joint) > overall(clear.joint) + 5.0
    assert share_of_bad(overall(loud.joint)) == 1.0


@pytest.mark.parametrize(("level", "verdict"), [(-7.0, Verdict.PASS), (-1.0, Verdict.RETAKE)])
def test_a_joint_vouched_for_passes_on_finders_that_alone_are_unproven(monkeypatch, level, verdict):
    proof = {f"{c.name}.{name}": 0.8 for c in registry().values() for name in c.proof}
    table(monkeypatch, proof)
    fitted(monkeypatch, [float(n) / 10 for n in range(1, 400)])
    v = opinion(view(Drawing()), level)
    found = judged(v)
    assert found.verdict is verdict
    named = [f.check for f in found.findings]
    assert ("unproven" in named) == (verdict is Verdict.RETAKE)
    spike = next(f for f in found.findings if f.check == "spike")
    if verdict is Verdict.PASS:
        assert spike.outcome is Outcome.FINE
        assert "of 100 clearly bad joints in rendered pictures would pass like this" in spike.text
        assert spike.remedy == ""
        assert f"joint as a whole: {would_pass_words(share_of_bad(overall(v.joint)))}." in rests_on(
            found
        )
    else:
        assert spike.outcome is Outcome.NOT_SEEN


def test_where_each_finder_is_proven_the_pass_rests_on_each_check(monkeypatch):
    table(monkeypatch, {f"{c.name}.{name}": 0.97 for c in registry().values() for name in c.proof})
    fitted(monkeypatch, [float(n) / 10 for n in range(1, 400)])
    found = judged(opinion(view(Drawing()), -7.0))
    assert found.verdict is Verdict.PASS
    assert "on each check alone" in rests_on(found)


def test_what_is_measured_counts_however_sound_the_joint_looks(monkeypatch):
    proof = {f"{c.name}.{name}": 0.8 for c in registry().values() for name in c.proof}
    table(monkeypatch, proof)
    fitted(monkeypatch, [float(n) / 10 for n in range(1, 400)])
    for gap, said, outcome in (
        (3.2, 0.0, Outcome.REWORK),
        (3.2, -7.0, Outcome.DOUBT),
        (1.41, -7.0, Outcome.DOUBT),
    ):
        found = judged(opinion(view(Drawing(gap=gap)), -7.0, GAP=said))
        finding = next(f for f in found.findings if f.check == "insulation-gap")
        assert finding.outcome is outcome
        assert found.verdict is not Verdict.PASS


@pytest.mark.parametrize("level", [-8.0, -5.0, -3.0])
def test_what_does_not_show_is_not_vouched_for(monkeypatch, level):
    # the end is hidden, so that nobody can say whether it is ragged
    table(monkeypatch, {"insulation-damage.char": 0.8})
    fitted(monkeypatch, [], 1000)
    check = registry()["insulation-damage"]
    char = replace(measured(0.0, name="char", u=0.01), second=level)
    hidden = NotMeasured("ragged", "the insulation's end does not show across the wire")
    finding = judge_check(check, (char, hidden), S)
    (found,) = vouched([finding], registry(), S.fine, 0.01)
    assert found.outcome is Outcome.NOT_SEEN
    assert "does not show across the wire" in found.text


@pytest.mark.parametrize("by_eye", [True, False])
def test_what_only_an_eye_can_decide_advises_a_lens(monkeypatch, by_eye):
    table(monkeypatch, {"a-check.gap": 0.8})
    lines = NotMeasured("lines", "a lens tells them apart", by_eye)
    check = a_check(a_limit(), a_limit("lines"))
    finding = judge_check(check, (measured(0.0, 0.01), lines), S)
    (found,) = vouched([replace(finding, outcome=Outcome.DOUBT)], {"a-check": check}, S.fine, 0.01)
    for said in (judge_check(check, (lines,), S), found):
        assert said.outcome is Outcome.NOT_SEEN
        assert "a lens tells them apart" in said.text
        assert said.remedy == (LENS if by_eye else OTHER_SIDE)


def test_a_workshop_may_ask_for_more():
    assert Settings(overlooked=0.0).overlooked == 0.0  # then nothing is vouched for
    with pytest.raises(SettingsError, match="overlooked"):
        Settings(overlooked=1.0)


TRACE = {"value": 0.9, "u": 0.3, "second": -5.0, "thing": "a thing"}  # limit 1.0: 63 % likely none


@pytest.mark.parametrize(
    ("changed", "outcome"),
    [
        ({}, Outcome.FINE),
        ({"second": -0.1}, Outcome.FINE),  # leans to nothing too
        ({"second": 0.1}, Outcome.DOUBT),
        ({"second": None}, Outcome.DOUBT),
        ({"value": 1.1}, Outcome.DOUBT),  # leans to bad
        ({"value": 3.0, "second": None}, Outcome.REWORK),
        ({"value": 3.0}, Outcome.DOUBT),  # contradicted, yet over its limit
        ({"thing": ""}, Outcome.DOUBT),  # a size that every joint has
        ({"known": False}, Outcome.DOUBT),  # calibration scenes say nothing of it
    ],
)
def test_a_trace_that_leans_to_nothing_is_fine_at_a_joint_vouched_for(
    monkeypatch, changed, outcome
):
    case = {**TRACE, **changed}
    normal = tuple((float(z), float(norm.cdf(z))) for z in np.linspace(-8, 8, 321))
    known = {"a-check.gap": Calibration(conformance=normal)} if case.get("known", True) else {}
    monkeypatch.setattr(uncertainty, "calibrations", lambda: known)
    check = a_check(replace(a_limit(value=1.0), thing=case["thing"]))
    item = replace(measured(case["value"], case["u"]), second=case["second"])
    before = judge_check(check, (item,), S)
    (after,) = vouched([before], {check.name: check}, S.fine, 0.02)
    assert after.outcome is outcome
    if outcome is Outcome.FINE:
        assert before.outcome is Outcome.DOUBT
        assert "what is seen leans to sound, and fewer than 3 of 100" in after.text
        assert after.remedy == ""
    else:
        assert after == before
