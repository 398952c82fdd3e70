"""The solder's surfaces: fields of one pole, or of two and the bridge between them, as meshes.

Figures are ours, no source; lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from skimage.measure import marching_cubes

from .connector import Bridge
from .fields import Array, Grid, Rng, smooth_min
from .meshes import Mesh
from .pole import Pole
from .solder_field import OUTSIDE, Solder, solder_field

MOST_POINTS = 5e6  # of a grid
LARGE = frozenset({"excess-solder", "buried", "spike", "wetting"})  # beyond the cup


def solder_bodies(rng: Rng, poles: Sequence[Pole], bridge: Bridge | None = None) -> list[Mesh]:
    """Meshes of the solder of these poles, those that a bridge connects as one, and first.

    Their values: lx, ly, lz (the place along and across the wire, mm), lay and dark (0 to 1).
    """
    groups: list[tuple[Pole, ...]] = [(pole,) for pole in poles]
    if bridge:
        pair = (bridge.first, bridge.first + 1)
        rest = [(pole,) for i, pole in enumerate(poles) if i not in pair]
        groups = [tuple(poles[i] for i in pair), *rest]
    bodies = []
    for i, group in enumerate(groups):
        if all(pole.fault == "none" for pole in group):
            continue
        body = _body(rng, group, bridge if i == 0 else None)
        if body:
            bodies.append(body)
    return bodies


def _body(rng: Rng, group: Sequence[Pole], bridge: Bridge | None) -> Mesh | None:
    grid = _grid(group)
    parts = [solder_field(rng, pole, grid) for pole in group]
    whole = parts[0]
    nearest = np.abs(grid.y - group[0].y)
    for pole, part in zip(group[1:], parts[1:], strict=True):
        whole = _nearer(whole, part, np.abs(grid.y - pole.y) < nearest)
    field = whole.field
    if bridge:
        field = _bridged(rng, field, grid, group, bridge)
    for axis in range(3):  # closed at the grid's sides
        sides = np.moveaxis(field, axis, 0)
        sides[0] = sides[-1] = OUTSIDE
    field = gaussian_filter(field, 0.7)
    if field.min() > 0:
        return None
    places, faces, _, _ = marching_cubes(field, 0.0)

    def at(values: Array) -> Array:
        return np.asarray(map_coordinates(values, places.T, order=1, mode="nearest"))

    values = {
        "ly": at(whole.across),
        "lz": at(whole.up),
        "lx": grid.origin[0] + places[:, 0] * grid.pitch,
        "lay": at(whole.lay),
        "dark": at(whole.dark),
    }
    return Mesh(places * grid.pitch + grid.origin, faces[:, ::-1], values=values)


def _nearer(one: Solder, other: Solder, is_other: Array) -> Solder:
    """Both fields together, with all else from the nearer pole."""
    return Solder(
        np.minimum(one.field, other.field),
        np.where(is_other, other.across, one.across),
        np.where(is_other, other.up, one.up),
        np.where(is_other, other.lay, one.lay),
        np.where(is_other, other.dark, one.dark),
    )


def _grid(group: Sequence[Pole]) -> Grid:
    """A grid that holds all solder of these poles."""
    bore = max(pole.bore for pole in group)
    large = any(pole.fault in LARGE for pole in group)
    pitch = max(0.028, bore / 30) * (1.25 if len(group) > 1 else 1) * (1.2 if large else 1)
    margin = 2.1 * bore if large else 1.3 * bore
    top = max(max(pole.edge, pole.sag + pole.radius) for pole in group)
    wick = max(pole.wick for pole in group)
    low = [
        -max(wick + 0.3, 0.6 * bore, _reach(group)),
        min(pole.y for pole in group) - margin,
        -1.15 * bore - (0.6 * bore if large else 0),
    ]
    high = [
        max(pole.length for pole in group) + 0.4 + (bore if large else 0),
        max(pole.y for pole in group) + margin,
        top + (2.4 * bore if large else 0.7 * bore),
    ]
    tips = [np.array(s.tip) + (0, pole.y, 0) for pole in group for s in pole.spikes]
    if tips:
        first, last = np.min(tips, 0) - 0.3, np.max(tips, 0) + 0.3
        low = [min(low[0], first[0]), min(low[1], first[1]), low[2]]
        high = [max(a, b) for a, b in zip(high, last, strict=True)]
    extent = (high[0] - low[0]) * (high[1] - low[1]) * (high[2] - low[2])
    while extent / pitch**3 > MOST_POINTS:
        pitch *= 1.08
    return Grid.over((low[0], low[1], low[2]), (high[0], high[1], high[2]), pitch)


def _reach(group: Sequence[Pole]) -> float:
    """How far surplus solder reaches before the lip, 0 or more."""
    reach = [0.0]
    for pole in group:
        reach += [-(b.centre[0] - b.axes[0]) + 0.3 for b in pole.bulges]
        reach += [-(b.centre[0] - b.radius) + 0.3 for b in pole.balls]
        reach += [-s.tip[0] + 0.3 for s in pole.spikes]
    return max(reach)


def _bridged(rng: Rng, field: Array, grid: Grid, pair: Sequence[Pole], bridge: Bridge) -> Array:
    """The field with a sagging rod of solder between two poles, that runs up to both cups."""
    one, other = pair
    bore = max(pole.bore for pole in pair)
    uneven = grid.noise(rng, 0.7)
    start = np.array([bridge.x, one.y + 0.3 * one.bore, one.edge + 0.05])
    end = [bridge.x + bridge.skew, other.y - 0.3 * other.bore, other.edge + 0.05]
    part, x, y, z = grid.along(start, np.array(end), grid.y)
    waist = np.sin(np.pi * part)
    off = np.sqrt((x / 1.3) ** 2 + y**2 + (z + bridge.sag * waist) ** 2)
    rod = off - bridge.radius * (1 - 0.25 * waist) - 0.04 * uneven
    field = smooth_min(field, rod, 0.5 * bore)
    near = np.abs(grid.x - bridge.x) < 2.2 * bridge.radius
    for pole in pair:
        cup = np.hypot(grid.y - pole.y, grid.z) - pole.bore - pole.wall + 0.06
        cup = np.maximum(cup, np.maximum(-grid.x + 0.3, grid.z - pole.edge))
        field = np.minimum(field, np.where(near, smooth_min(rod, cup, 0.5 * bore), OUTSIDE))
    return field
