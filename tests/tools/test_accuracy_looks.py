"""Looks at scenes: matching, regions, strands, and what fails is kept."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from inspector.model import Finding, Mark, Outcome, Patch
from made_results import true_joint
from tests.made_checks import a_limit, measured
from tools.accuracy import areas
from tools.accuracy.__main__ import main
from tools.accuracy.looks import _measured, job_of, match, scenes
from tools.accuracy.records import read_results

TINY = Path(__file__).parents[1] / "regions" / "tiny.onnx"


def test_found_joints_are_matched_by_lip_nearest_first():
    truths = [true_joint(1, at=100.0), true_joint(2, at=170.0)]  # lips at 200 and 270
    lips = [np.array([255.0, 300.0]), np.array([262.0, 300.0]), np.array([400.0, 300.0])]
    assert match(lips, truths) == [1, 2, None]
    assert match(lips[:1], truths) == [2]


def test_confusion_and_overlap_of_a_known_map():
    truth, found = np.zeros((10, 10), np.uint8), np.zeros((10, 10), np.uint8)
    truth[:, :4], found[:, 2:6] = 3, 3
    counts = areas.confusion(truth, found)
    assert counts.sum() == 100
    assert counts[3, 3] == 20
    assert areas.iou(counts, 3) == 20 / 60
    assert areas.iou(counts, 5) is None


def strand_patch(row, step=1.0):
    labels = np.zeros((120, 160), np.uint8)
    labels[row - 1 : row + 2, 20:121] = areas.STRAND
    sure = np.ones(labels.shape, np.float32)
    marks = np.zeros((len(Mark), *labels.shape), np.float32)
    return Patch(np.zeros((*labels.shape, 3), np.uint8), labels, sure, marks, (0.0, 0.0), step)


def test_recall_of_a_strand_is_by_distance_from_its_middle():
    truth = np.zeros((120, 160), np.uint8)
    truth[59:62, 20:121] = areas.STRAND
    path = [[20.0, 60.0], [70.0, 60.0], [150.0, 60.0]]  # the last 30 px are hidden
    joint = true_joint(strands=[{"path": path, "visible_mm": 5.0}])
    [near] = areas.strand_recall([joint], truth, [strand_patch(61)])
    assert 100 <= near["visible_px"] <= 104
    assert near["found_px"] >= near["visible_px"] - 2
    [far] = areas.strand_recall([joint], truth, [strand_patch(66)])
    assert far["found_px"] == 0
    assert areas.strand_recall([true_joint()], truth, [strand_patch(60)]) == []


def test_the_wire_is_told_for_half_of_the_photos_and_always_the_same():
    def told(seed, wires):
        joints = [true_joint(i, wire=wire) for i, wire in enumerate(wires, 1)]
        return job_of({"seed": seed, "joints": joints}).wire_od_mm

    known = [told(seed, ["12 AWG"]) for seed in range(200)]
    assert known == [told(seed, ["12 AWG"]) for seed in range(200)]
    assert set(known) == {None, 4.5}
    assert 80 < sum(od is not None for od in known) < 120
    assert {told(seed, ["12 AWG", "14 AWG"]) for seed in range(50)} == {None}


def test_the_second_opinion_is_recorded():
    finding = Finding("a-check", Outcome.FINE, "", "", limits=(a_limit(),))
    assert _measured(replace(measured(1.0), second=-2.5), finding)["second"] == -2.5
    assert _measured(measured(1.0), finding)["second"] is None


def test_a_photo_that_fails_is_recorded_and_the_others_go_on(tmp_path):
    truth = {"seed": 1, "size": [160, 128], "usable": True, "unusable_because": None, "joints": []}
    for name, broken in (("a", True), ("b", False)):
        image = cv2.imencode(".jpg", np.full((128, 160, 3), 90, np.uint8))[1].tobytes()
        (tmp_path / f"{name}.jpg").write_bytes(b"no photo" if broken else image)
        cv2.imwrite(str(tmp_path / f"{name}.regions.png"), np.zeros((128, 160), np.uint8))
        (tmp_path / f"{name}.json").write_text(json.dumps(truth | {"seed": ord(name)}))
    (tmp_path / "without-truth.jpg").write_bytes(b"")
    assert [p.name for p in scenes(tmp_path)] == ["a.jpg", "b.jpg"]
    out = tmp_path / "out" / "results.jsonl"
    options = ["--scenes", str(tmp_path), "--out", str(out), "--jobs", "2"]
    assert main(["look", *options, "--network", str(TINY)]) == 0
    bad, good = read_results(out)
    assert bad["failed"].startswith("PhotoError: a.jpg is not a photo")
    assert "(photo.py:" in bad["failed"]
    assert good["failed"] is None
    assert good["verdict"] == "retake"
    assert np.sum(good["confusion"]) == 160 * 128


def test_a_folder_without_scenes_gets_a_sentence(tmp_path, capsys):
    assert main(["look", "--scenes", str(tmp_path), "--out", str(tmp_path / "r")]) == 2
    assert "holds no photo" in capsys.readouterr().err
