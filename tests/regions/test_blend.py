"""Two networks' weights averaged: shares, what only one of them has, what does not fit."""

import pytest

torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.regions.training import blend, checkpoint  # noqa: E402 - needs torch
from inspector.regions.training.net import Net  # noqa: E402


def test_the_share_counts_and_what_is_new_stays():
    old = {"w": torch.ones(2, 3), "n": torch.tensor(3)}
    new = {"w": torch.full((4, 3), 5.0), "n": torch.tensor(7), "extra": torch.ones(1)}
    found = blend.blended(old, new, 0.25)
    assert found["w"][:2].tolist() == [[4.0] * 3] * 2
    assert found["w"][2:].tolist() == [[5.0] * 3] * 2
    assert found["n"] == 7
    assert found["extra"] == 1
    assert new["w"][0, 0] == 5  # what goes in stays as it is


@pytest.mark.parametrize(("share", "old"), [(1.5, (2,)), (0.5, (5,)), (0.5, (2, 1))])
def test_what_does_not_fit_is_refused(share, old):
    with pytest.raises(ValueError, match=r"share|is \("):
        blend.blended({"w": torch.ones(old)}, {"w": torch.ones(4)}, share)


def test_the_command_writes_a_network_that_lies_between(tmp_path):
    states = []
    for seed in (1, 2):
        torch.manual_seed(seed)
        states.append(Net().state_dict())
        checkpoint.save(tmp_path / f"{seed}.pt", states[-1], 1.0, 10 * seed)
    parts = [str(tmp_path / "1.pt"), str(tmp_path / "2.pt")]
    assert blend.main([*parts, "--share", "0.5", "--out", str(tmp_path / "out")]) == 0
    found, progress, steps = checkpoint.load(tmp_path / "out" / "checkpoint.pt")
    key = next(k for k, v in found.items() if v.ndim == 4)
    middle = (states[0][key] + states[1][key]) / 2
    torch.testing.assert_close(found[key], middle, atol=2e-3, rtol=2e-3)
    assert (progress, steps) == (1.0, 20)
    assert (tmp_path / "out" / "network.onnx").stat().st_size > 1e7
    assert blend.main([str(tmp_path / "no.pt"), parts[1], "--out", str(tmp_path)]) == 2
