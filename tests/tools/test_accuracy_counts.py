"""What counts as caught, missed and falsely sent back."""

import json

import numpy as np
import pytest
from scipy.stats import beta

from made_results import case, found, measured, photo, true_joint
from tools.accuracy import tally
from tools.accuracy.__main__ import main
from tools.accuracy.intervals import Share, kappa
from tools.accuracy.records import ResultsError, in_view, photo_state, read_results
from tools.accuracy.tally_regions import strands

LONG_GAP = {"insulation-gap": "bad"}


def gap_finding(outcome="rework", *, where=((200.0, 300.0), (300.0, 300.0)), p=0.0):
    return (outcome, measured("gap", 3.0, p=p, where=where))


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [
        (5, 10, 0.1871, 0.8129),  # in many a table of Clopper-Pearson intervals
        (1, 20, 0.0013, 0.2487),
        (0, 10, 0.0, 1 - 0.025**0.1),
        (10, 10, 0.025**0.1, 1.0),
    ],
)
def test_intervals_are_the_exact_ones(hits, n, low, high):
    assert np.allclose(Share(hits, n).interval, (low, high), atol=6e-5)


def test_intervals_agree_with_the_beta_distribution():
    low, high = Share(7, 230).interval
    assert low == pytest.approx(beta.ppf(0.025, 7, 224), abs=1e-9)
    assert high == pytest.approx(beta.ppf(0.975, 8, 223), abs=1e-9)


def test_nothing_counted_is_no_share():
    assert Share(0, 0).value is None
    assert Share(0, 0).text == "no cases"
    assert Share(2, 100).text == "2.0 % (0.2 to 7.0), 2 of 100"


def test_kappa_of_the_textbook_example():
    assert kappa(20, 5, 10, 15) == pytest.approx(0.4)
    assert kappa(10, 0, 0, 10) == 1.0
    assert kappa(10, 0, 0, 0) is None


def test_a_rework_for_what_is_bad_and_in_its_place_is_caught():
    truth = true_joint(holds=LONG_GAP)
    assert tally.answer(case(truth, found(1, "rework", insulation_gap=gap_finding()))) == "caught"


def test_a_rework_for_something_else_is_a_miss():
    truth = true_joint(holds=LONG_GAP)
    spike = ("rework", measured("height", 1.0, p=0.0, where=[(300.0, 300.0)]))
    wrong = case(truth, found(1, "rework", spike=spike, insulation_gap=gap_finding("fine", p=0.99)))
    assert tally.answer(wrong) == "wrong"
    assert tally.by_joint([wrong]).missed.hits == 1


def test_a_rework_in_the_wrong_place_is_a_miss():
    truth = true_joint(holds=LONG_GAP)
    far = gap_finding(where=[(700.0, 300.0)])
    assert tally.answer(case(truth, found(1, "rework", insulation_gap=far))) == "wrong"


def test_a_defect_with_a_place_of_its_own_must_be_named_there():
    hole = {"check": "surface", "name": "holes", "size": 1.0, "where": [420.0, 300.0]}
    truth = true_joint(holds={"surface": "bad"}, planted=[hole])

    def answer(x):
        finding = ("rework", measured("hole", 0.2, p=0.0, where=[(x, 300.0)]))
        return tally.answer(case(truth, found(1, "rework", surface=finding)))

    assert answer(350.0) == "caught"  # 0.7 D away
    assert answer(210.0) == "wrong"  # on the joint, but 2.1 D away


def test_a_strand_may_be_named_anywhere_along_it():
    path = [[300.0, 300.0], [300.0, 100.0]]
    truth = true_joint(holds={"stray-strand": "bad"}, strands=[{"path": path, "visible_mm": 9.0}])
    tip = ("rework", measured("length", 9.0, unit="mm", p=0.0, where=[(310.0, 110.0)]))
    assert tally.answer(case(truth, found(1, "rework", stray_strand=tip))) == "caught"


def test_a_lost_joint_passes_unless_the_photo_is_to_be_retaken():
    truth = true_joint(holds=LONG_GAP)
    assert tally.answer(case(truth, None, "pass")) == "pass"
    assert tally.answer(case(truth, None, "rework")) == "pass"
    assert tally.answer(case(truth, None, "retake")) == "retake"


def test_near_and_hidden_ones_are_neither_bad_nor_sound():
    assert case(true_joint(), None).clear == "sound"
    assert case(true_joint(holds={"spike": "near"}), None).clear == "near"
    assert case(true_joint(holds={"stray-strand": "not-seen"}), None).clear == "near"
    assert case(true_joint(holds={"spike": "near", "surface": "bad"}), None).clear == "bad"


def test_beside_a_bridge_nothing_is_clear():
    bridge = {"check": "bridge", "name": "bridge", "size": 0.0, "where": [0.0, 0.0]}
    joined = true_joint(1, holds={"bridge": "bad"}, planted=[bridge])
    other = true_joint(2, at=400.0)
    record = photo(1, "rework", [joined, other])
    assert tally.Case(record, joined, None).holds["bridge"] == "bad"
    assert tally.Case(record, other, None).holds["bridge"] == "near"


def test_in_view_is_by_truth_alone():
    size = (800, 600)
    assert in_view(true_joint(), size)
    assert not in_view(true_joint(at=620.0), size)  # the cup reaches over the edge
    assert not in_view(true_joint(lip_visible=False), size)
    assert not in_view(true_joint() | {"d_px": 20.0}, size)
    assert not in_view(true_joint() | {"tilt_deg": 56.0}, size)


def five_photos():
    bad, sound = true_joint(holds=LONG_GAP), true_joint()
    cut = true_joint(2, at=650.0)
    return [
        photo(1, "rework", [bad], [found(1, "rework", insulation_gap=gap_finding())]),
        photo(2, "pass", [bad], [found(1, "pass", insulation_gap=gap_finding("fine", p=0.97))]),
        photo(3, "retake", [sound], [found(1, "retake", fillet=("not-seen",), focus=("doubt",))]),
        photo(4, "rework", [sound], [found(1, "rework", insulation_gap=gap_finding())]),
        photo(5, "retake", [sound, cut], [found(1, "pass")]),
    ]


def test_photos_are_counted_once_and_cut_ones_apart():
    photos, apart = tally.by_photo(five_photos())
    assert (photos.missed.hits, photos.missed.n) == (1, 2)
    assert (photos.false_rework.hits, photos.false_rework.n) == (1, 2)
    assert (photos.retaken.hits, photos.retaken.n) == (1, 4)
    assert dict(apart) == {"retake": 1}
    assert photo_state(five_photos()[4]) == "apart"
    # answered: bad caught, bad passed, sound sent back: (1/3 - 5/9) / (1 - 5/9)
    assert photos.kappa == pytest.approx(-0.5)


def test_only_what_could_have_caused_a_retake_is_a_reason():
    reasons = tally.retake_reasons(five_photos())
    assert ("focus doubt", 1, 1) in reasons
    assert not any("fillet" in why for why, _, _ in reasons)  # no cup needs its fillet seen


def test_checks_are_counted_by_truth_and_place():
    truth = true_joint(holds=LONG_GAP)
    there = case(truth, found(1, "rework", insulation_gap=gap_finding()))
    away = case(truth, found(1, "rework", insulation_gap=gap_finding(where=[(700.0, 300.0)])))
    counts = tally.by_check([there, away, case(truth, None)])["insulation-gap"]["bad"]
    assert counts == {"rework": 1, "wrong-place": 1, "lost": 1}


def test_unusable_photos_are_counted_by_reason():
    records = [
        photo(1, "retake", [], because="focus"),
        photo(2, "pass", [], because="focus"),
        photo(3, None, [], because="size", failed="ValueError: x (a.py:1)"),
    ]
    assert tally.unusable(records) == {"focus": Share(1, 2)}


@pytest.mark.parametrize(
    ("d_px", "name"), [(10, "under 24"), (24, "24-40"), (55.9, "40-56"), (900, "200 and over")]
)
def test_bins_of_size(d_px, name):
    assert tally.d_bin(d_px) == name


def test_false_strands_are_counted_on_joints_without_any():
    finding = ("rework", measured("strands", 1.0, unit="1"))
    one = case(true_joint(), found(1, "rework", stray_strand=finding))
    other = case(true_joint(), found(1, "pass", stray_strand=("fine",)))
    assert strands([one, other])["false_a_joint"] == 0.5


def test_results_that_cannot_be_used_get_a_sentence(tmp_path, capsys):
    path = tmp_path / "r.jsonl"
    with pytest.raises(ResultsError, match="cannot be read"):
        read_results(path)
    path.write_text("{}\n")
    with pytest.raises(ResultsError, match="Line 1"):
        read_results(path)
    path.write_text("")
    assert main(["tune", str(path)]) == 2
    assert "run look first" in capsys.readouterr().err


def test_the_development_report_names_the_worst(tmp_path, capsys):
    path = tmp_path / "r.jsonl"
    path.write_text("".join(json.dumps(r) + "\n" for r in five_photos()))
    assert main(["tune", str(path)]) == 0
    text = capsys.readouterr().out
    assert "MISSES OF BAD JOINTS: 1" in text
    assert "0000002 joint 1" in text.split("MISSES")[1].split("FALSE REWORKS")[0]
    assert "FALSE REWORKS OF SOUND JOINTS: 1" in text
    assert "gap 3 (u 0.05, p 0.97, true 1)" in text
