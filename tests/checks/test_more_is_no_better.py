"""One thing more that is wrong never makes a joint look better, however faint it is."""

import pytest
from hypothesis import given, strategies as st
from scipy.stats import norm

from inspector.checks import (
    bridge,
    excess_solder,
    insulation_damage,
    insulation_gap,
    spike,
    stray_strand,
    surface,
)
from inspector.marks import Thing, most_telling
from inspector.model import Mark, Region
from inspector.probability import chance
from tests.defects import PLAIN, band, box, changed, view

SURE, FAINT = 0.95, 0.3

things = st.lists(
    st.builds(Thing, st.floats(0, 5), st.floats(0.01, 1), st.floats(0.01, 1)),
    min_size=1,
    max_size=6,
)


def weight(of, limit):
    """How surely something over the limit is there, by what is named of several things."""
    named, presence = most_telling(of, limit)
    return presence * float(norm.sf(limit, of[named].size, of[named].u))


@given(things, things, st.floats(0.1, 3))
def test_what_is_named_weighs_at_least_as_much_as_without_the_rest(some, more, limit):
    assert weight([*some, *more], limit) >= 0.95 * weight(some, limit) - 1e-9


def test_of_what_weighs_the_same_the_largest_is_named_as_surely_as_the_surest():
    few = [Thing(1.0, 0.1, 0.95), Thing(3.0, 0.1, 0.93), Thing(9.0, 0.1, 0.3)]
    assert most_telling(few, 0.5) == (1, 0.95)
    assert most_telling([Thing(0.1, 0.1, 0.9)], 0.5) == (0, 0.9)


def worst(check, drawing):
    """The least probability of conformance of all that the check measures, by the normal law."""
    found = check.measure(view(drawing))
    limits = {limit.name: limit for limit in check.LIMITS}
    seen = [chance(m, limits[m.name], raw=True) for m in found if m.name in limits]
    return min(seen)


CASES = {
    "spike": (spike, Mark.SPIKE, box(1.3, 1.36, 0.38, 0.70), box(1.9, 2.0, 0.38, 1.6)),
    "char": (
        insulation_damage,
        Mark.CHAR,
        box(-0.35, -0.05, -0.2, 0.1),
        box(-1.9, -0.5, -0.4, 0.4),
    ),
    "hole": (surface, Mark.HOLE, box(1.3, 1.42, -0.1, 0.02), box(1.6, 2.0, -0.2, 0.2)),
    "rough": (surface, Mark.ROUGH, box(1.0, 1.4, -0.33, 0.33), box(1.45, 2.19, -0.33, 0.33)),
    "bridge": (bridge, Mark.BRIDGE, box(1.2, 1.4, 0.42, 0.70), box(1.6, 1.9, 0.42, 1.6)),
    "surplus": (excess_solder, Mark.SURPLUS, box(1.0, 1.5, 0.2, 0.42), box(1.6, 2.9, -0.42, 0.42)),
    "embedded": (insulation_gap, Mark.EMBED, box(1.2, 1.4, -0.1, 0.1), box(1.5, 2.2, -0.3, 0.3)),
}


@pytest.mark.parametrize("name", CASES)
def test_a_faint_large_mark_does_not_hide_a_sure_small_one(name):
    check, mark, sure, faint = CASES[name]
    alone = worst(check, changed(PLAIN, marks=((mark, [sure], SURE),)))
    both = worst(check, changed(PLAIN, marks=((mark, [sure], SURE), (mark, [faint], FAINT))))
    assert alone < 0.2
    assert both <= alone + 0.05


def test_a_faint_surrounding_does_not_hide_a_sure_core():
    core, halo = box(1.4, 1.52, -0.06, 0.06), box(1.2, 1.9, -0.3, 0.3)
    alone = worst(surface, changed(PLAIN, marks=((Mark.HOLE, [core], SURE),)))
    both = worst(
        surface, changed(PLAIN, marks=((Mark.HOLE, [halo], FAINT), (Mark.HOLE, [core], SURE)))
    )
    assert alone < 0.2
    assert both <= alone + 0.05


def test_a_hair_on_the_bench_does_not_hide_a_strand():
    strand = band([[0.8, 0.25], [0.8, 0.55]], 0.03)
    hair = band([[0.2, 1.1], [1.9, 2.0]], 0.03)
    one = changed(PLAIN, regions=((Region.STRAND, strand),))
    two = changed(PLAIN, regions=((Region.STRAND, [*strand, *hair]),))
    assert worst(stray_strand, one) < 0.2
    assert worst(stray_strand, two) <= worst(stray_strand, one) + 0.05


def test_a_narrow_crack_is_no_noise():
    for long in (0.1, 0.2):
        crack = changed(
            PLAIN, d_px=128, side=560, end=(240, 280),
            marks=((Mark.HOLE, [box(1.3, 1.3 + long, 0.0, 1.2 / 128)], SURE),),
        )  # fmt: skip
        (found,) = (m for m in surface.measure(view(crack)) if m.name == "hole")
        assert found.quantity.value == pytest.approx(long, abs=0.02)
