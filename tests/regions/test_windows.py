"""Training windows: truth must follow the picture, and thin strands must survive."""

import json

import cv2
import numpy as np
import pytest

from inspector.model import OPINIONS, Fault, Hindrance, Mark, Region
from inspector.regions.training import crops
from inspector.regions.training.labels import IGNORED, NEAR, shrink_bits, shrink_labels
from inspector.regions.training.scenes import JointTruth, Scene, Watcher, for_figures


def scene_of(labels, joints=(), bits=None):
    rgb = np.repeat(labels[..., None], 3, 2) * np.uint8(30)
    bits = np.zeros(labels.shape, np.uint16) if bits is None else bits
    return Scene("s", 1, "train", rgb, labels, bits, tuple(joints))


def joint_of(d_px, peaks, faults=None):
    faults = np.full(OPINIONS, -1) if faults is None else faults
    return JointTruth(d_px, np.array(peaks, np.float32), np.asarray(faults, np.int8))


def test_shrinking_keeps_strands_that_cover_a_quarter_of_a_pixel():
    labels = np.zeros((80, 80), np.uint8)
    labels[8, :] = Region.CONDUCTOR  # one of four rows, no strand
    labels[:, 40] = Region.STRAND  # one of four columns
    small = shrink_labels(labels, 20, 20)
    assert (small[:, 10] == Region.STRAND).all()
    assert (small == Region.STRAND).sum() == 20
    assert (small == Region.CONDUCTOR).sum() == 0
    thin = shrink_labels(np.repeat(labels, 2, 0), 16, 32)  # one of five columns: not enough
    assert (thin == Region.STRAND).sum() == 0


def test_shrinking_gives_each_pixel_to_the_largest_share():
    labels = np.zeros((8, 8), np.uint8)
    labels[:, :3] = Region.SOLDER
    small = shrink_labels(labels, 2, 2)
    assert small.tolist() == [[3, 0], [3, 0]]


def test_shrinking_keeps_thin_marks_and_adds_none():
    bits = np.zeros((40, 40), np.uint16)
    bits[20] = 1 << 5
    bits[:20, :20] |= 1 << 12
    small = shrink_bits(bits, 20, 20)
    assert ((small >> 5) & 1)[10].all()
    assert ((small >> 5) & 1).sum() == 20
    assert ((small >> 12) & 1).sum() == 100


@pytest.mark.parametrize("seed", range(12))
def test_peaks_labels_and_pixels_of_a_window_agree(seed):
    rng = np.random.default_rng(seed)
    labels = np.zeros((300, 400), np.uint8)
    x, y = rng.uniform(120, 280), rng.uniform(100, 200)
    cv2.circle(labels, (round(x), round(y)), 16, int(Region.SOLDER), -1)
    joint = joint_of(32.0, [[round(x), round(y), 1]] * 3)
    scene = scene_of(labels, [joint], np.where(labels == 3, 8, 0).astype(np.uint16))
    crop = crops.random_crop(scene, rng, 256)
    here = crop.labels == Region.SOLDER
    if here.sum() < 30 or here[0].any() or here[-1].any() or here[:, 0].any() or here[:, -1].any():
        crop = crops.cut(scene, crops.plain_matrix(crops.Aim(x, y, 0.7), 256), 256, 0.7, 0)
        here = crop.labels == Region.SOLDER
    ys, xs = np.nonzero(here)
    at = crop.peaks[0, 0]
    d_px = 2 * np.sqrt(here.sum() / np.pi)
    assert at[3] == 1
    assert np.hypot(xs.mean() - at[0], ys.mean() - at[1]) < 0.75 + 0.02 * d_px
    assert abs(at[2] / d_px - 32 / 32.9) < 0.15
    assert ((crop.bits == 8) == here).mean() > 0.98
    known = crop.labels != IGNORED
    assert np.abs(crop.rgb[..., 0][known].astype(int) - crop.labels[known] * 30).mean() < 2.5


def test_two_windows_in_three_are_close_and_none_magnifies_more_than_twice():
    labels = np.zeros((480, 640), np.uint8)
    rng = np.random.default_rng(4)
    small = scene_of(labels, [joint_of(60.0, [[320, 240, 1]] * 3)])
    scales = np.array([crops.aim(small, rng, 512).scale for _ in range(400)])
    assert scales.max() == 2.0
    assert 0.55 < np.mean(scales * 60 > 68) < 0.78
    assert 60 * scales.min() >= 10
    large = scene_of(labels, [joint_of(95.0, [[320, 240, 1]] * 3)])
    d_px = np.array([crops.aim(large, rng, 512).scale for _ in range(2000)]) * 95
    # 0.68 are close, four fifths of them D of 85 to 165 and the rest 45 to 190, even in log D
    rest = 0.2 * np.log([165 / 85, 190 / 165]) / np.log(190 / 45)
    usual = np.mean((d_px > 85) & (d_px < 165))
    assert usual == pytest.approx(0.68 * (0.8 + rest[0]), abs=0.04)
    assert np.mean(d_px > 165) == pytest.approx(0.68 * rest[1], abs=0.01)
    assert d_px.max() <= 190


def test_faults_of_the_truth_reach_the_window_and_only_clear_ones_count(tmp_path, draw):
    stem = draw(tmp_path, 7)
    path = stem.with_name(stem.name + ".json")
    truth = json.loads(path.read_text())
    told = {"hole": "bad", "gap": "sound", "fill": "near", "seating": "not-seen", "new": "bad"}
    truth["joints"][0] |= {"faults": told, "more_ends": [[30.0, 40.0]]}
    truth["joints"].append({k: v for k, v in truth["joints"][0].items() if k != "faults"})
    path.write_text(json.dumps(truth))
    (scene,) = Watcher((tmp_path,)).fresh()
    known = {Fault.HOLE: 1, Fault.GAP: 0, Fault.FILL: NEAR, Hindrance.PAIR: 1}
    expected = [known.get(f, -1) for f in (*Fault, *Hindrance)]
    crop = crops.random_crop(scene, np.random.default_rng(0), 96)
    assert crop.faults.shape == (crops.MOST_JOINTS, OPINIONS)
    assert crop.faults[0].tolist() == expected
    others = crop.faults[1:, : len(Fault)]
    assert (others == -1).all()  # missing, another wire's end, rows without a joint
    path.write_text(json.dumps(truth | {"usable": False, "unusable_because": "covered"}))
    (scene,) = Watcher((tmp_path,)).fresh()
    assert len(scene.joints) == 4
    assert all((joint.faults == -1).all() for joint in scene.joints)


def test_strands_and_small_marks_are_looked_at_as_often_as_large_ones():
    labels = np.zeros((200, 200), np.uint8)
    bits = np.zeros((200, 200), np.uint16)
    rng = np.random.default_rng(0)
    assert crops._rare(scene_of(labels, bits=bits), rng) is None
    labels[10, 5:25] = Region.STRAND
    bits[50:52, 50:52] = 1 << int(Mark.HOLE)
    bits[100:180, 100:180] = 1 << int(Mark.BRIDGE)
    scene = scene_of(labels, bits=bits)
    rows = np.array([crops._rare(scene, rng)[1] for _ in range(400)])
    strand, hole, bridge = (rows == 10).mean(), ((rows >= 50) & (rows < 52)).mean(), rows >= 100
    assert strand == pytest.approx(0.5, abs=0.1)
    assert hole == pytest.approx(bridge.mean(), abs=0.1)


def test_what_lies_outside_the_scene_has_no_truth():
    scene = scene_of(np.ones((100, 100), np.uint8))
    crop = crops.cut(scene, crops.plain_matrix(crops.Aim(0, 0, 1.0), 64), 64, 1.0, 1)
    assert (crop.labels[:31] == IGNORED).all()
    assert (crop.labels[33:, 33:] == 1).all()


def test_a_strand_two_pixels_wide_stays_in_one_piece_when_turned():
    labels = np.zeros((400, 400), np.uint8)
    cv2.line(labels, (60, 50), (340, 350), int(Region.STRAND), 2)
    length_px = np.hypot(280, 300)
    scene = scene_of(labels)
    for angle in (0.3, 1.0, 2.2):
        cos, sin = np.cos(angle), np.sin(angle)
        turn = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
        center = np.array([[1, 0, -200], [0, 1, -200], [0, 0, 1.0]])
        for scale in (0.5, 0.79, 1.0, 1.7):
            place = np.array([[scale, 0, 320], [0, scale, 320], [0, 0, 1.0]])
            crop = crops.cut(scene, place @ turn @ center, 640, scale, 0)
            strand = (crop.labels == Region.STRAND).astype(np.uint8)
            count, _ = cv2.connectedComponents(strand, connectivity=8)
            assert count == 2
            width_px = strand.sum() / (length_px * scale)
            true_px = (labels > 0).sum() / length_px * scale
            assert true_px - 0.4 < width_px < true_px + 1.2


def test_a_growing_folder_is_read_as_it_grows(scenes, draw):
    watcher = Watcher((scenes,))
    first = [s.seed for s in watcher.fresh()]
    assert first == list(range(1, 9))  # 20 is held out
    assert list(watcher.fresh()) == []
    draw(scenes, 33)
    assert [s.seed for s in watcher.fresh()] == [33]
    assert [s.seed for s in Watcher((scenes,), wanted=for_figures).fresh()] == [20]


def test_a_half_written_scene_is_read_once_it_is_whole(scenes, draw):
    watcher = Watcher((scenes,))
    list(watcher.fresh())
    stem = draw(scenes, 41)
    path = stem.with_name(stem.name + ".regions.png")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 3])
    assert list(watcher.fresh()) == []
    path.write_bytes(whole)
    assert [s.seed for s in watcher.fresh()] == [41]


def test_scenes_that_never_become_readable_end_nothing(scenes):
    (scenes / "a.json").write_text("{")
    (scenes / "b.json").write_text(json.dumps({"seed": 3, "look": "train", "joints": []}))
    (scenes / "c.tar").write_bytes(b"no archive" * 200)
    watcher = Watcher((scenes,))
    assert len(list(watcher.fresh())) == 8
    for _ in range(5):
        assert list(watcher.fresh()) == []


def test_shards_give_the_same_scenes_as_folders(scenes, shard, tmp_path):
    shard(scenes, tmp_path / "shards")
    from_shard = list(Watcher((tmp_path / "shards",)).fresh())
    from_folder = list(Watcher((scenes,)).fresh())
    assert [s.name for s in from_shard] == [s.name for s in from_folder]
    for one, other in zip(from_shard, from_folder, strict=True):
        assert (one.rgb == other.rgb).all()
        assert (one.labels == other.labels).all()


def test_the_test_look_is_never_trained_on(tmp_path, draw):
    draw(tmp_path, 3, look="test")
    draw(tmp_path, 5)
    assert [s.seed for s in Watcher((tmp_path,)).fresh()] == [5]


def test_workers_share_the_scenes_between_them(scenes):
    parts = [Watcher((scenes,), share, 3, few=0) for share in range(3)]
    seeds = [[s.seed for s in part.fresh()] for part in parts]
    assert sorted(seed for part in seeds for seed in part) == list(range(1, 9))


def test_a_large_scene_is_kept_no_larger_than_training_needs(tmp_path, draw):
    stem = draw(tmp_path, 7, width=3000, height=2000)
    path = stem.with_name(stem.name + ".json")
    truth = json.loads(path.read_text())
    truth["joints"][0]["d_px"] = 340.0
    path.write_text(json.dumps(truth))
    (scene,) = Watcher((tmp_path,)).fresh()
    assert scene.labels.shape == (1000, 1500)
    assert abs(scene.joints[0].d_px - 170) < 0.01
    expected = (np.array(truth["joints"][0]["end"]) + 0.5) / 2 - 0.5
    assert np.allclose(scene.joints[0].peaks[0, :2], expected, atol=0.01)


def test_every_wire_in_a_terminal_has_its_end(tmp_path, draw):
    stem = draw(tmp_path, 7)
    path = stem.with_name(stem.name + ".json")
    truth = json.loads(path.read_text())
    truth["joints"][0] |= {"more_ends": [[30.0, 40.0]], "lip_visible": False}
    path.write_text(json.dumps(truth))
    (scene,) = Watcher((tmp_path,)).fresh()
    assert [j.peaks[:, 2].tolist() for j in scene.joints] == [[1, 0, 1], [1, 0, 0]]
    assert scene.joints[1].peaks[0, :2].tolist() == [30.0, 40.0]


@pytest.mark.parametrize("seed", range(16))
def test_a_window_may_lie_along_its_joint_as_the_look_along_it_does(seed, monkeypatch):
    monkeypatch.setattr(crops, "_CLOSE_SHARE", 1.0)
    monkeypatch.setattr(crops, "_ALONG_SHARE", 1.0)
    rng = np.random.default_rng(seed)
    angle = rng.uniform(0, 2 * np.pi)
    ahead = np.array([np.cos(angle), np.sin(angle)])
    middle = np.array([200.0, 150.0])
    peaks = [[*(middle + k * 40 * ahead), 1.0] for k in (-0.5, 0.5, 1.5)]
    scene = scene_of(np.zeros((300, 400), np.uint8), [joint_of(80.0, peaks)])
    crop = crops.random_crop(scene, rng, 512)
    end, lip = crop.peaks[0, :2, :2]
    way = (lip - end) / np.linalg.norm(lip - end)
    # a turn, a shear, a stretch and a perspective besides; never the other way round
    assert way[0] > 0.9
    assert abs(way[1]) < 0.3
    assert np.linalg.norm((end + lip) / 2 - 255.5) < 1.2 * 128
    assert 90 < crop.peaks[0, 0, 2] < 180


def test_a_joint_whose_lip_hides_is_looked_at_from_anywhere(monkeypatch):
    monkeypatch.setattr(crops, "_CLOSE_SHARE", 1.0)
    monkeypatch.setattr(crops, "_ALONG_SHARE", 1.0)
    joint = joint_of(80.0, [[200, 150, 1], [240, 150, 0], [0, 0, 0]])
    scene = scene_of(np.zeros((300, 400), np.uint8), [joint])
    assert crops.aim(scene, np.random.default_rng(1), 512).turn is None
