"""The second renderer's plan, its draws and its truth, all without Blender."""

import ast
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bad_joints import bad_joint, bad_number
from tools import second_renderer
from tools.second_renderer.__main__ import main
from tools.second_renderer.joint import Defect
from tools.second_renderer.pinhole import Pinhole, joint_window
from tools.second_renderer.plan import VARIANTS, plan
from tools.second_renderer.shot import COLOURS, View, draw_shot, draw_view
from tools.second_renderer.truth import truth_of

PACKAGE = Path(second_renderer.__file__).parent
SET = [*range(1, 90, 2), *range(2, 107, 2)]  # the set proper


def test_the_set_has_45_sound_45_bad_and_8_unusable_photos():
    kinds = Counter(plan(number).kind for number in SET)
    assert kinds == {"sound": 45, "bad": 45, "unusable": 8}
    assert len(set(SET)) == 98


def test_a_number_fixes_its_plan_and_no_seed_comes_twice():
    plans = [plan(number) for number in SET]
    assert plans == [plan(number) for number in SET]
    assert len({p.seed for p in plans}) == len(plans)
    assert [p.number for p in plans] == SET


def test_the_bad_photos_take_the_checks_in_turn_and_use_every_variant():
    bad = [plan(number) for number in range(2, 400, 2) if plan(number).kind == "bad"]
    assert [p.check for p in bad[:26]] == list(VARIANTS) * 2
    used = {(p.check, p.variant) for p in bad[: 3 * len(VARIANTS)]}
    assert used == {(check, v) for check, variants in VARIANTS.items() for v in variants}


def test_plans_have_what_belongs_to_their_kind_alone():
    for number in SET:
        todo = plan(number)
        assert bool(todo.check) == bool(todo.variant) == (todo.kind == "bad")
        assert bool(todo.hindrance) == (todo.kind == "unusable")


@pytest.mark.parametrize("number", SET)
def test_every_bad_photo_has_one_defect_of_its_check_and_the_others_none(number):
    shot, _ = draw_shot(number)
    defects = {joint.defect for joint in shot.joints if joint.defect}
    if shot.plan.kind != "bad":
        assert not defects
        return
    (defect,) = defects
    assert (defect.check, defect.variant) == (shot.plan.check, shot.plan.variant)
    assert defect.what
    assert defect.unit in {"D", "mm", "%"}
    with_it = [i for i, joint in enumerate(shot.joints) if joint.defect]
    assert with_it == ([shot.bad, shot.bad + 1] if defect.check == "bridge" else [shot.bad])


def test_the_poles_stand_a_pitch_apart_about_the_middle():
    shots = [draw_shot(number)[0] for number in SET]
    assert {shot.connector.poles for shot in shots} == {1, 2, 3}
    for shot in shots:
        y = [joint.y for joint in shot.joints]
        assert np.allclose(np.diff(y), shot.connector.pitch)
        assert sum(y) == pytest.approx(0)


def test_a_shot_is_the_same_every_time_and_so_is_what_is_drawn_next():
    (one, rng), (other, again) = draw_shot(46), draw_shot(46)
    assert one == other
    assert draw_view(rng, one, (1024, 768)) == draw_view(again, other, (1024, 768))
    assert draw_shot(47)[0].joints != one.joints


def test_sound_joints_keep_the_limits_that_the_defects_break():
    joints = [joint for n in range(1, 200, 2) for joint in draw_shot(n)[0].joints]
    assert len(joints) > 100
    for joint in joints:
        assert 0 < joint.fillet < joint.gap <= 1.5
        assert joint.gap * joint.overall_mm <= 4.8
        assert joint.cup.inner > joint.conductor_radius
        assert joint.colour in COLOURS
    assert bad_joint("insulation-gap", "gap")[0].gap >= 2.7
    assert bad_joint("embedded", "embedded")[0].gap < 0
    seated, _ = bad_joint("seating", "short")
    assert seated.defect_size == pytest.approx(100 * seated.reach / seated.cup.run)


def straight_down(height=30.0, shift=(0.0, 0.0)):
    pose = np.eye(4)
    pose[2, 3] = height
    return Pinhole(pose, 3000.0, shift, (1000, 800))


def test_projection_by_hand():
    assert np.allclose(straight_down().project([(0, 0, 0)]), [[499.5, 399.5, 30]])
    # 3000 px x 1 D / 30 D = 100 px to the right; 2 D up are 200 px; nearer things are larger
    assert np.allclose(straight_down().project([(1, 2, 0)]), [[599.5, 199.5, 30]])
    assert np.allclose(straight_down().project([(1, 2, 15)]), [[699.5, -0.5, 15]])
    # the picture's middle moves right by a tenth of its width, down by a twentieth of its width
    shifted = straight_down(shift=(0.1, -0.05)).project([(1, 2, 0)])
    assert np.allclose(shifted, [[499.5, 149.5, 30]])


def test_projection_of_a_tilted_camera_by_hand():
    # 30 degrees about y: the camera stands at 30 D in +x, +z and looks at the origin
    angle = np.radians(30)
    pose = np.eye(4)
    pose[:3, 0] = np.cos(angle), 0, -np.sin(angle)
    pose[:3, 2] = np.sin(angle), 0, np.cos(angle)
    pose[:3, 3] = 30 * pose[:3, 2]
    camera = Pinhole(pose, 3000.0, (0.0, 0.0), (1000, 800))
    (x, y, depth), origin = camera.project([(2, 0, 0), (0, 0, 0)])
    assert np.allclose(origin, [499.5, 399.5, 30])
    assert depth == pytest.approx(30 - 2 * 0.5)
    assert x == pytest.approx(499.5 + 3000 * 2 * np.cos(angle) / 29)
    assert y == pytest.approx(399.5)


def a_view():
    return View((0.0, 0.0, 0.0), 30.0, 0.0, 0.0, np.radians(12.5), 100.0, (0.0, 0.0), 1.0, 0.0)


def test_the_truth_says_where_the_joint_is_and_what_is_wrong_with_it():
    number = bad_number("excess-solder", "blob")
    shot, _ = draw_shot(number)
    joint = replace(shot.joints[shot.bad], y=0.5, gap=1.2)
    truth = truth_of(shot, a_view(), [joint], straight_down())
    entry = truth["joints"][0]
    assert entry["end_px"] == [379.5, 349.5]
    assert entry["lip_px"] == [499.5, 349.5]
    assert not entry["sound"]
    assert entry["defects"] == [
        {
            "check": "excess-solder",
            "what": "blob beyond the cup",
            "size": round(joint.defect_size, 3),
            "unit": "D",
        }
    ]
    assert truth["d_px"] == 100.0
    assert truth["tilt_deg"] == 12.5
    assert truth["photo"] == f"{number:03d}.jpg"
    assert "why" not in truth


def test_embedded_insulation_lies_higher_and_the_truth_has_it_there():
    joint, _ = bad_joint("embedded", "embedded", "scoop")
    assert joint.end == (-joint.gap, 0.0, 0.12)
    assert replace(joint, gap=0.5).end == (-0.5, 0.0, 0.0)


def test_the_truth_of_an_unusable_photo_without_joints():
    number = next(n for n in SET if plan(n).hindrance == "none")
    truth = truth_of(draw_shot(number)[0], a_view(), [], straight_down())
    assert (truth["kind"], truth["why"], truth["joints"]) == ("unusable", "none", [])
    assert truth["poles"] == truth["d_px"] == 0


def test_the_window_holds_the_joint_and_what_sticks_out_of_it():
    joint, _ = bad_joint("stray-strand", "one")
    left, top, right, bottom = joint_window([joint], straight_down())
    assert left <= 499.5 - 100 * (joint.gap + 0.7)
    assert right >= 499.5 + 100 * joint.cup.depth
    sound = joint_window([replace(joint, strays_mm=())], straight_down())
    assert top < sound[1]
    assert bottom > sound[3]
    assert joint_window([joint], straight_down(shift=(3.0, 0.0))) is None


def test_a_defect_is_told_by_its_own_words():
    joint, _ = bad_joint("spike", "spike")
    assert (joint.check, joint.variant) == ("spike", "spike")
    sound = replace(joint, defect=None)
    assert (sound.check, sound.variant, sound.defect_size) == ("", "", 0.0)
    assert replace(sound, defect=Defect("a", "b", "c", 2.0, "D")).defect_size == 2.0


def test_it_imports_nothing_of_what_it_checks():
    imported = set()
    for path in PACKAGE.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                imported.add(node.module.split(".")[0])
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 1, path
    assert "numpy" in imported
    assert not imported & {"inspector", "api", "sample_images", "tools"}


def test_without_blender_it_says_what_is_needed(monkeypatch, tmp_path, capsys):
    for name in list(sys.modules):
        if name.startswith("tools.second_renderer.") and hasattr(sys.modules[name], "bpy"):
            monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "bpy", None)
    assert main(["--out", str(tmp_path / "set"), "--count", "1"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("bpy is needed: pip install")
    assert said.count("\n") == 1
    assert not (tmp_path / "set").exists()
