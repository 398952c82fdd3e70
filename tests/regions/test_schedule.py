"""What the training does while it waits, and how its changes go along the schedule: needs torch."""

import time

import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.regions.training import augment, feed, loop  # noqa: E402 - torch decides
from inspector.regions.training.net import Net  # noqa: E402
from tests.batches import bare_truth, batch_of  # noqa: E402


@pytest.fixture(autouse=True)
def few_threads():
    torch.set_num_threads(1)
    torch.manual_seed(0)


def test_a_blank_batch_is_shaped_as_any_other_and_teaches_no_fault(scenes):
    source = feed.Feed((scenes,), 64, 2, 1, 1e9)
    batches = feed.Batches(source, 0, pinned=False)
    empty, real = batches.blank(), batches.take()
    assert set(real) - set(empty) == {"scenes", "share"}
    for name, value in empty.items():
        assert value.shape == real[name].shape
        assert value.dtype == real[name].dtype
    assert (empty["faults"] == -1).all()
    assert (empty["peaks"][..., 3] == 0).all()


def test_the_way_is_chosen_on_a_blank_batch_before_the_first_scenes_come(
    scenes, tmp_path, monkeypatch
):
    calls, real = [], batch_of(scenes, 2, 64) | {"scenes": torch.tensor(1)}

    class Source:
        def blank(self):
            calls.append("blank")
            return feed.blank(64, 2)

        def take(self):
            calls.append("take")
            return real

    plan = loop.Plan(time.monotonic() + 60, 0.0, 1.0, 1e-3, 2, tmp_path)
    trainer = loop.Trainer(Net(), torch.device("cpu"), plan, 64)
    trainer.half = True
    choose = trainer.choose_way
    monkeypatch.setattr(trainer, "choose_way", lambda b: (choose(b), calls.append("chosen")))
    trainer.run(Source())
    assert calls[:3] == ["blank", "chosen", "take"]
    assert trainer.steps == 2


def test_fewer_photos_are_spoilt_toward_the_end():
    assert [loop._spoilt(p) for p in (0.0, 0.3, 0.6)] == pytest.approx([0.94] * 3)
    assert loop._spoilt(0.8) == pytest.approx(0.72)
    assert loop._spoilt(1.0) == pytest.approx(0.5)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_second_camera_takes_the_share_of_photos_asked_for(share, monkeypatch):
    """The other changes are switched off, and the camera paints what it takes black."""
    for change in ("colour", "light"):
        monkeypatch.setattr(augment, change, lambda rgb: rgb)
    for change in ("recolour", "new_ground"):
        monkeypatch.setattr(augment, change, lambda rgb, *_: rgb)
    monkeypatch.setattr(augment, "cover", lambda rgb, truth, _bank: (rgb, truth))
    monkeypatch.setattr(augment, "camera", torch.zeros_like)
    truth = bare_truth(torch.zeros(400, 4, 4, dtype=torch.long))
    rgb, _ = augment.augment(torch.ones(400, 3, 4, 4), truth, torch.zeros(0), share)
    taken = rgb.amax((1, 2, 3)) == 0
    assert float(taken.float().mean()) == pytest.approx(share, abs=0.1)


def test_a_step_is_spoilt_as_its_place_in_the_schedule_says(scenes, tmp_path, monkeypatch):
    asked, real = [], loop.augment
    monkeypatch.setattr(loop, "augment", lambda *args: (asked.append(args[3]), real(*args))[1])
    plan = loop.Plan(0.0, 0.0, 1.0, 1e-3, 9, tmp_path)
    trainer = loop.Trainer(Net(), torch.device("cpu"), plan, 64)
    for progress in (0.0, 0.9):
        trainer.step(batch_of(scenes, 2, 64), progress)
    assert asked == pytest.approx([0.94, 0.61])
