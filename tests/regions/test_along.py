"""The second look along a joint's axis: where its cells lie, and how it counts."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from inspector.model import OPINIONS, Along, Fault, Hindrance, Joint, Mark, Patch, Photo
from inspector.regions import along as module, network
from inspector.regions.along import along
from inspector.regions.capsule import ASIDE_D, BEHIND_D, BEYOND_D
from inspector.second import log_odds
from tests.regions.test_second import flat, joint_of, soft

TINY = Path(__file__).with_name("tiny_second.onnx")
WIDE, HIGH = 1100, 1000
LIP_D = 1.2


@pytest.fixture(autouse=True)
def tiny_network(monkeypatch):
    monkeypatch.setattr(network, "NETWORK", TINY)


def joint_in(photo_end, turn_deg, d_photo, step=1.6, origin=(31.0, 17.0)):
    """A joint whose patch has its own step and origin, ending at `photo_end` of the photo."""
    axis = np.array([np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))])
    end = (np.array(photo_end) - origin) / step
    size = (64, 64)
    patch = Patch(
        np.zeros((*size, 3), np.uint8), np.zeros(size, np.uint8), np.ones(size, np.float32),
        np.zeros((len(Mark), *size), np.float32), origin, step,
    )  # fmt: skip
    d_px = d_photo / step
    lip = tuple(end + LIP_D * d_px * axis)
    return Joint(
        1, "cup", patch, tuple(end), lip, tuple(axis), d_px, 1.0, np.zeros(size, bool), 0.9
    )


def spot_at(place, half):
    """A photo with one green square, sides `2 * half`, whose middle is as near as pixels allow."""
    rgb = np.zeros((HIGH, WIDE, 3), np.uint8)
    x, y = np.round(np.array(place) + 0.5).astype(int)
    rgb[y - half : y + half, x - half : x + half, 1] = 200
    return Photo("drawn", rgb), np.array([x - 0.5, y - 0.5])


@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 90.0, 171.0, 250.0, 305.0])
@pytest.mark.parametrize("d_photo", [40.0, 90.0, 128.0, 260.0])
@pytest.mark.parametrize("spot", [(0.4, 0.5), (-0.6, -0.4), (1.5, 0.0)])
def test_what_the_photo_shows_lies_where_the_joints_frame_says(turn_deg, d_photo, spot):
    """The place of the spot by plain trigonometry, against where the grid has it."""
    joint = joint_in((WIDE / 2, HIGH / 2), turn_deg, d_photo)
    axis = np.array(joint.axis)
    aside = np.array([-axis[1], axis[0]])
    wanted = np.array([WIDE / 2, HIGH / 2]) + d_photo * (spot[0] * axis + spot[1] * aside)
    photo, drawn = spot_at(wanted, max(2, round(d_photo / 16)))
    found = along(photo, joint)
    weight = found.grid[Fault.HOLE].astype(float)
    place = (found.places * weight[..., None]).sum((0, 1)) / weight.sum()
    offset = drawn - (WIDE / 2, HIGH / 2)
    true = np.array([offset @ axis, offset @ aside]) / d_photo
    cell_d = 8 / min(128.0, 2 * d_photo)
    assert np.abs(place - true).max() < 0.5 * cell_d


def test_the_window_is_mirrored_and_shows_the_joint_with_its_surroundings(monkeypatch):
    seen = []
    monkeypatch.setattr(network, "opinions", lambda rgb: seen.append(rgb) or np.zeros((1, 1, 1)))
    joint = joint_in((WIDE / 2, HIGH / 2), 0.0, 128.0)
    photo, _ = spot_at((WIDE / 2, HIGH / 2 + 60), 6)  # below the axis: t > 0
    along(photo, joint)
    (picture,) = seen
    high, wide = picture.shape[:2]
    assert wide % 32 == high % 32 == 0
    assert wide >= (module.BEHIND_D + LIP_D + module.BEYOND_D) * 128
    assert high >= 2 * module.ASIDE_D * 128
    ys, xs = np.nonzero(picture[..., 1] > 100)
    assert ys.mean() == pytest.approx((high - 1) / 2 - 60, abs=1.0)
    assert xs.mean() == pytest.approx(module.BEHIND_D * 128, abs=1.0)


@pytest.mark.parametrize("turn_deg", [0.0, 41.0, 133.0, 290.0])
@pytest.mark.parametrize("d_photo", [37.0, 128.0, 240.0])
def test_cells_and_pixels_agree_to_the_last_digit(turn_deg, d_photo):
    """A cell's middle, through the photo and the patch, against what `places` says of it."""
    joint = joint_in((WIDE / 2, HIGH / 2), turn_deg, d_photo)
    step, height = d_photo / min(128.0, 2 * d_photo), 288
    matrix = module._matrix(joint, step, height)
    places = module._places((36, 64), d_photo / step, height)
    for i, j in ((0, 0), (35, 63), (17, 40)):
        # the middle of the eight pixels j*8 .. j*8+7
        at = matrix @ (8 * j + 3.5, 8 * i + 3.5, 1.0)
        frame = joint.to_frame(joint.patch.from_photo(at[None]))[0]
        assert frame == pytest.approx(places[i, j], abs=1e-9)


# off the axes, or all pixels would be rounded the same way
@pytest.mark.parametrize("turn_deg", [17.0, 41.0, 133.0])
@pytest.mark.parametrize("step", [0.6, 1.0, 1.9, 3.7])
def test_a_ramp_is_sampled_where_it_lies(turn_deg, step):
    """Brightness rises by one a pixel along x: what is seen tells where from."""
    joint = joint_in((WIDE / 2, HIGH / 2), turn_deg, 128.0 * step)
    ramp = np.broadcast_to(np.clip(np.arange(WIDE) - 420, 0, 255), (HIGH, WIDE))
    photo = Photo("drawn", np.repeat(ramp[..., None], 3, 2).astype(np.uint8))
    matrix = module._matrix(joint, step, 96)
    seen = module._turned(photo, matrix, 128, 96)[..., 0].astype(float)
    ys, xs = np.indices(seen.shape)
    from_x = matrix[0, 0] * xs + matrix[0, 1] * ys + matrix[0, 2] - 420
    inside = (from_x > 10) & (from_x < 245)
    assert inside.sum() > 500
    assert (seen - from_x)[inside].mean() == pytest.approx(0.0, abs=0.15)


@pytest.mark.parametrize("end", [(4.0, 6.0), (WIDE - 4.0, 20.0), (450.0, HIGH - 2.0)])
@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 240.0])
def test_beyond_the_photo_its_edge_is_repeated(monkeypatch, end, turn_deg):
    seen = []
    monkeypatch.setattr(network, "opinions", lambda rgb: seen.append(rgb) or np.zeros((1, 1, 1)))
    photo = Photo("drawn", np.full((HIGH, WIDE, 3), 77, np.uint8))
    along(photo, joint_in(end, turn_deg, 200.0))
    assert (seen[0] == 77).all()


@pytest.mark.parametrize("lip_d", [-0.4, 0.0, 1.2, 3.4, 4.8, 6.0])
def test_the_window_holds_every_cell_of_the_joint(lip_d):
    joint = joint_in((WIDE / 2, HIGH / 2), 20.0, 128.0)
    lip = np.array(joint.end) + lip_d * joint.d_px * np.array(joint.axis)
    found = along(spot_at((300, 300), 6)[0], replace(joint, lip=tuple(lip)))
    low, high = found.places.min((0, 1)), found.places.max((0, 1))
    assert low[0] <= -BEHIND_D
    assert high[0] >= lip_d + BEYOND_D
    assert low[1] <= -ASIDE_D
    assert high[1] >= ASIDE_D
    assert not found.places.flags.writeable


def test_a_hindrance_need_show_in_one_look_only():
    grid = np.full((OPINIONS, 40, 40), -9.0, np.float32)
    once = joint_of(grid)
    places = np.stack(np.meshgrid(np.linspace(-1, 2, 12), np.linspace(-1, 1, 9)), axis=-1)
    for sure in (Hindrance.PAIR, Hindrance.STEEP):
        again = np.full((OPINIONS, *places.shape[:2]), -9.0, np.float32)
        again[sure] = 1.0
        said = log_odds(replace(once, along=Along(again, places)), sure)
        assert said == pytest.approx(soft(1.0), abs=1e-4)


def test_of_two_looks_the_mean_counts():
    once = joint_of(flat(4.0))
    places = np.stack(np.meshgrid(np.linspace(-1, 2, 12), np.linspace(-1, 1, 9)), axis=-1)
    grid = np.full((len(Fault), *places.shape[:2]), -6.0, np.float32)
    twice = replace(once, along=Along(grid, places))
    mean = (log_odds(once, Fault.HOLE) + soft(-6.0)) / 2
    assert log_odds(twice, Fault.HOLE) == pytest.approx(mean, abs=1e-4)
    alone = replace(joint_of(None), along=Along(grid, places))
    assert log_odds(alone, Fault.HOLE) == pytest.approx(soft(-6.0), abs=1e-4)
    far = replace(once, along=Along(grid, places + 50.0))
    assert log_odds(far, Fault.HOLE) == pytest.approx(log_odds(once, Fault.HOLE), abs=1e-9)
