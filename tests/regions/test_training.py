"""The training loop and its changes to windows, on flat drawings: needs the extra `train`."""

import json
import logging
import shutil
import threading
import time

import cv2
import numpy as np
import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import Fault, Region  # noqa: E402 - torch decides whether this is loaded
from inspector.regions.training import augment, checkpoint, encoder, optics  # noqa: E402
from inspector.regions.training.__main__ import main  # noqa: E402
from inspector.regions.training.export import export  # noqa: E402
from inspector.regions.training.net import Net  # noqa: E402
from inspector.regions.training.scenes import Watcher  # noqa: E402
from tests.batches import batch_of, truth_of  # noqa: E402


@pytest.fixture(autouse=True)
def few_threads():
    torch.set_num_threads(1)
    torch.manual_seed(0)


def test_augmentation_keeps_pictures_sane_and_truth_but_for_covers(scenes):
    batch = batch_of(scenes, 16)
    before = truth_of(batch)
    bank = torch.zeros(0, 3, 128, 128, dtype=torch.uint8)
    for _ in range(6):
        rgb, after = augment.augment(batch["rgb"].float() / 255, truth_of(batch), bank)
        assert rgb.isfinite().all()
        assert rgb.min() >= 0
        assert rgb.max() <= 1
        changed = after.labels != before.labels
        assert (after.labels[changed] == Region.BACKGROUND).all()
        assert (after.bits[changed] == 0).all()
        assert changed.float().mean() < 0.3
        assert (after.peaks[..., 3] <= before.peaks[..., 3]).all()
        forgotten = after.faults != before.faults
        burnt = after.faults == 1
        burnt[..., [Fault.CHAR, Fault.HOLE]] = False  # these may be painted, and are there then
        assert (after.faults[forgotten] != 0).all()
        assert not (burnt & forgotten).any()


def test_the_joint_itself_is_not_painted_over_by_new_grounds(scenes):
    batch = batch_of(scenes, 16)
    rgb, truth = batch["rgb"].float() / 255, truth_of(batch)
    new = augment.new_ground(rgb, truth, torch.zeros(0, 3, 128, 128, dtype=torch.uint8))
    changed = (new - rgb).abs().amax(1) > 1e-6
    assert changed.any()
    on_ground = (truth.labels == Region.BACKGROUND) | (truth.labels == 255)
    assert not changed[~on_ground].any()


def test_the_jpeg_stand_in_loses_about_what_jpeg_loses(scenes):
    batch = batch_of(scenes, 8)
    rgb = batch["rgb"].float() / 255
    for quality in (30, 80):
        mine = optics.jpeg(rgb, torch.full((8, 1, 1, 1), float(quality)))
        for before, after in zip(batch["rgb"], mine, strict=True):
            picture = before.permute(1, 2, 0).numpy()
            _, packed = cv2.imencode(
                ".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality]
            )
            theirs = cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1].astype(float) / 255
            error_theirs = np.sqrt(((theirs - picture / 255) ** 2).mean())
            error_mine = float((after - before.float() / 255).square().mean().sqrt())
            assert 0.5 < error_mine / error_theirs < 2.0


def test_strands_beside_the_truth_count_as_found_and_others_as_alarms():
    from inspector.regions.training.thin import Strands  # noqa: PLC0415 - with the rest

    truth = np.zeros((60, 60), np.uint8)
    truth[30, 5:45] = Region.STRAND
    beside = np.zeros_like(truth)
    beside[32, 5:45] = Region.STRAND
    far = np.zeros_like(truth)
    far[40, 5:45] = Region.STRAND
    strands = Strands()
    assert strands.figures()["recall"] is None
    strands.add(truth, beside)
    assert strands.figures()["recall"] == strands.figures()["precision"] == 1.0
    strands.add(truth, far)
    strands.add(np.zeros_like(truth), far)
    strands.add(np.zeros_like(truth), np.zeros_like(truth))
    figures = strands.figures()
    assert figures["recall"] == 0.5
    assert figures["precision"] == pytest.approx(1 / 3, abs=1e-3)
    assert (figures["windows_with"], figures["windows_where_found"]) == (2, 1)
    assert (figures["windows_without"], figures["windows_of_false_alarm"]) == (2, 1)


def test_workers_wait_for_the_scenes_asked_for_but_not_for_ever(scenes, monkeypatch):
    from inspector.regions.training import feed  # noqa: PLC0415 - torch again

    pool = feed.Pool(Watcher((scenes,)), 1e9)
    start = time.monotonic()
    pool.wait_for(8, 30.0)
    assert len(pool.scenes) == 8
    pool.wait_for(9, 0.5)
    assert time.monotonic() - start < 20
    monkeypatch.setattr(feed, "_LONGEST_WAIT_S", 0.3)
    batch = next(iter(feed.Feed((scenes,), 64, 2, 1, 1e9, least_scenes=500)))
    assert int(batch["scenes"]) >= 1
    assert int(batch["share"]) == 0


def test_the_log_says_how_many_scenes_all_workers_hold(caplog):
    from inspector.regions.training.progress import Report  # noqa: PLC0415 - torch again

    report = Report(time.monotonic() - 100)
    with caplog.at_level(logging.INFO, "training"):
        for share, count in ((0, 200), (1, 210), (0, 204)):
            report.losses.append((1.0, 2.0, 0.5, 0.25))
            batch = {"share": torch.tensor(share), "scenes": torch.tensor(count)}
            report.last = time.monotonic() - 100
            report.maybe(1, 0.1, batch)
    assert caplog.messages[-1].endswith("scenes 414")
    assert "regions 1.0000 marks 2.0000 faults 0.5000" in caplog.messages[-1]


def run(*arguments):
    logging.getLogger().handlers.clear()
    return main([str(a) for a in arguments])


def test_from_scenes_to_network_and_on_from_there(tmp_path, scenes, weights):
    """The whole loop: a folder that is empty at first, export, figures, then a second run."""
    growing = tmp_path / "growing"
    growing.mkdir()

    def grow():
        time.sleep(1.0)
        shutil.copytree(scenes, growing / "later")

    thread = threading.Thread(target=grow)
    thread.start()
    common = ("--size", 64, "--batch", 2, "--workers", 0, "--device", "cpu", "--most-steps", 3)
    first = tmp_path / "first"
    assert run("--scenes", growing, "--out", first, "--minutes", 60, "--encoder", weights,
               "--progress", 0, 0.5, "--reserve-seconds", 30, *common) == 0  # fmt: skip
    thread.join()
    for name in ("network.onnx", "checkpoint.pt", "figures.json", "training.log", "windows.jpg"):
        assert (first / name).stat().st_size > 0
    figures = json.loads((first / "figures.json").read_text())
    assert figures["steps"] == 3
    assert 0 <= figures["close"]["iou_pooled"]["insulation"] <= 1
    assert figures["faults"] == {}  # one held-out joint: nothing to tell apart
    _, progress, steps = checkpoint.load(first / "checkpoint.pt")
    assert 0 <= progress <= 0.5
    assert steps == 3
    second = tmp_path / "second"
    assert run("--scenes", growing, "--out", second, "--minutes", 60,
               "--reserve-seconds", 30, "--resume", first / "checkpoint.pt", *common,
               ) == 0  # fmt: skip
    assert json.loads((second / "figures.json").read_text())["steps"] == 6


def test_weights_learn_from_one_picture(scenes, weights, tmp_path):
    from inspector.regions.training.loop import Plan, Trainer  # noqa: PLC0415 - torch again

    net = Net()
    encoder.load_weights(net.encoder, weights)
    plan = Plan(0.0, 0.0, 1.0, 3e-3, 100, tmp_path)
    trainer = Trainer(net, torch.device("cpu"), plan, 64)
    trainer.net.train()
    batch = batch_of(scenes, 4, 64)
    rgb, truth = batch["rgb"].float() / 255, truth_of(batch)
    trainer._move = lambda *_: (rgb, truth)
    values = [sum(trainer.step(batch, 0.0)) for _ in range(40)]
    assert np.mean(values[-5:]) < 0.6 * np.mean(values[:5])


def test_half_precision_and_either_layout_train_and_export(scenes, tmp_path):
    from inspector.regions.training.loop import Plan, Trainer  # noqa: PLC0415 - torch again

    trainer = Trainer(Net(), torch.device("cpu"), Plan(0.0, 0.0, 1.0, 1e-3, 9, tmp_path), 64)
    trainer.half = True
    before = {k: v.clone() for k, v in trainer.net.state_dict().items()}
    batch = batch_of(scenes, 2, 64)
    trainer.choose_way(batch)
    for name, value in trainer.net.state_dict().items():
        assert torch.equal(value, before[name])
    trainer.layout = torch.channels_last
    trainer.net.to(memory_format=torch.channels_last)
    assert np.isfinite(trainer.step(batch, 0.5)).all()
    trainer.save(0.5)
    state, progress, _ = checkpoint.load(tmp_path / "checkpoint.pt")
    assert progress == 0.5
    net = Net()
    net.load_state_dict(state)
    export(trainer.net, tmp_path / "network.onnx")


def test_a_batch_that_is_not_finite_is_skipped(scenes, tmp_path):
    from inspector.regions.training.loop import Plan, Trainer  # noqa: PLC0415 - torch again

    trainer = Trainer(Net(), torch.device("cpu"), Plan(0.0, 0.0, 1.0, 1e-3, 9, tmp_path), 64)
    batch = batch_of(scenes, 2, 64)
    rgb, truth = batch["rgb"].float() / 255, truth_of(batch)
    rgb[0, 0, 0, 0] = torch.nan
    trainer._move = lambda *_: (rgb, truth)
    before = [p.clone() for p in trainer.net.parameters()]
    assert np.isnan(trainer.step(batch, 0.0)).all()
    assert all(torch.equal(a, b) for a, b in zip(before, trainer.net.parameters(), strict=True))


@pytest.mark.parametrize(
    "wrong", [("--encoder", "nowhere.pth"), ("--resume", "nowhere.pt"), ("--size", "100")]
)
def test_arguments_that_cannot_be_used_give_one_sentence(wrong, tmp_path, capfd):
    assert run("--scenes", tmp_path, "--out", tmp_path / "out", *wrong) == 2
    output = capfd.readouterr().out
    assert len(output.strip().splitlines()) == 1
    assert "Traceback" not in output


def test_a_failing_step_does_not_end_the_run(scenes, tmp_path, monkeypatch):
    """As when a worker dies: torch raises wherever the loop happens to be."""
    from inspector.regions.training.loop import Plan, Trainer  # noqa: PLC0415 - torch again

    batch = batch_of(scenes, 2, 64) | {"scenes": torch.tensor(1)}

    class Source:
        def take(self):
            return batch

    plan = Plan(time.monotonic() + 60, 0.0, 1.0, 1e-3, 2, tmp_path)
    trainer = Trainer(Net(), torch.device("cpu"), plan, 64)
    step, calls = trainer.step, []

    def failing(*args):
        calls.append(1)
        if len(calls) == 1:
            raise RuntimeError("worker killed")
        return step(*args)

    monkeypatch.setattr(trainer, "step", failing)
    trainer.run(Source())
    assert trainer.steps == 2
    assert len(calls) == 3
    monkeypatch.setattr(trainer, "steps", 0)
    monkeypatch.setattr(trainer, "step", lambda *_args: (_ for _ in ()).throw(RuntimeError("dead")))
    with pytest.raises(RuntimeError, match="dead"):
        trainer.run(Source())
