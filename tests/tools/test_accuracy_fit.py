"""Measurements beside their truth, calibration from them, and the reported tables."""

import json

import numpy as np
import pytest

from inspector import checks
from inspector.uncertainty import Calibration, read_calibrations
from made_results import case, found, measured, photo, true_joint
from tools.accuracy import fit
from tools.accuracy.__main__ import main
from tools.accuracy.compare import pairs
from tools.accuracy.fit import FIRST_SEED, calibrate, share_of_second, state, z_of
from tools.accuracy.looks import normal_law
from tools.accuracy.records import Case, ResultsError
from tools.accuracy.table import tables


def gaps(first_seed, count=400, sigma=0.1, raw=0.05):
    """Photos whose gaps are measured with normal errors of `sigma`, said to be `raw`."""
    rng = np.random.default_rng(5)
    records = []
    for number in range(count):
        true = float(rng.uniform(0.2, 1.5))
        value = true + float(rng.normal(0, sigma))
        joint = found(1, "pass", insulation_gap=("fine", measured("gap", value, u=0.2, raw=raw)))
        records.append(
            photo(first_seed + number, "pass", [true_joint(values={"gap_D": true})], [joint])
        )
    return records


def spikes(first_seed):
    """30 sound, 30 bad and 30 near-limit joints; the bad ones are seen, the others not."""
    records = []
    for number in range(90):
        size = (0.0, 2.0, 0.6)[number % 3]
        item = measured("height", 2.0 if size == 2.0 else 0.0, raw=0.1, unit="mm")
        joint = found(1, "pass", spike=("fine", item))
        records.append(
            photo(first_seed + number, "pass", [true_joint(values={"spike_mm": size})], [joint])
        )
    return records


def test_sides_of_the_fillet_are_those_of_the_truth():
    fillet = [
        {"side": s, "angle_conductor_deg": a, "angle_cup_deg": 40.0, "convexity": -0.1}
        for s, a in ((-1, 20.0), (1, 60.0))
    ]
    items = [
        measured("angle-conductor-left", 25.0, unit="deg"),
        measured("angle-conductor-right", 50.0, unit="deg"),
        measured("convexity-left", -0.2, unit="chord"),
    ]
    joint = found(1, "pass", fillet=("fine", *items))
    rows = pairs([case(true_joint(values={"fillet": fillet}), joint)])
    assert [(p.key, round(p.error, 6)) for p in rows] == [
        ("fillet.angle-conductor", 5.0),
        ("fillet.angle-conductor", -10.0),
        ("fillet.convexity", -0.1),
    ]


def test_what_is_absent_says_nothing_about_the_error():
    seen = measured("height", 1.2, unit="mm")
    none = measured("height", 0.0, unit="mm")

    def count(size, item):
        truth = true_joint(values={"spike_mm": size})
        return len(pairs([case(truth, found(1, "pass", spike=("fine", item)))]))

    assert count(1.0, seen) == 1
    assert count(0.0, seen) == count(1.0, none) == count(0.0, none) == 0


def test_an_area_beside_the_joint_is_compared_in_percent_of_d_squared():
    truth = true_joint(values={"surplus_area_D2": 0.29, "embed_area_D2": 0.0})
    found_areas = found(
        1,
        "rework",
        excess_solder=("rework", measured("surplus", 40.0, unit="%")),
        insulation_gap=("doubt", measured("embedded", 2.0, unit="%")),
    )
    (pair,) = pairs([case(truth, found_areas)])
    assert pair.key == "excess-solder.surplus"
    assert pair.truth == pytest.approx(29.0)


def test_joints_wetted_all_round_say_nothing_of_the_error_where_something_is_dry():
    """Of 100 joints 80 are wetted and measured so exactly; the others are off by 10 or so."""
    rng = np.random.default_rng(8)
    records = []
    for number in range(100):
        true = 1.0 if number % 5 else float(rng.uniform(0.2, 0.8))
        off = 0.0 if number % 5 else float(rng.normal(0, 10))
        item = measured("wetted", 100 * true + off, u=1.0, raw=1.0, unit="%")
        truth = true_joint(values={"wetted": true, "dry_stretch_conductor_diameters": 0.0})
        joint = found(1, "pass", wetting=("fine", item))
        records.append(photo(2_000_000 + number, "pass", [truth], [joint]))
    text, _ = calibrate(records)
    fit = read_calibrations(text)["wetting.wetted"]
    assert fit.scenes == 20
    assert 7.0 < np.hypot(fit.factor, fit.floor) < 20.0


def test_the_raw_uncertainty_is_what_is_fitted():
    text, _ = calibrate(gaps(2_000_000))
    fit = read_calibrations(text)["insulation-gap.gap"]
    assert 0.94 <= fit.covers <= 0.97
    u = np.hypot(fit.factor * 0.05, fit.floor)
    assert u == pytest.approx(0.1, rel=0.12)  # the errors' own standard deviation
    assert fit.scenes == 400


def test_near_limit_joints_teach_the_table_nothing():
    text, notes = calibrate(spikes(2_000_000))
    assert "spike.height: table of 2 from 30 sound, 30 bad, second opinion 0" in notes
    table = read_calibrations(text)["spike.height"].conformance
    assert table[0][1] < 0.05
    assert table[-1][1] > 0.95


def overlooked(opinion, count=120):
    """Spikes half of which are overlooked; `opinion` gives what is said of a bad or sound joint."""
    records = []
    for number in range(count):
        bad = number % 2 == 1
        value = 2.0 if number % 4 == 1 else 0.0
        item = measured("height", value, raw=0.1, unit="mm", second=opinion(number, bad))
        joint = found(1, "pass", spike=("fine", item))
        truth = true_joint(values={"spike_mm": 2.0 if bad else 0.0})
        records.append(photo(2_000_000 + number, "pass", [truth], [joint]))
    return records


def fitted(opinion):
    text, notes = calibrate(overlooked(opinion))
    (note,) = (n for n in notes if n.startswith("spike.height: table"))
    fit = read_calibrations(text)["spike.height"]
    assert note.endswith(f"second opinion {fit.second:g}")
    return fit


def test_a_second_opinion_that_tells_nothing_is_not_listened_to():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 3, 120)
    fit = fitted(lambda number, _: float(noise[number]))
    assert fit.second <= 0.1
    alone = fitted(lambda *_: None)
    assert alone.second == 0.0
    assert abs(fit.conformance[-1][1] - alone.conformance[-1][1]) < 0.1
    wrong = fitted(lambda _, bad: -4.0 if bad else 4.0)  # no opinion counts against itself
    assert wrong.second == 0.0


def test_a_second_opinion_that_tells_raises_what_none_seen_is_worth():
    rng = np.random.default_rng(4)
    noise = rng.normal(0, 1, 120)
    fit = fitted(lambda number, bad: float((4.0 if bad else -4.0) + noise[number]))
    alone = fitted(lambda *_: None)
    assert fit.second > 0.3
    assert fit.second == round(fit.second, 2)
    assert alone.conformance[-1][1] < 0.75  # half are overlooked: 1 / (1 + 0.5)
    assert fit.conformance[-1][1] > 0.95


def test_one_missing_opinion_or_too_few_of_a_class_leave_it_out():
    telling = [(8.0, 4.0, False)] * 12 + [(8.0, -4.0, True)] * 12
    assert share_of_second(telling) == 1.0  # z is the same for all
    assert share_of_second([*telling, (8.0, None, True)]) == 0.0
    assert share_of_second(telling[3:]) == 0.0
    assert share_of_second([(8.0, 1.0, good) for _, _, good in telling]) == 0.0


def test_the_same_results_give_the_same_file():
    records = gaps(2_000_000, 60) + spikes(2_100_000)
    assert calibrate(records)[0] == calibrate(records[::-1])[0]


def test_z_uses_the_raw_uncertainty_and_the_presence():
    limit = next(m for m in checks.registry()["spike"].limits if m.name == "height")
    item = measured("height", 0.7, u=9.0, raw=0.1, unit="mm")
    assert z_of(item, [limit]) == pytest.approx(-2.0)
    assert z_of(item | {"raw": 0.2}, [limit]) == pytest.approx(-1.0)
    assert z_of(item | {"presence": 0.0}, [limit]) == 8.0


def test_calibration_takes_calibration_scenes_alone(tmp_path, capsys):
    path, out = tmp_path / "r.jsonl", tmp_path / "c.json"
    records = [*gaps(2_000_000, 30), photo(3_000_001, "pass", [true_joint()])]
    path.write_text("".join(json.dumps(r) + "\n" for r in records))
    assert main(["fit", str(path), "--out", str(out)]) == 2
    assert not out.exists()
    assert "3000001" in capsys.readouterr().err


def test_an_ordinary_look_is_not_fitted_to_nor_one_for_a_fit_reported():
    with pytest.raises(ResultsError, match="--for-fit"):
        calibrate([r | {"for_fit": False} for r in spikes(2_000_000)])
    with pytest.raises(ResultsError, match="--for-fit"):
        tables([r | {"for_fit": True} for r in gaps(3_000_000, 3)])


def test_nothing_seen_is_recorded_for_a_fit_whatever_was_fitted_before():
    fitted = {"spike.height": Calibration(conformance=((0.0, 0.1), (3.0, 0.9)))}
    assert normal_law(fitted)["spike.height"] == fitted["spike.height"]
    table = normal_law({})
    for check in checks.registry().values():
        for name in check.proof:
            entry = table[f"{check.name}.{name}"]
            assert (entry.factor, entry.floor) == (1.0, 0.0)
            knots = np.array(entry.conformance)
            assert np.interp(1.645, *knots.T) == pytest.approx(0.95, abs=1e-3)


def test_tables_take_test_scenes_alone():
    with pytest.raises(ResultsError, match="2000000"):
        tables(gaps(2_000_000, 3))


def test_tables_give_counts_errors_and_coverage():
    text = tables(gaps(3_000_000))
    assert "400 photos: 400 usable, 0 unusable" in text
    assert "| sound ones sent to rework | 0.0 % (0.0 to 0.9), 0 of 400 |" in text
    row = next(line for line in text.splitlines() if line.startswith("| insulation-gap.gap | D"))
    within = sum(abs(p.error) <= 0.1 for r in gaps(3_000_000) for p in pairs_of(r))
    assert f"{within} of 400" in row
    assert "No photo made the program fail." in text


def pairs_of(record):
    truth = record["truth"]["joints"][0]
    return pairs([case(truth, record["joints"][0])])


def test_failures_are_reported():
    bad = photo(3_999_999, None, [true_joint()], failed="ValueError: no (frame.py:9)")
    text = tables([*gaps(3_000_000, 30), bad])
    assert "1 photos made the program fail" in text
    assert "3999999: `ValueError: no (frame.py:9)`" in text


def test_the_true_state_of_one_thing_leaves_the_check_s_others_out():
    def of(check, name, *, holds="bad", **values):
        return state(case(true_joint(holds={check: holds}, values=values), None), check, name)

    assert of("surface", "rough", hole_D=0.5) == "sound"
    assert of("surface", "hole", hole_D=0.5) == "bad"
    assert of("surface", "hole", rough_share=0.9, rough_size=1.0) == "sound"
    assert of("insulation-gap", "embedded", gap_D=5.0) == "sound"
    assert of("wetting", "dry-stretch", wetted=0.1, dry_stretch_conductor_diameters=1.1) == "near"
    assert of("wetting", "dry-stretch", holds="not-seen", wetted=None) == "not-seen"
    assert of("wetting", "wetted", wetted=0.1, dry_stretch_conductor_diameters=1.1) == "bad"
    assert of("solder-fill", "fill", fill=0.2) == "bad"
    assert of("insulation-gap", "gap", gap_D=5.0) == "not-seen"  # follows the normal law: no table


def whole_case(seed, state, against):
    """A joint that was judged, with nothing known of it but how much speaks against it."""
    joint = {"holds": {"surface": state}, "planted": [], "joint": 1}
    record = {"truth": {"seed": FIRST_SEED + seed, "joints": [joint]}, "joints": []}
    return Case(record, joint, {"against": against, "findings": [{"measured": [1]}]})


def test_the_joint_as_a_whole_is_told_on_scenes_that_its_table_never_saw(monkeypatch):
    """With 160 bad ones in the other folds only what is below the soundest of them is under 2 %.

    Clopper and Pearson's upper bound (95 %, one-sided) for none of 160 is 1.9 %, for one 2.9 %.
    """
    for name, value in (("would_pass", True), ("_uncertainties", {}), ("_conformances", None)):
        monkeypatch.setattr(fit, name, lambda *_, value=value: value)
    bad = [whole_case(k, "bad", 0.01 * (k + 1)) for k in range(200)]  # the soundest in fold 0
    easy = [whole_case(k, "sound", 0.0) for k in range(20)]
    # under the soundest bad one but for that of fold 0 itself
    between = [whole_case(k, "sound", 0.015) for k in (0, 5, 10, 1, 2, 3, 4)]
    found, notes = {}, []
    fit._whole([*bad, *easy, *between], found, notes)
    assert "200 of 200 bad joints would pass if vouched for, and 27 of 27" in notes[0]
    assert "1 of 200 bad joints pass and 23 of 27 sound ones" in notes[1]
