"""Changes to windows and features that take a renderer's sameness away: needs torch."""

import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import Region  # noqa: E402 - torch decides whether this is loaded
from inspector.regions.training import augment, encoder  # noqa: E402
from tests.batches import bare_truth  # noqa: E402


@pytest.fixture(autouse=True)
def seeded():
    torch.set_num_threads(1)
    torch.manual_seed(4)


def normal(x):
    """Each channel of each picture without its mean and spread."""
    spread, mean = torch.var_mean(x, (2, 3), keepdim=True)
    return (x - mean) / spread.sqrt()


def test_a_lent_style_changes_means_and_spreads_and_nothing_else():
    x = torch.randn(64, 5, 12, 12) * torch.rand(64, 5, 1, 1) * 3 + torch.randn(64, 5, 1, 1) * 4
    y = encoder.lend_style(x)
    assert torch.allclose(normal(x), normal(y), atol=2e-2)
    moved = ((y - x).abs().amax((1, 2, 3)) > 1e-3).float().mean()
    assert 0.1 < moved < 0.45  # a quarter of the pictures
    mine, lent, now = (t.mean((2, 3)) for t in (x, x.roll(1, 0), y))
    low, high = torch.minimum(mine, lent) - 1e-3, torch.maximum(mine, lent) + 1e-3
    assert ((now >= low) & (now <= high)).all()


def test_no_style_is_lent_when_the_network_answers(monkeypatch):
    monkeypatch.setattr(encoder, "lend_style", lambda _: pytest.fail("it was lent"))
    net = encoder.Encoder().eval()
    with torch.no_grad():
        net(torch.rand(2, 3, 64, 64))


def test_other_finishes_change_metal_alone(monkeypatch):
    labels = torch.zeros(1, 64, 64, dtype=torch.long)
    labels[:, :32] = int(Region.TERMINAL)
    labels[:, 40:] = int(Region.INSULATION)
    rgb = torch.rand(1, 3, 64, 64)
    monkeypatch.setattr(augment, "chosen", lambda like, _chance: torch.arange(len(like)))
    new = augment.refinish(rgb, bare_truth(labels))
    assert torch.equal(new[:, :, 34:], rgb[:, :, 34:])
    assert ((new - rgb)[:, :, :30].abs() > 0.02).float().mean() > 0.5
    assert new.min() >= 0
    assert new.max() <= 1
    assert torch.equal(augment.refinish(rgb, bare_truth(torch.zeros_like(labels))), rgb)
