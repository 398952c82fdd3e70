"""What a scene's truth says of things between joints, and that it holds faults at all."""

from __future__ import annotations

import json

import numpy as np
import pytest

from inspector.model import Fault
from sample_images.studio import connector, part, render, scene_truth as st
from sample_images.studio.buffers import Buffers
from sample_images.studio.request import Request
from sample_images.studio.view import looking

WIDTH, HEIGHT, D_PX = 320, 240, 40.0
PLANTS = {
    "bridge": ("bridge", "bridge"),
    "near bridge": ("bridge", "bridge"),
    "melted housing": ("insulation-damage", "char"),
}


def made_entry(number, **changed):
    """A sound joint as it comes from its own truth, but for these faults."""
    faults = {fault.name.lower(): "sound" for fault in Fault} | changed
    holds = {"bridge": faults["bridge"], "excess-solder": faults["excess"]}
    return {
        "joint": number, "d_px": D_PX, "box": [1, 1, 9, 9], "faults": faults, "holds": holds,
        "planted": [],
    }  # fmt: skip


def shared(entry, *names, at=1, melted_px=0):
    """The entry after these were planted at joint `at`."""
    empty = np.zeros((HEIGHT, WIDTH))
    marks = empty.astype(np.uint16)
    marks[:melted_px, 0] = part.CHAR
    buffers = Buffers(
        np.zeros((HEIGHT, WIDTH, 3), np.float32),
        np.where(marks > 0, part.HOUSING, 0).astype(np.uint8),
        marks,
        empty.astype(np.uint8),
        empty.astype(np.float32),
    )
    camera = looking(np.array([0.0, 0, 100]), np.zeros(3), 0.0, 1000.0, WIDTH, HEIGHT)
    planted = [
        {"joint": at, "check": PLANTS[n][0], "name": n, "size": 1.0, "where": np.zeros(3)}
        for n in names
    ]
    st._shared(entry, planted, camera, buffers)
    return entry


@pytest.mark.parametrize("name", PLANTS)
@pytest.mark.parametrize("number", [2, 3, 7])
def test_what_is_planted_at_one_joint_leaves_the_others_open(name, number):
    fault = PLANTS[name][1]
    faults = shared(made_entry(number), name)["faults"]
    assert faults[fault] == "not-seen"
    touched = {fault} | ({"excess"} if number == 2 and fault == "bridge" else set())
    assert all(state == "sound" for key, state in faults.items() if key not in touched)


@pytest.mark.parametrize("state", ["bad", "near", "not-seen"])
def test_what_the_others_have_themselves_stays(state):
    assert shared(made_entry(3, char=state), "melted housing")["faults"]["char"] == state
    assert shared(made_entry(3, bridge=state), "bridge")["faults"]["bridge"] == state


def test_a_bridge_is_bad_at_its_own_joint_and_makes_both_ends_excess_open():
    own = shared(made_entry(1, bridge="bad"), "bridge")
    assert own["faults"]["bridge"] == "bad"
    assert [(p["name"], p["visible"]) for p in own["planted"]] == [("bridge", True)]
    for entry, state in (
        (own, "near"),
        (shared(made_entry(2), "bridge"), "near"),
        (shared(made_entry(2, excess="bad"), "bridge"), "bad"),
        (shared(made_entry(3), "bridge"), "sound"),
    ):
        assert entry["faults"]["excess"] == entry["holds"]["excess-solder"] == state
    assert shared(made_entry(2), "bridge")["planted"] == []


def test_nothing_planted_between_joints_leaves_all_as_it_was():
    entry = shared(made_entry(2), melted_px=50)
    assert set(entry["faults"].values()) == {"sound"}
    assert entry["planted"] == []


def test_a_melted_housing_shows_from_a_tenth_of_d_squared_on():
    for melted_px, visible in ((10, False), (17, True)):  # 4 x 4 pixels are a tenth of D squared
        entry = shared(made_entry(1), "melted housing", melted_px=melted_px)
        assert [p["visible"] for p in entry["planted"]] == [visible]


def test_a_rendered_scene_says_of_each_joint_what_faults_it_has():
    pytest.importorskip("mitsuba", reason="the extra 'studio' is not installed")
    made = connector.make(
        np.random.default_rng(3), "train", 3, (("bridge",), (), ()), housed=False, on_bench=False
    )
    (plant,) = [p for p in made.planted if p[2] == "bridge"]
    middle = np.mean([j.lip for j in made.joints], axis=0)
    camera = looking(middle + [0.0, 0.0, 150.0], middle, 0.4, 1300.0, WIDTH, HEIGHT)
    parts = [p for j in made.joints for p in j.parts] + list(made.parts)
    buffers = render.render(parts, [{"type": "constant"}], camera, samples=1, seed=1)
    planted = [
        dict(zip(("joint", "check", "name", "size", "where"), p, strict=True)) for p in made.planted
    ]
    ask = Request(3, "train", width=WIDTH, height=HEIGHT)
    truth = json.loads(json.dumps(st.scene_truth(ask, list(made.joints), planted, camera, buffers)))
    assert [j["joint"] for j in truth["joints"]] == [1, 2, 3]
    for joint in truth["joints"]:
        assert list(joint["faults"]) == [fault.name.lower() for fault in Fault]
        assert set(joint["faults"].values()) <= {"sound", "near", "bad", "not-seen"}
        own = joint["joint"] == plant[0]
        assert joint["faults"]["bridge"] == ("bad" if own else "not-seen")
        assert joint["holds"]["bridge"] == ("bad" if own else "sound")
        assert joint["faults"]["excess"] == joint["holds"]["excess-solder"]
        assert joint["faults"]["seating"] == joint["holds"]["seating"]


@pytest.mark.parametrize(
    ("fate", "tilts", "because"),
    [
        ("tilt", (69.0, 30.0), "tilt"),
        ("tilt", (38.0, 50.0), None),
        ("usable", (60.0,), None),  # a pole beside the one that the camera is turned to
        ("focus", (10.0,), "focus"),
    ],
)
def test_a_photo_is_too_steep_by_the_joints_own_tilt(monkeypatch, fate, tilts, because):
    entries = [{"lip": (160.0, 120.0), "d_px": D_PX, "tilt_deg": tilt} for tilt in tilts]
    monkeypatch.setattr(st, "joint_truth", lambda model, *_: entries[model])
    monkeypatch.setattr(st, "_shared", lambda *_: None)
    camera = looking(np.array([0.0, 0, 100]), np.zeros(3), 0.0, 1000.0, WIDTH, HEIGHT)
    ask = Request(3, "train", fate, width=WIDTH, height=HEIGHT)
    truth = st.scene_truth(ask, list(range(len(tilts))), [], camera, None)
    assert (truth["usable"], truth["unusable_because"]) == (because is None, because)
