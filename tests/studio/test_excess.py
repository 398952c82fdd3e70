"""How far solder stands outside the terminal, against beads whose place is known."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sample_images.studio import joint, part as pt, sample, truth
from sample_images.studio.buffers import Buffers
from sample_images.studio.joint_frame import frame
from sample_images.studio.view import looking

D_MM, OUTER_MM, BEAD_MM = 3.0, 1.6, 0.5
HIGH_MM, FOCAL_PX = 200.0, 4000.0  # the camera looks straight down
D_PX = D_MM * FOCAL_PX / HIGH_MM


def buffers(sight=None):
    none = np.zeros((400, 400), np.uint8)
    made = Buffers(
        np.zeros((400, 400, 3), np.float32), none, none.astype(np.uint16), none,
        none.astype(np.float32),
    )  # fmt: skip
    return made if sight is None else replace(made, sight=sight)


def bead(middle, radius=BEAD_MM):
    """A sphere's points."""
    u, v = np.meshgrid(np.linspace(0, np.pi, 41), np.linspace(0, 2 * np.pi, 120))
    way = np.stack([np.sin(u) * np.cos(v), np.sin(u) * np.sin(v), np.cos(u)], -1)
    return np.asarray(middle, float) + radius * way.reshape(-1, 3)


def ways(turn_deg, dip_deg=0.0):
    """The terminal's axis, and the way across it that lies in the picture's plane."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    dip = np.radians(dip_deg)
    return np.array([c * np.cos(dip), s * np.cos(dip), -np.sin(dip)]), np.array([-s, c, 0.0])


def measure(deep, *beads, sight=None, name="blob", label=pt.SOLDER):
    """The excess of beads on a terminal along `deep`; the wire lies along x."""
    parts = [SimpleNamespace(label=label, name=name, vertices=b.astype(np.float32)) for b in beads]
    model = SimpleNamespace(
        parts=parts, lip=np.zeros(3), end=np.array([-3.0, 0, 0]), axis=np.array([1.0, 0, 0]),
        deep=deep, spec=SimpleNamespace(d_mm=D_MM, cup=SimpleNamespace(outer=OUTER_MM)),
    )  # fmt: skip
    camera = looking(np.array([0.0, 0, HIGH_MM]), np.zeros(3), 0.5, FOCAL_PX, 400, 400)
    return truth._excess_d(model, camera, buffers(sight), D_PX)


def above(points, slack_mm):
    """Sight of what does not lie under the terminal's middle plane."""
    return points[:, 2] + slack_mm >= 0


@pytest.mark.parametrize("dip_deg", [0.0, 30.0, -30.0])
@pytest.mark.parametrize("turn_deg", [0.0, 25.0, 75.0])
@pytest.mark.parametrize("side", [-1, 1])
def test_a_bead_stands_out_beside_the_terminals_own_axis(turn_deg, dip_deg, side):
    """Measured beside the wire's axis a bead 3 mm deep would be 0.4 D off at 25 degrees."""
    deep, across = ways(turn_deg, dip_deg)
    out_d, along_mm = 0.15, 3.0
    middle = along_mm * deep + side * (OUTER_MM + out_d * D_MM - BEAD_MM) * across
    nearer = HIGH_MM / (HIGH_MM - middle[2])
    excess, hidden = measure(deep, bead(middle))
    assert excess == pytest.approx(out_d * nearer, abs=0.002)
    assert not hidden


@pytest.mark.parametrize("turn_deg", [0.0, 25.0, 75.0])
def test_solder_inside_the_outline_is_no_excess_though_the_wire_comes_in_askew(turn_deg):
    deep, across = ways(turn_deg)
    inside = [bead(k * deep + (OUTER_MM - BEAD_MM) * across) for k in range(5)]
    excess, hidden = measure(deep, *inside)
    assert excess == pytest.approx(0.0, abs=0.002)
    assert not hidden


def test_a_bead_behind_the_terminal_hides_and_is_none():
    deep, across = ways(40.0)
    middle = 2 * deep + (OUTER_MM + 0.2 * D_MM - BEAD_MM) * across
    excess, hidden = measure(deep, bead(middle - [0, 0, 1.5]), sight=above)
    assert excess <= truth.EXCESS_D
    assert hidden
    excess, hidden = measure(deep, bead(middle), sight=above)  # its lower half is not seen
    assert excess == pytest.approx(0.2, abs=0.002)
    assert not hidden


@pytest.mark.parametrize(
    ("seen_d", "unseen_d", "hidden"), [(0.06, 0.3, True), (0.3, 0.06, False), (0.2, 0.21, False)]
)
def test_only_what_stands_out_farther_than_what_shows_hides_something(seen_d, unseen_d, hidden):
    deep, across = ways(40.0)
    up = bead(1.5 * deep + (OUTER_MM + seen_d * D_MM - BEAD_MM) * across)
    down = bead(2 * deep - (OUTER_MM + unseen_d * D_MM - BEAD_MM) * across - [0, 0, 2.0])
    excess, hides = measure(deep, up, down, sight=above)
    assert excess == pytest.approx(seen_d, abs=0.002)
    assert hides is hidden


def test_a_film_outside_the_outline_is_not_asked_whether_it_shows():
    deep, across = ways(40.0)
    film = bead(2 * deep + (OUTER_MM + 0.02 * D_MM - BEAD_MM) * across)
    excess, hidden = measure(deep, film, sight=lambda points, _slack: np.zeros(len(points), bool))
    assert excess == pytest.approx(0.02, abs=0.002)
    assert not hidden


def test_a_bead_beyond_the_frame_is_hidden():
    deep, across = ways(0.0)
    far = bead(14 * deep + (OUTER_MM + 0.2 * D_MM - BEAD_MM) * across)  # 280 px from the middle
    excess, hidden = measure(deep, far)
    assert excess <= truth.EXCESS_D
    assert hidden


@pytest.mark.parametrize(
    "other", [{"name": "spike"}, {"name": "tinned strands"}, {"label": pt.INSULATION}]
)
def test_what_is_no_bulk_of_solder_is_no_excess(other):
    deep, across = ways(0.0)
    assert measure(deep, bead(2 * deep + 2 * OUTER_MM * across), **other) == (0.0, False)


def test_without_solder_there_is_no_excess():
    assert measure(ways(0.0)[0]) == (0.0, False)


def test_a_sound_joint_whose_wire_comes_in_askew_has_none_however_it_lies():
    rng = np.random.default_rng(5)
    spec = replace(sample.sound(rng, "train"), lean=(0.25, 0.0))
    model = joint.build(spec, rng, -1e3)
    assert np.array_equal(model.deep, [1, 0, 0])
    assert model.axis @ model.deep < 0.99
    c, s = np.cos(0.7), np.sin(0.7)
    motion = np.array([[c, -s, 0, 5], [s, c, 0, -2], [0, 0, 1, 1], [0, 0, 0, 1.0]])
    moved = model.moved(motion)
    assert moved.deep == pytest.approx([c, s, 0])
    for made in (model, moved):
        camera = looking(made.lip + [0, 0, 150.0], made.lip, 0.3, 2500.0, 400, 400)
        assert truth._excess_d(made, camera, buffers(), frame(made, camera)[2]) == (0.0, False)
        thin = replace(made.spec, cup=replace(spec.cup, outer=0.8 * spec.cup.outer))
        slim = replace(made, spec=thin)
        assert truth._excess_d(slim, camera, buffers(), frame(made, camera)[2])[0] > 0.03
