"""Calibration on made-up scenes whose errors are known, and its file."""

import json
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from inspector import uncertainty
from inspector.uncertainty import (
    Calibration,
    calibrated,
    calibrations,
    combine,
    fit_calibration,
    fit_conformance,
    isotonic_blocks,
    quantity,
    read_calibrations,
    rectified,
    score,
    write_calibrations,
)


@pytest.fixture
def known(monkeypatch):
    def use(**entries):
        table = {name.replace("_", "."): entry for name, entry in entries.items()}
        monkeypatch.setattr(uncertainty, "calibrations", lambda: table)

    return use


def scenes(n, factor, floor, seed):
    rng = np.random.default_rng(seed)
    raw = rng.uniform(0.01, 0.1, n)
    truth = rng.uniform(0, 2, n)
    return [
        (t + e, r, t)
        for t, r, e in zip(truth, raw, rng.normal(0, np.hypot(factor * raw, floor)), strict=True)
    ]


@pytest.mark.parametrize(("factor", "floor"), [(1.0, 0.0), (2.5, 0.0), (0.5, 0.04), (0.0, 0.05)])
def test_fitted_uncertainty_covers_new_scenes(factor, floor):
    fit = fit_calibration(scenes(600, factor, floor, 1), "D")
    new = np.array(scenes(4000, factor, floor, 2))
    u = np.hypot(fit.factor * new[:, 1], fit.floor)
    covered = np.mean(np.abs(new[:, 0] - new[:, 2]) <= 2 * u)
    assert 0.93 <= covered <= 0.975
    # and is no wider than it must be
    assert np.median(u) <= 1.2 * np.median(np.hypot(factor * new[:, 1], floor))


def test_where_errors_are_large_the_fitted_uncertainty_is_large():
    fit = fit_calibration(scenes(600, 2.0, 0.0, 3), "D")
    new = np.array(scenes(4000, 2.0, 0.0, 4))
    u = np.hypot(fit.factor * new[:, 1], fit.floor)
    wide = new[:, 1] > np.median(new[:, 1])
    for part in (wide, ~wide):
        assert 0.91 <= np.mean(np.abs(new[part, 0] - new[part, 2]) <= 2 * u[part]) <= 0.99


def test_too_few_scenes_are_refused():
    with pytest.raises(ValueError, match="too few"):
        fit_calibration(scenes(9, 1, 0, 1), "D")


def test_parts_add_as_squares():
    assert combine([3.0, 4.0]) == 5.0
    assert combine([]) == 0.0


def test_calibration_is_applied(known):
    known(a_b=Calibration(2.0, 0.3, "D", 100, 0.95))
    assert calibrated("a.b", 0.2) == pytest.approx(0.5)
    assert calibrated("a.c", 0.2) == 0.2
    q = quantity("a.b", 1.0, "D", {"one": 0.12, "two": 0.16})
    assert q.standard_uncertainty == pytest.approx(0.5)
    assert combine(q.parts.values()) == pytest.approx(0.2)  # the raw sum stays to be seen


def test_file_round_trip_and_the_committed_one():
    table = {
        "x.y": Calibration(1.5, 0.01, "mm", 200, 0.955, ((-1.0, 0.1), (2.0, 0.97)), 0.35),
        "a.b": Calibration(1.0, 0.0, "D", 50, 0.96),
    }
    assert dict(read_calibrations(write_calibrations(table))) == table
    assert all(entry.factor > 0 and entry.floor >= 0 for entry in calibrations().values())


@pytest.mark.parametrize(
    "entry",
    [
        {"factor": 0.0}, {"factor": "1"}, {"floor": -0.1}, {"floor": float("nan")},
        {"conformance": [[1.0, 0.2], [0.0, 0.9]]}, {"conformance": [[0.0, 1.2]]},
        {"conformance": [[0.0, 0.9], [1.0, 0.2]]},
        {"conformance": [[0.0]]}, {"second": 1.5}, {"covers": -0.1}, {"unheard": 1.0},
    ],
)  # fmt: skip
def test_an_entry_that_no_fit_gives_is_refused(entry):
    sound = {"factor": 1.0, "floor": 0.0, "conformance": [[0.0, 0.2], [1.0, 0.9]]}
    assert read_calibrations(json.dumps({"a.b": sound}))
    with pytest.raises((TypeError, ValueError)):
        read_calibrations(json.dumps({"a.b": {**sound, **entry}}))


def test_a_file_from_before_the_second_opinion_gives_it_no_share():
    old = '{"a.b": {"factor": 1.0, "floor": 0.0, "conformance": [[-1.0, 0.1], [2.0, 0.9]]}}'
    assert read_calibrations(old)["a.b"].second == 0.0


@pytest.mark.parametrize(
    ("z", "second", "share", "expected"),
    [
        (3.0, -5.0, 0.0, 3.0),
        (3.0, -5.0, 1.0, 5.0),
        (3.0, -5.0, 0.4, 3.8),
        (3.0, 5.0, 0.4, -0.2),
        (3.0, None, 0.4, 1.8),  # as if it were undecided
        (8.0, -13.0, 0.5, 8.0),  # clipped
        (8.0, 13.0, 0.5, 0.0),
    ],
)
def test_the_score_mixes_both_by_share(z, second, share, expected):
    assert score(z, second, share) == pytest.approx(expected)


def test_a_table_is_entered_with_the_score(known):
    table = ((-8.0, 0.0), (8.0, 1.0))
    known(a_b=Calibration(conformance=table, second=0.5), a_c=Calibration(conformance=table))
    at_z = uncertainty.conformance_of_z
    assert at_z("a.b", 4.0, -4.0) == pytest.approx(0.75)
    assert at_z("a.b", 4.0, 4.0) == pytest.approx(0.5)
    assert at_z("a.b", 4.0) == at_z("a.b", 4.0, None) == pytest.approx(0.625)
    assert at_z("a.c", 4.0, 4.0) == at_z("a.c", 4.0) == pytest.approx(0.75)


def test_isotonic_blocks_agree_with_scipy():
    rng = np.random.default_rng(5)
    x = np.sort(rng.normal(0, 2, 300))
    y = (rng.uniform(size=300) < 1 / (1 + np.exp(-x))).astype(float)
    weight = rng.uniform(0.5, 2, 300)
    starts = np.append(isotonic_blocks(y, weight, x), 300)
    fitted = np.concatenate(
        [np.full(b - a, np.average(y[a:b], weights=weight[a:b])) for a, b in pairwise(starts)]
    )
    assert np.allclose(fitted, isotonic_regression(y, weights=weight).x)


def cases(n_good, n_bad, missed, seed=0):
    """Sound joints read z about 3; bad ones -4, but a share of them is overlooked."""
    rng = np.random.default_rng(seed)
    good = [(float(z), True) for z in rng.normal(3, 0.3, n_good)]
    bad = [
        (float(rng.normal(3, 0.3) if i < missed * n_bad else rng.normal(-4, 1)), False)
        for i in range(n_bad)
    ]
    return good + bad


def at(table, z):
    return np.interp(z, *np.array(table).T)


def test_nothing_seen_is_worth_what_the_misses_leave():
    reliable = fit_conformance(cases(300, 60, 0.0))
    blind = fit_conformance(cases(300, 60, 0.3))
    assert at(reliable, 4) > 0.95
    assert at(reliable, -5) < 0.05
    # of bad joints 3 in 10 look like that: P = 1 / (1 + 0.3) for even priors
    assert at(blind, 3) == pytest.approx(1 / 1.3, abs=0.05)


def test_few_bad_joints_do_not_teach_that_nothing_seen_is_enough():
    assert at(fit_conformance(cases(2000, 20, 0.3)), 3) < 0.85


def test_the_table_never_falls_and_needs_both_classes():
    table = np.array(fit_conformance(cases(200, 80, 0.15, seed=9)))
    assert (np.diff(table[:, 0]) > 0).all()
    assert (np.diff(table[:, 1]) >= 0).all()
    with pytest.raises(ValueError, match="are needed"):
        fit_conformance(cases(200, 9, 0.0))


def test_both_sides_of_a_joint_share_a_calibration(monkeypatch):
    entry = Calibration(2.0, 0.1, "chord", 50, 0.95, ((-2.0, 0.1), (2.0, 0.9)))
    monkeypatch.setattr(uncertainty, "calibrations", lambda: {"fillet.convexity": entry})
    for name in ("fillet.convexity", "fillet.convexity-left", "fillet.convexity-right"):
        assert uncertainty.conformance_of_z(name, 2.0) == pytest.approx(0.9)
        assert uncertainty.calibrated(name, 0.0) == pytest.approx(0.1)


def test_what_stands_out_is_surer_the_deeper_it_lies_inside():
    draws = np.random.default_rng(1).normal(size=200_000)
    for value in (-0.3, -0.1, 0.0, 0.2):
        best, u = rectified(value, 0.1)
        there = np.maximum(value + 0.1 * draws, 0.0)
        assert best == max(0.0, value)
        assert u == pytest.approx(float(np.sqrt(np.mean((there - best) ** 2))), abs=0.001)
