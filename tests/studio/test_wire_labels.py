"""Conductor or solder: what a stretch of the bundle is called goes by what it looks like."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_images.studio import part as pt, sample, solder_mouth
from sample_images.studio.spec import Dry
from sample_images.studio.wire_parts import conductor_parts, tinned_mm


def _spec(**changes):
    spec = sample.sound(np.random.default_rng(5), "train", awg=12)
    cup = replace(spec.cup, cut="half", width_deg=90.0)
    return replace(spec, cup=cup, gap_mm=3.0, cover=False, lay_mm=20.0, **changes)


def _named(spec):
    parts = conductor_parts(spec, np.random.default_rng(1))
    return {p.name: p for p in parts}


def _ridges_mm(spec, part):
    """Spread of the radius within rows of the bundle, median over the rows."""
    v = part.vertices[np.unique(part.faces)].astype(float)
    radius = np.hypot(v[:, 1] - spec.offset[0], v[:, 2] - spec.offset[1])
    rows = [radius[v[:, 0] == x].std() for x in np.unique(v[:, 0]) if (v[:, 0] == x).sum() > 100]
    return float(np.median(rows))


@pytest.mark.parametrize("relief", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("plated", [False, True])
def test_strands_show_where_the_label_is_conductor_and_are_filled_where_it_is_solder(
    plated, relief
):
    spec = _spec(tinned=0.6, relief=relief)
    if plated:  # silver like solder, but each strand shows
        spec = replace(spec, copper=replace(spec.copper, rgb=(0.75, 0.75, 0.74)))
    named = _named(spec)
    bare, tinned = named["bare strands"], named["tinned strands"]
    assert (bare.label, tinned.label) == (pt.CONDUCTOR, pt.SOLDER)
    assert _ridges_mm(spec, bare) > 2 * _ridges_mm(spec, tinned)
    # the border lies where solder stops drawing in, give or take its waves
    x = bare.vertices[np.unique(bare.faces), 0]
    assert x.max() == pytest.approx(-0.6 * 3.0, abs=0.6 * spec.core_mm)


def test_a_wire_that_is_tinned_before_the_cup_is_tinned_in_it():
    named = _named(_spec(tinned=0.8))
    assert named["bare strands"].vertices[named["bare strands"].faces, 0].mean(axis=1).max() < 0
    assert named["conductor tip"].label == pt.SOLDER


def test_a_wire_that_is_bare_in_the_cup_is_bare_before_it():
    named = _named(_spec(tinned=0.0))
    assert "tinned strands" not in named
    assert named["conductor tip"].label == pt.CONDUCTOR


def test_no_solder_draws_in_where_the_conductor_is_dry():
    spec = _spec(tinned=0.3, dry=(Dry("conductor", 0.0, 180.0),))
    x = np.linspace(-3, 3, 50)
    top = tinned_mm(spec, x, np.zeros(50), 3)
    below = tinned_mm(spec, x, np.full(50, np.pi), 3)
    assert (top < 0).all()
    assert (below > 0).any()


def test_tinned_strands_that_stand_in_an_empty_cup_do_not_fill_it():
    for level, counted in ((0.2, False), (0.97, True)):
        part = _named(_spec(tinned=1.3, level=level))["tinned strands"]
        inside = part.vertices[part.faces, 0].mean(axis=1) > 0
        assert inside.any()
        assert ((part.marks[inside] & pt.MOUTH) > 0).all() == counted
        assert ((part.marks[inside] & pt.MOUTH) > 0).any() == counted


def test_no_solder_peeps_out_between_bare_strands():
    spec = _spec(tinned=0.0, theta_deg=20.0)
    cz = -(spec.cup.inner - spec.core_mm)
    spec = replace(spec, offset=(0.0, cz), level=0.6, dome_mm=0.0)
    made = solder_mouth.mouth_fillet(spec, 1)
    assert made is not None
    v = made[0].vertices.reshape(30, -1, 3)
    radius = np.hypot(v[..., 1], v[..., 2] - cz)
    sunk = (radius < spec.core_mm - 0.02).all(axis=0)  # where the wire stands out of the solder
    assert sunk.any()
    part = _named(spec)["bare strands"]
    strands = part.vertices[np.unique(part.faces)].astype(float)
    strands = strands[strands[:, 0] < spec.seat * spec.cup.depth - 0.1]  # the tip is rounded
    lowest = np.hypot(strands[:, 1], strands[:, 2] - cz).min()
    assert radius[:, sunk].max() < lowest
