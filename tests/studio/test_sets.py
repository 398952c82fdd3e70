"""Which scenes make up a set, that they stay apart, and that a seed always means the same scene."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys

import numpy as np
import pytest

from sample_images.studio import (
    connector,
    demo,
    materials,
    part,
    sample,
    sets,
    solder_bead,
    stage,
    worker,
)
from sample_images.studio.defects import DEFECTS, with_defects
from sample_images.studio.request import FATES, SEEDS, UNUSABLE, Request
from sample_images.studio.stage import draw_defects


def test_seed_ranges_do_not_meet():
    starts = sorted(SEEDS.values())
    assert min(np.diff(starts)) >= 1_000_000
    assert set(sets.PURPOSES) | {"demo"} == set(SEEDS)
    for purpose in sets.PURPOSES:
        for number in (0, 17, 999_999):
            seed = sets.request(purpose, number).seed
            assert SEEDS[purpose] <= seed < SEEDS[purpose] + 1_000_000


def test_only_the_test_set_has_the_test_look():
    for purpose in sets.PURPOSES:
        looks = {sets.request(purpose, n).look for n in range(40)}
        assert looks == {"test" if purpose == "test" else "train"}
    assert {p.request.look for p in demo.PHOTOS} == {"train"}


def test_housing_colours_of_the_two_looks_differ():
    rgb = {
        look: np.array([materials.plastic(np.random.default_rng(k), look).rgb for k in range(200)])
        for look in ("train", "test")
    }
    away = np.abs(np.log(rgb["train"][:, None] / rgb["test"][None])).max(axis=2)
    assert (away.min(axis=0) > 0.1).mean() > 0.8


def test_training_never_draws_the_withheld_ranges():
    for seed in range(300):
        spec = sample.sound(np.random.default_rng(seed), "train")
        core = sample.WIRES[spec.awg][1] / 2
        assert not 26 < spec.theta_deg < 32
        assert not 2.3 < spec.cup.depth / spec.cup.inner < 2.7
        bore = (spec.cup.inner - 0.05) / spec.core_mm
        assert not 1.34 < bore < 1.46
        assert 0.97 <= spec.core_mm / core <= 1.04


def test_the_test_look_draws_the_withheld_ranges_half_of_the_time():
    angles = [sample.sound(np.random.default_rng(k), "test").theta_deg for k in range(300)]
    assert 0.4 < np.mean([26 <= a <= 32 for a in angles]) < 0.6


@pytest.mark.parametrize("names", [(), ("stray", "spike"), ("birdcage",), ("char", "holes")])
def test_a_seed_always_makes_the_same_joint(names):
    made = [
        with_defects(rng, sample.sound(rng, "train"), names)
        for rng in (np.random.default_rng(9), np.random.default_rng(9))
    ]
    assert made[0] == made[1]
    assert sample.sound(np.random.default_rng(10), "train") != made[0]


def test_a_seed_always_makes_the_same_meshes():
    made = [
        connector.make(
            np.random.default_rng(3), "train", 2, (("stray", "lumpy"), ("dry",)), housed=True,
            on_bench=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    for one, two in zip(made[0].parts, made[1].parts, strict=True):
        assert np.array_equal(one.vertices, two.vertices)
    for one, two in zip(made[0].joints, made[1].joints, strict=True):
        for p, q in zip(one.parts, two.parts, strict=True):
            assert p.name == q.name
            assert np.array_equal(p.vertices, q.vertices)
            assert np.array_equal(p.faces, q.faces)


def test_requests_are_the_same_every_time_and_vary():
    for purpose in sets.PURPOSES:
        first = [sets.request(purpose, n) for n in range(30)]
        assert first == [sets.request(purpose, n) for n in range(30)]
        assert len({(a.width, a.d_px) for a in first}) > 20
        assert {a.fate for a in first} <= set(FATES)


def test_photo_like_sets_have_joints_as_large_as_people_take_them():
    asks = [sets.request("test", n) for n in range(200)]
    usable = [a for a in asks if a.fate == "usable"]
    assert 0.7 < len(usable) / len(asks) < 0.9
    assert min(a.d_px for a in usable) >= 48
    pixels = np.array([a.width * a.height for a in asks])
    large = pixels > 2.5e6
    assert 0.35 < large.mean() < 0.65
    assert pixels[large].min() > 3e6
    assert pixels.max() < 12.3e6
    assert max(a.d_px for a in asks if a.fate == "size") <= 20


def test_photos_have_long_sides_as_cameras_have_them():
    for purpose in ("tuning", "calibration", "test"):
        asks = [sets.request(purpose, n) for n in range(300)]
        shapes = {tuple(sorted((a.width, a.height))) for a in asks}
        assert {long for _, long in shapes} <= set(sets.LONGS)
        assert all(4 * short == 3 * long for short, long in shapes)
        assert len({a.width > a.height for a in asks}) == 2
    small = {max(a.width, a.height) for a in (sets.request("calibration", n) for n in range(300))}
    assert small == {800, 896, 960, 1024}
    assert {max(a.width, a.height) for a in asks} == set(sets.LONGS)  # the test set has them all


def test_the_usual_long_side_is_the_one_nearest_in_area():
    assert list(sets.LONGS) == sorted(set(sets.LONGS))
    for long in sets.LONGS:
        assert (long * 3) % 4 == 0
        assert sets.usual_long(0.75 * long**2) == long
    for one, two in zip(sets.LONGS, sets.LONGS[1:], strict=False):
        between = 0.75 * one * two  # as many times the smaller as the larger is times it
        assert sets.usual_long(between * 0.999) == one
        assert sets.usual_long(between * 1.001) == two
    assert sets.usual_long(1.0) == sets.LONGS[0]
    assert sets.usual_long(1e9) == sets.LONGS[-1]


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_poles_are_bad_as_often_as_asked(share):
    got = draw_defects(np.random.default_rng(1), 3, share)
    wrong = [set(names) & set(DEFECTS) for names in got]
    assert all(bool(w) == bool(share) for w in wrong)


def test_defects_drawn_apart_leave_the_other_poles_as_they_were():
    missed = dict.fromkeys(stage.APART, 0)
    for seed in range(60):
        asked = [
            Request(seed, "train", share_bad=0.7, several=True, share_apart=share)
            for share in (0.0, 0.3)
        ]
        before, after = (stage._of_each_pole(np.random.default_rng(seed), a, 0, 3) for a in asked)
        for was, now in zip(before, after, strict=True):
            assert not set(was) & set(stage.APART)
            if now and now[0] in stage.APART:
                missed[now[0]] += 1
                assert set(now[1:]) <= set(was) & set(stage.WITHOUT_SOLDER)
            else:
                assert now == was
    for count in missed.values():
        assert count == pytest.approx(0.3 * 180, abs=3 * (180 * 0.3 * 0.7) ** 0.5)
    assert sets.request("train", 1).share_apart > 0


def test_a_terminal_dipped_in_the_joints_solder_changes_nothing_but_metal_and_solder():
    plain, dipped = (
        connector.make(
            np.random.default_rng(6), "train", 2, ((), ()),
            housed=False, on_bench=True, tinned=tinned,
        )
        for tinned in (False, True)
    )  # fmt: skip
    for before, after in zip(plain.joints, dipped.joints, strict=True):
        metal, solder = after.spec.metal, after.spec.solder
        assert (metal.rgb, metal.roughness) == (solder.rgb, solder.roughness)
        own = {"metal": before.spec.metal, "solder": before.spec.solder}
        assert before.spec == dataclasses.replace(after.spec, **own)
    assert dipped.joints[0].spec.solder == dipped.joints[1].spec.solder
    assert plain.joints[0].spec.metal != dipped.joints[0].spec.metal


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_terminals_are_dipped_as_often_as_asked(share):
    ask = Request(7, "train", poles=2, share_bad=0.0, plain=True, share_tinned=share)
    joints, _, _ = stage.stage(np.random.default_rng(7), ask)
    assert {j.spec.metal.rgb == j.spec.solder.rgb for j in joints} == {bool(share)}


@pytest.mark.parametrize("purpose", sets.PURPOSES)
def test_some_terminals_are_dipped(purpose):
    assert 0 < sets.request(purpose, 1).share_tinned < 0.5


def test_a_forgotten_pole_has_no_solder_and_its_cup_is_not_filled():
    rng = np.random.default_rng(4)
    made = connector.make(rng, "train", 1, (("unsoldered",),), housed=False, on_bench=True)
    (model,) = made.joints
    names = {p.name for p in model.parts if p.label == part.SOLDER and len(p.faces)}
    assert names <= {"tinned strands"}
    (planted,) = model.spec.planted
    assert (planted.check, planted.name) == ("solder-fill", "not soldered")


@pytest.mark.parametrize("cut", ["half", "scoop", "window"])
@pytest.mark.parametrize("severity", [0.0, 1.0])
def test_a_loose_bead_touches_no_wall(cut, severity):
    spec = sample.sound(np.random.default_rng(8), "train")
    cup = dataclasses.replace(spec.cup, cut=cut, width_deg=80.0, inner=1.6 * spec.core_mm)
    spec = dataclasses.replace(spec, cup=cup)
    spec = with_defects(np.random.default_rng(9), spec, ("loose-bead",), severity=severity)
    sheet, lines = solder_bead.loose_bead(spec, 3)
    x, y, z = sheet.vertices.T
    walled = np.abs(np.arctan2(y, z)) >= cup.opening(x)
    within = (x > 0) & (x < cup.depth) & walled
    assert within.any()
    assert np.hypot(y, z)[within].max() < cup.inner
    assert [line.on for line in lines] == ["conductor"]


def test_every_defect_shows_in_its_plan():
    for name in DEFECTS:
        rng = np.random.default_rng(4)
        sound = sample.sound(rng, "train")
        spec = with_defects(rng, sound, (name,), severity=0.9)
        assert len(spec.planted) == 1
        assert dataclasses.replace(spec, planted=()) != sound


def test_demo_photos_show_each_defect_and_some_unusable():
    names = [p.name for p in demo.PHOTOS]
    assert len(set(names)) == len(names) >= 24
    assert min(names) == "12-awg-sound"
    shown = {d for p in demo.PHOTOS for pole in p.poles for d in pole}
    assert set(DEFECTS) <= shown
    assert sum(p.fate == "usable" and not any(p.poles) for p in demo.PHOTOS) >= 6
    assert sum(p.fate in UNUSABLE for p in demo.PHOTOS) >= 4
    seeds = [p.request.seed for p in demo.PHOTOS]
    assert len(set(seeds)) == len(seeds)
    assert all(SEEDS["demo"] <= s < SEEDS["demo"] + 1_000_000 for s in seeds)


def test_workers_beside_each_other_share_the_scenes(monkeypatch, tmp_path):
    started = []

    class Process:
        def __init__(self, command, **settings):
            started.append((command, settings["env"]))

        def wait(self):
            return 0

    monkeypatch.setattr(subprocess, "Popen", Process)
    assert worker.work_beside(worker.Task("train", 5, 9, tmp_path, jobs=3, gpus=2)) == 0
    assert [c[c.index("--job") + 1] for c, _ in started] == ["0", "1", "2"]
    assert [e["CUDA_VISIBLE_DEVICES"] for _, e in started] == ["0", "1", "0"]
    assert {e["OMP_NUM_THREADS"] for _, e in started} == {"1"}
    assert started[0][0][0] == sys.executable


def test_a_worker_renders_its_share_and_goes_on_after_a_failure(monkeypatch, tmp_path, capsys):
    asked = []

    def compose(ask):
        asked.append(ask.seed)
        if ask.seed == 7:
            raise ValueError("no such joint")
        return worker.Scene(
            b"jpeg", np.zeros((2, 2), np.uint8), np.zeros((2, 2), np.uint16), {"seed": ask.seed}
        )

    monkeypatch.setattr(worker, "compose", compose)
    monkeypatch.setattr(worker, "mitsuba", lambda: None)
    (tmp_path / "0000003.json").write_text("{}")
    assert worker.work(worker.Task("train", 0, 10, tmp_path, job=1, jobs=2)) == 1
    assert asked == [1, 5, 7, 9]
    assert "scene 0000007 failed" in capsys.readouterr().err
    assert json.loads((tmp_path / "0000005.json").read_text()) == {"seed": 5}
    assert (tmp_path / "0000005.marks.png").exists()
