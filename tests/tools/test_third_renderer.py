"""The third renderer's plan, its draws and its truth, all without Blender."""

import ast
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tools import third_renderer
from tools.third_renderer.__main__ import main
from tools.third_renderer.connector import Bridge, draw_cups, draw_poles
from tools.third_renderer.pinhole import Pinhole, joint_window
from tools.third_renderer.plan import FAULTS, FRESH, HINDRANCES, SEEN, plan, subject
from tools.third_renderer.truth import bad_checks, truth_of

PACKAGE = Path(third_renderer.__file__).parent
SEEN_SET = range(SEEN + 1)
FRESH_SET = range(FRESH, FRESH + 57)


def with_fault(fault):
    return next(n for n in range(FRESH, FRESH + 99) if subject(n)[0] == fault)


def poles_of(number):
    todo = plan(number)
    rng = np.random.default_rng(todo.seed)
    cups = draw_cups(rng, todo)
    return todo, cups, draw_poles(rng, todo, cups)


def straight_down(height=360.0, size=(1000, 800)):
    # focal length 36 mm on 36 mm: 1000 px, so 1000 / height pixels a mm
    pose = np.eye(4)
    pose[2, 3] = height
    return Pinhole(pose, 36.0, size)


def test_a_number_fixes_its_plan_and_no_seed_comes_twice():
    plans = [plan(number) for number in (*SEEN_SET, *FRESH_SET)]
    assert plans[::7] == [plan(p.number) for p in plans[::7]]
    assert len({p.seed for p in plans}) == len(plans)
    assert len({p.d_px for p in plans}) >= len(plans) - 1


def test_the_numbers_that_were_looked_at_stay_what_they_were():
    todo = plan(1)
    assert (todo.awg, todo.faults, todo.bench, todo.light) == (20, ("", "", ""), "silicone", "desk")
    assert (todo.seed, todo.size_px) == (7013, (1400, 1400))
    assert f"{todo.severity:.2f}" == "0.39"
    assert plan(SEEN).faults == ()


def test_nearly_half_of_the_fresh_photos_are_bad_and_each_nineteenth_is_unusable():
    kinds = Counter(
        "unusable" if hindrance else "bad" if fault else "sound"
        for fault, hindrance in map(subject, FRESH_SET)
    )
    assert kinds == {"bad": 27, "sound": 27, "unusable": 3}


def test_faults_and_hindrances_come_in_turn():
    faults = [fault for fault, _ in map(subject, range(400)) if fault]
    assert faults[:28] == [*FAULTS, *FAULTS]
    hindrances = [hindrance for _, hindrance in map(subject, range(FRESH, FRESH + 95)) if hindrance]
    assert sorted(hindrances) == sorted(HINDRANCES)


@pytest.mark.parametrize("number", [*range(20), SEEN, *FRESH_SET])
def test_plans_have_what_belongs_to_their_kind_alone(number):
    todo, (fault, hindrance) = plan(number), subject(number)
    assert set(todo.faults) <= {"", fault}
    assert (todo.bridge is not None) == (fault == "bridge")
    assert fault in {*todo.faults, "", "bridge"}
    assert todo.hindrance == hindrance
    assert len(todo.faults) == 0 if todo.hindrance == "none" else 1 <= len(todo.faults) <= 3
    assert (todo.exposure != 1) == (todo.hindrance in {"dark", "blown"})
    assert max(todo.size_px) <= 2400
    assert 0 <= todo.severity <= 1


def test_a_negative_number_has_no_plan():
    with pytest.raises(ValueError, match="start at 0"):
        plan(-1)


def test_poles_are_the_same_every_time_and_stand_a_pitch_apart():
    for number in FRESH_SET:
        todo, cups, poles = poles_of(number)
        assert poles == poles_of(number)[2]
        y = [pole.y for pole in poles]
        assert np.allclose(np.diff(y), cups.pitch)
        assert sum(y) == pytest.approx(0)
        assert [pole.fault for pole in poles] == list(todo.faults)


def test_sound_poles_keep_the_limits_that_the_faults_break():
    for number in FRESH_SET:
        for pole in poles_of(number)[2]:
            long = pole.fault == "insulation-gap"
            assert (pole.gap > 2.9 * pole.overall) == long
            assert (pole.gap <= 0) == (pole.fault == "buried")
            assert (pole.seat < 0.5 * pole.length) == (pole.fault == "seating")
            assert bool(pole.strays) == (pole.fault == "stray-strand")
            assert bool(pole.bulges) == (pole.fault in {"excess-solder", "buried"})
            assert pole.bore > pole.radius


def test_projection_by_hand():
    camera = straight_down()
    assert np.allclose(camera.project((0, 0, 0)), [500, 400])
    # 1000 px x 36 mm / 360 mm = 100 px to the right, 72 mm up are 200 px; nearer is larger
    assert np.allclose(camera.project([(36, 72, 0), (36, 72, 180)]), [[600, 200], [700, 0]])
    # upright, the longer side is still the sensor's
    upright = straight_down(size=(800, 1000))
    assert np.allclose(upright.project((36, 72, 0)), [500, 300])


def test_projection_of_a_tilted_camera_by_hand():
    angle = np.radians(30)
    pose = np.eye(4)
    pose[:3, 0] = np.cos(angle), 0, -np.sin(angle)
    pose[:3, 2] = np.sin(angle), 0, np.cos(angle)
    pose[:3, 3] = 360 * pose[:3, 2]
    x, y = Pinhole(pose, 36.0, (1000, 800)).project((20, 0, 0))
    assert x == pytest.approx(500 + 1000 * 20 * np.cos(angle) / (360 - 20 * 0.5))
    assert y == pytest.approx(400)


def test_the_truth_says_where_the_joint_is_and_what_is_wrong_with_it():
    todo, cups, poles = poles_of(with_fault("excess-solder"))
    pole = next(pole for pole in poles if pole.fault)
    pole = replace(pole, y=0.0, gap=3.6, overall=3.6, sag=0.0, lean=0.0, rise=0.0)
    truth = truth_of(todo, cups, "tin", [pole], None, straight_down())
    assert set(truth) == {"usable", "why", "joints"}
    assert (truth["usable"], truth["why"]) == (True, None)
    (joint,) = truth["joints"]
    note = joint.pop("note")
    assert joint == {
        "end": [490.0, 400.0],
        "lip": [500.0, 400.0],
        "axis": [1.0, 0.0],
        "d_px": 10.0,
        "mm_per_px": 0.36,
        "wire": f"{todo.awg} AWG",
        "bad": ["excess-solder", "fillet"],
        "sound": False,
    }
    severity = f"severity {todo.severity:.2f}"
    assert note == f"excess-solder; cup {cups.style} tin; gap 1.00 D seen 1.00 D; {severity}"


def test_a_bridge_is_told_at_both_joints():
    todo, cups, poles = poles_of(1)
    bridge = Bridge(1, 0.0, 0.0, 1.0, 0.5)
    truth = truth_of(todo, cups, "gold", poles, bridge, straight_down())
    assert [joint["bad"] for joint in truth["joints"]] == [[], ["bridge"], ["bridge"]]
    assert [joint["sound"] for joint in truth["joints"]] == [True, False, False]
    assert [joint["note"].split(";")[0] for joint in truth["joints"]] == ["sound", *["bridge"] * 2]


def test_the_truth_of_photos_that_cannot_carry_a_verdict():
    todo, cups, poles = poles_of(SEEN)
    truth = truth_of(todo, cups, "gold", poles, None, straight_down())
    assert truth == {"usable": False, "why": "no joint in the picture", "joints": []}
    todo, cups, poles = poles_of(17)
    truth = truth_of(todo, cups, "gold", poles, None, straight_down())
    assert (truth["usable"], truth["why"]) == (False, "badly out of focus")
    assert len(truth["joints"]) == len(poles)


def test_what_a_fault_is_bad_for():
    assert bad_checks("") == []
    assert bad_checks("spike", bridged=True) == ["bridge", "spike"]
    assert bad_checks("none") == ["fillet", "solder-fill", "wetting"]
    assert bad_checks("buried") == ["excess-solder", "insulation-gap"]
    assert {check for fault in FAULTS for check in bad_checks(fault)}.isdisjoint({"none", "holes"})


def test_the_window_holds_the_joint_and_stays_in_the_picture():
    poles = poles_of(1)[2][:1]
    low, high = joint_window(poles, straight_down())
    assert low[0] <= straight_down().project((-poles[0].gap - 0.5 * poles[0].overall, 0, 0))[0]
    assert high[0] >= straight_down().project((poles[0].length, 0, 0))[0]
    assert joint_window([], straight_down()) is None
    aside = straight_down()
    aside.pose[0, 3] = 4000
    assert joint_window(poles, aside) is None


def test_it_imports_nothing_of_what_it_checks():
    imported = set()
    for path in PACKAGE.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                found = {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                found = {node.module.split(".")[0]}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 1, path
                assert node.module != "compare", path
                continue
            else:
                continue
            if path.name == "compare.py":
                found -= {"inspector", "tools"}  # it makes no photo
            imported |= found
    assert "numpy" in imported
    assert not imported & {"inspector", "api", "sample_images", "tools"}


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        ["--out", "set", "--first", "-1"],
        ["--out", "set", "--first", "one"],
        ["--out", "set", "--count", "0"],
        ["--out", "set", "--only", "3", "-4"],
        ["--out", "set", "--samples", "0"],
    ],
)
def test_bad_arguments_are_refused(wrong, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as refused:
        main(wrong)
    assert refused.value.code == 2
    assert "usage:" in capsys.readouterr().err
    assert not (tmp_path / "set").exists()


def test_without_blender_it_says_what_is_needed(monkeypatch, tmp_path, capsys):
    for name in list(sys.modules):
        if name.startswith("tools.third_renderer.") and hasattr(sys.modules[name], "bpy"):
            monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "bpy", None)
    assert main(["--out", str(tmp_path / "set"), "--count", "1"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("bpy is needed: pip install")
    assert said.count("\n") == 1
    assert not (tmp_path / "set").exists()
