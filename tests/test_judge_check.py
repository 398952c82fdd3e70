"""One check judged: conformance against JCGM 106 and scipy, the decision rule, its words."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.stats import norm

from inspector import checks, look, proof, uncertainty, verdict, wording
from inspector.errors import SettingsError
from inspector.model import Job, Measurement, NotMeasured, Outcome, Quantity
from inspector.one_check import judge_check, outcome_of
from inspector.photo import make_photo
from inspector.probability import conformance
from inspector.settings import Settings
from inspector.uncertainty import Calibration
from tests.made_checks import a_check, a_limit, measured, table

S = Settings()


def test_worked_examples_of_jcgm_106():
    # JCGM 106:2012 clause 7, worked examples; numbers from memory
    assert conformance(-5.47, 0.05, "max", -5.40) == pytest.approx(0.92, abs=0.005)  # Zener diode
    assert conformance(509.7, 8.6, "min", 490.0) == pytest.approx(0.99, abs=0.005)  # container, kPa
    # motor oil, 12.5 to 16.3 mm2/s, y = 13.6, u = 1.8: two limits of one measurement
    oil = a_check(a_limit(sense="min", value=12.5), a_limit(sense="max", value=16.3))
    p = judge_check(oil, (measured(13.6, 1.8),), S).conformance
    assert p == pytest.approx(0.66, abs=0.005)


@given(st.floats(-50, 50), st.floats(0.01, 20), st.floats(-50, 50), st.sampled_from(["max", "min"]))
def test_conformance_is_the_normal_tail(value, u, limit, sense):
    tail = norm.cdf(limit, value, u) if sense == "max" else norm.sf(limit, value, u)
    assert conformance(value, u, sense, limit) == pytest.approx(tail, abs=1e-9)


@given(st.floats(0.001, 10), st.floats(0.01, 2), st.floats(0.01, 2))
def test_more_uncertainty_never_makes_a_good_value_surer(margin, u, more):
    assert conformance(-margin, u + more, "max", 0.0) <= conformance(-margin, u, "max", 0.0)


def test_a_certain_value_is_decided():
    assert conformance(1.0, 0.0, "max", 2.0) == 1.0
    assert conformance(3.0, 0.0, "max", 2.0) == 0.0


@pytest.mark.parametrize(
    ("p", "outcome"),
    [(0.95, "fine"), (0.949, "doubt"), (0.201, "doubt"), (0.2, "rework"), (0.0, "rework")],
)
def test_decision_rule(p, outcome):
    assert outcome_of(p, S) == outcome


def test_thresholds_are_settings():
    assert outcome_of(0.9, Settings(fine=0.85)) is Outcome.FINE
    assert outcome_of(0.25, Settings(rework=0.3)) is Outcome.REWORK


def test_own_limits_replace_the_default():
    own = Settings(limits={"a-check.gap": 3.0})
    assert judge_check(a_check(), (measured(2.5),), S).outcome is Outcome.REWORK
    finding = judge_check(a_check(), (measured(2.5),), own)
    assert finding.outcome is Outcome.FINE
    assert finding.limits[0].value == 3.0


def test_at_a_limit_of_ones_own_no_table_makes_fine_what_is_not_measured_to_be_so(monkeypatch):
    table(monkeypatch, {"a-check.gap": 0.99})  # made for the usual limit of 2 D
    for limit, outcome in ((2.0, Outcome.FINE), (1.95, Outcome.DOUBT), (2.2, Outcome.FINE)):
        own = Settings(limits={"a-check.gap": limit})
        assert judge_check(a_check(), (measured(1.9),), own).outcome is outcome


def test_a_mistyped_limit_is_refused_with_the_right_name():
    checks.check_limits(["insulation-gap.gap", "fillet.convexity-left"])
    with pytest.raises(SettingsError, match="No check has a limit named"):
        checks.check_limits(["insulation_gap.gap"])
    with pytest.raises(SettingsError) as caught:
        look(
            make_photo(np.zeros((64, 64, 3), np.uint8), "a.png"),
            Job(),
            Settings(limits={"stray-strand.lenght": 1}),
        )
    assert "stray-strand.length" in str(caught.value)


def test_words_carry_number_limit_and_unit():
    finding = judge_check(a_check(), (measured(2.61),), S)
    assert finding.text == "It is 2.61 ± 0.20 D, over 2 D."
    assert finding.about == "gap"
    assert finding.remedy == "Do it."
    doubt = judge_check(a_check(), (measured(1.95),), S)
    assert doubt.outcome is Outcome.DOUBT
    assert "1.9" in doubt.text or "2" in doubt.text
    assert "by hand" in doubt.remedy  # a sharp value at the limit: no photo will tell


def test_the_worst_measurement_decides():
    check = a_check(a_limit(), a_limit("other"))
    both = judge_check(check, (measured(0.5), measured(5.0, name="other")), S)
    assert both.outcome is Outcome.REWORK
    part = judge_check(check, (measured(0.5), NotMeasured("other", "it is hidden")), S)
    assert part.outcome is Outcome.NOT_SEEN
    assert "it is hidden" in part.text
    worse = judge_check(check, (measured(5.0), NotMeasured("other", "it is hidden")), S)
    assert worse.outcome is Outcome.REWORK


def test_a_limit_without_its_measurement_does_not_apply_but_one_must():
    check = a_check(a_limit(), a_limit("other"))
    assert judge_check(check, (measured(0.5),), S).outcome is Outcome.FINE
    assert judge_check(check, (), S).outcome is Outcome.NOT_SEEN
    assert judge_check(check, (measured(1.0, name="extra"),), S).outcome is Outcome.NOT_SEEN


def test_units_must_agree():
    with pytest.raises(ValueError, match="is in mm"):
        judge_check(a_check(), (measured(1.0, unit="mm"),), S)


@pytest.mark.parametrize(("presence", "outcome"), [(0.04, "fine"), (0.5, "doubt"), (0.9, "rework")])
def test_what_may_not_be_there_at_all(presence, outcome):
    finding = judge_check(a_check(), (measured(9.0, presence=presence),), S)
    assert finding.outcome == outcome
    assert finding.conformance == pytest.approx(1 - presence, abs=1e-6)


def test_calibrated_table_takes_the_place_of_the_normal_law(monkeypatch):
    table(monkeypatch, {"a-check.gap": 0.5})
    assert judge_check(a_check(), (measured(0.1),), S).outcome is Outcome.DOUBT


def test_a_table_cannot_put_a_value_over_its_limit(monkeypatch):
    table(monkeypatch, {"a-check.gap": 0.01})
    assert judge_check(a_check(), (measured(0.1),), S).outcome is Outcome.DOUBT
    assert judge_check(a_check(), (measured(9.0),), S).outcome is Outcome.REWORK


@pytest.mark.parametrize(
    ("value", "best", "outcome"),
    [
        (0.0, 0.97, "fine"),  # few enough are overlooked
        (0.0, 0.80, "not-seen"),  # too many are: one doubt for all such checks
        (1.95, 0.80, "doubt"),  # a faint trace is a doubt of its own
    ],
)
def test_none_seen_counts_as_much_as_the_calibration_says(monkeypatch, value, best, outcome):
    table(monkeypatch, {"a-check.gap": best})
    check = a_check()
    found = judge_check(check, (measured(value),), S)
    out = proof.unproven([found], {"a-check": check}, 1, S.fine)
    assert out[0].outcome == outcome
    assert [f.check for f in out[1:]] == (["unproven"] if outcome == "not-seen" else [])


def test_what_the_photo_does_not_show_keeps_its_reason_where_the_rest_is_not_proven(monkeypatch):
    table(monkeypatch, {"a-check.gap": 0.8})
    check = a_check(a_limit(), a_limit("width"))
    found = judge_check(check, (measured(0.0), NotMeasured("width", "the sleeve hides it")), S)
    told, doubt = proof.unproven([found], {"a-check": check}, 1, S.fine)
    assert (told.outcome, told.about, told.remedy) == ("not-seen", "width", wording.OTHER_SIDE)
    assert "the sleeve hides it" in told.text
    assert [item.because for item in told.measured] == [proof.NOT_SHOWN, "the sleeve hides it"]
    assert doubt.check == "unproven"


def test_a_doubt_where_none_is_measured_does_not_call_it_close(monkeypatch):
    monkeypatch.setattr(uncertainty, "calibrations", dict)
    found = judge_check(a_check(), (measured(0.0, 2.0),), S)
    assert found.outcome is Outcome.DOUBT
    assert "0 D (0 to 4 D), limit <= 2 D: none is measured, but more than the limit" in found.text
    near = judge_check(a_check(), (measured(0.1, 2.0),), S)
    assert wording.TOO_CLOSE in near.text


def test_a_doubt_speaks_of_what_shows_before_what_is_only_not_proven(monkeypatch):
    table(monkeypatch, {"a-check.gap": 0.5, "a-check.width": 0.8})
    check = a_check(a_limit(), a_limit("width"))
    found = judge_check(check, (measured(0.0), measured(1.95, name="width")), S)
    assert found.outcome is Outcome.DOUBT
    assert found.about == "width"
    assert found.conformance == 0.5


@pytest.mark.parametrize(
    ("second", "known", "outcome"),
    [
        (None, True, "rework"), (3.0, True, "rework"), (-2.9, True, "rework"),
        (-3.0, True, "doubt"), (0.1, False, "rework"), (-0.1, False, "doubt"),
    ],
)  # fmt: skip
def test_a_rework_that_the_second_opinion_contradicts_is_a_doubt(
    monkeypatch, second, known, outcome
):
    # the log-odds of 0.05 are -2.944; of what was never calibrated less is enough
    fitted = {"a-check.gap": Calibration(scenes=10)} if known else {}
    monkeypatch.setattr(uncertainty, "calibrations", lambda: fitted)
    found = judge_check(a_check(), (replace(measured(3.0), second=second),), S)
    assert found.outcome == outcome
    if outcome == "doubt":
        assert "3.00 ± 0.20 D, limit <= 2 D; but nothing else" in found.text
        assert found.remedy == wording.LOOK_CLOSELY


@pytest.mark.parametrize(
    ("second", "outcome"),
    [(None, "rework"), (1.4, "rework"), (1.3, "doubt"), (0.0, "doubt"), (-4.0, "doubt")],
)
def test_what_no_sound_joint_could_calibrate_is_a_rework_only_where_two_say_so(
    monkeypatch, second, outcome
):
    # the log-odds of 0.8, one minus the probability of conformance up to which it is a rework
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": Calibration()})
    check = replace(a_check(), backed=("gap",))
    found = judge_check(check, (replace(measured(3.0), second=second),), S)
    assert found.outcome == outcome
    if outcome == "doubt":
        assert "limit <= 2 D; but too little else in the picture looks like it" in found.text
        assert found.remedy == wording.LOOK_CLOSELY


@pytest.mark.parametrize("second", [-5.0, -2.0, 0.0])
def test_a_wire_that_seems_not_seated_is_never_vouched_for_nor_called_unseen(second):
    """However sound the joint looks as a whole: what is measured over its limit stays a doubt."""
    reach = Measurement("reach", Quantity(20.0, 5.0, "%"), (), second=second)
    doubt = judge_check(checks.registry()["seating"], (reach,), S)
    assert doubt.outcome is Outcome.DOUBT
    assert proof.vouched([doubt], checks.registry(), S.fine, 0.01) == [doubt]
    assert proof.unproven([doubt], checks.registry(), 1, S.fine) == [doubt]
    well_in = judge_check(checks.registry()["seating"], (replace(
        reach, quantity=Quantity(95.0, 5.0, "%")),), S)  # fmt: skip
    assert proof.vouched([well_in], checks.registry(), S.fine, 0.01)[0].outcome is Outcome.FINE


@pytest.mark.parametrize(("second", "outcome"), [(2.0, "rework"), (0.0, "doubt")])
def test_a_wire_that_seems_not_seated_is_a_rework_only_where_two_say_so(second, outcome):
    reach = Measurement("reach", Quantity(20.0, 5.0, "%"), (), second=second)
    found = judge_check(checks.registry()["seating"], (reach,), S)
    assert found.outcome == outcome


def test_a_value_far_over_its_limit_that_decides_nothing_is_not_called_too_close(monkeypatch):
    # its table mistrusts it, and so does the second opinion
    doubtful = Calibration(conformance=((-8.0, 0.7), (8.0, 0.7)))
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": doubtful})
    found = judge_check(a_check(), (replace(measured(3.0), second=-4.0),), S)
    assert found.outcome is Outcome.DOUBT
    assert "3.00 ± 0.20 D, limit <= 2 D; but nothing else" in found.text
    near = judge_check(a_check(), (replace(measured(1.9), second=-4.0),), S)
    assert near.outcome is Outcome.DOUBT
    assert "too close to tell" in near.text


@pytest.mark.parametrize(("worth", "blind"), [(0.7, True), (0.97, False)])
def test_none_seen_by_a_blunt_eye_is_not_proven_rather_than_too_close(monkeypatch, worth, blind):
    # nothing is seen; by the normal law that is worth 97.7 %, by the table less
    table_ = Calibration(conformance=((-8.0, 0.01), (2.0, worth), (8.0, 0.99)))
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": table_})
    check = a_check()
    found = judge_check(check, (measured(0.0, 1.0),), S)
    assert proof.is_blind(measured(0.0, 1.0), check.limits, check, S.fine) is blind
    outcomes = [f.outcome for f in proof.unproven([found], {"a-check": check}, 1, S.fine)]
    assert outcomes == ([Outcome.NOT_SEEN, Outcome.DOUBT] if blind else [Outcome.FINE])
    near = measured(0.1, 1.0)  # something is seen
    assert not proof.is_blind(near, check.limits, check, S.fine)


def test_a_limit_of_the_workshops_own_asks_of_what_is_measured_beside_none_seen(monkeypatch):
    """However sound the joint is as a whole: tables and opinions know the default limit alone."""
    sure = Calibration(conformance=((-8.0, 0.01), (0.0, 0.99), (8.0, 0.99)), second=0.5)
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": sure})
    check = replace(
        a_check(a_limit(), replace(a_limit("width"), thing="a width")), proof=("width",)
    )
    known = {"a-check": check}
    items = (replace(measured(1.0, 0.4), second=-8.0), measured(0.0, name="width", presence=0.0))

    def outcome(settings):
        found = judge_check(check, items, settings)
        return proof.vouched([found], known, settings.fine, 0.01)[0].outcome

    assert outcome(S) is Outcome.FINE
    own = replace(S, limits={"a-check.gap": 1.5})  # 89 % by the normal law
    assert own.limit("a-check", "gap", 2.0) == 1.5
    assert outcome(own) is Outcome.DOUBT


def test_no_table_makes_fine_what_is_measured_over_the_limit(monkeypatch):
    sure = Calibration(conformance=((-8.0, 0.99), (8.0, 0.99)), second=1.0)
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": sure})
    check = a_check(a_limit(), replace(a_limit("width"), thing="a width"))
    over = replace(measured(2.4), second=-8.0)
    found = judge_check(check, (over,), S)
    assert found.outcome is Outcome.DOUBT
    blind = measured(0.0, name="width", presence=0.0)
    check = replace(check, proof=("width",))
    both = judge_check(check, (over, blind), S)
    alone = judge_check(check, (blind,), S)
    assert proof.vouched([alone], {"a-check": check}, S.fine, 0.01)[0].outcome is Outcome.FINE
    assert proof.vouched([both], {"a-check": check}, S.fine, 0.01)[0].outcome is Outcome.DOUBT


@pytest.mark.parametrize(
    ("top", "second", "outcome"),
    [
        (0.98, -6.0, "fine"),
        (0.98, 6.0, "doubt"),  # suspicion: nothing measured, but it looks like it
        (0.98, None, "not-seen"),  # proven only with a second opinion, and there is none
        (0.80, -6.0, "not-seen"),  # too many are overlooked whatever it says
        (0.80, 6.0, "doubt"),  # a suspicion is none the less
    ],
)
def test_what_the_second_opinion_makes_of_none_seen(monkeypatch, top, second, outcome):
    half = Calibration(
        conformance=((-2.0, 0.02), (2.0, 0.5), (6.0, 0.9 * top), (7.0, top)), second=0.5
    )
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": half})
    check = a_check(replace(a_limit(), thing="a gap"))
    found = judge_check(check, (replace(measured(0.0), second=second),), S)
    out = proof.unproven([found], {"a-check": check}, 1, S.fine)
    assert out[0].outcome == outcome
    assert [f.check for f in out[1:]] == (["unproven"] if outcome == "not-seen" else [])
    if outcome == "doubt":
        said = (
            "A check: none that counts is measured, but something in the picture looks like a gap."
        )
        assert (out[0].text, out[0].remedy) == (said, wording.LOOK_CLOSELY)
        assert out[0].conformance == pytest.approx(0.38)  # at a score of 8 / 2 - 6 / 2


@pytest.mark.parametrize(("value", "presence"), [(1.95, 1.0), (9.0, 0.04)])
def test_a_trace_that_shows_speaks_for_itself(monkeypatch, value, presence):
    half = Calibration(conformance=((-2.0, 0.1), (3.0, 0.99)), second=0.5)
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": half})
    item = replace(measured(value, presence=presence), second=6.0)
    check = a_check()
    assert not proof.is_suspected(item, check.limits, check, S.fine)
    found = judge_check(check, (item,), S)
    assert found.outcome is Outcome.DOUBT
    assert "in the picture" not in found.text


def test_a_share_under_suspicion_is_said_with_its_number(monkeypatch):
    half = Calibration(conformance=((-2.0, 0.1), (3.0, 0.99)), second=0.5)
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"a-check.gap": half})
    found = judge_check(a_check(), (replace(measured(0.5), second=8.0),), S)
    assert found.text == (
        "A check: gap 0.50 ± 0.20 D keeps the limit <= 2 D, but something in the picture looks"
        " as if it did not."
    )


@pytest.mark.parametrize(
    ("value", "expected"),
    [(1.95, Outcome.NOT_SEEN), (2.05, Outcome.DOUBT), (3.0, Outcome.REWORK), (1.0, Outcome.FINE)],
)
def test_doubt_on_what_is_not_needed_presses_only_if_it_leans_to_bad(value, expected):
    finding = judge_check(a_check(), (measured(value),), S)
    assert verdict.unpressed(finding).outcome is expected


def test_doubt_says_what_to_do_differently():
    def remedy(part, presence=1.0):
        q = Quantity(1.8, 0.6, "D", {part: 0.6})
        return judge_check(a_check(), (Measurement("gap", q, (), presence),), S).remedy

    assert remedy("tilt") == wording.SQUARE
    assert remedy("wire size") == wording.NAME_WIRE
    assert remedy("edges") == wording.CLOSER
    assert remedy("edges", presence=0.5).startswith(wording.LESS_GLARE)
