"""The room as the joint's metal mirrors it: walls, furniture, windows, lamps, the photographer.

Brightness is relative, angles are in degrees here; all of it is ours, no source.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from .fields import Array, Rng, step

HIGH, WIDE = 128, 256  # pixels
WALL, FLOOR = (0.42, 0.39, 0.35), (0.12, 0.10, 0.09)
DAYLIGHT, LAMP = (0.85, 0.95, 1.1), (1.1, 1.0, 0.88)


def room_picture(rng: Rng, light: str) -> Array:
    """The room all round, (128, 256, 3) in linear light: first row below, middle of a row ahead.

    light: one of `plan.LIGHTS`.
    """
    up = np.linspace(-90, 90, HIGH)[:, None]
    turn = np.linspace(-180, 180, WIDE)[None]
    room = np.zeros((HIGH, WIDE, 3))
    wall = np.array(WALL) * rng.uniform(0.5, 1.2)
    room += wall * (0.35 + 0.5 * step(-20, 80, up))[..., None]
    clouds = gaussian_filter(rng.normal(size=(HIGH, WIDE)), 6, mode="wrap")
    room *= (1 + 0.35 * clouds * 8)[..., None].clip(0.3, 2)
    floor = np.array(FLOOR) * rng.uniform(0.5, 1.5)
    room = np.where((up < 0)[..., None], floor, room)
    for _ in range(rng.integers(4, 9)):  # furniture
        at, height = rng.uniform(-180, 180), rng.uniform(0, 40)
        wide, high = rng.uniform(8, 45), rng.uniform(8, 40)
        seen = (np.abs(_from(turn, at)) < wide / 2) & (np.abs(up - height) < high / 2)
        room[seen] = np.array(rng.uniform(0.02, 0.5, 3)) * 0.6 + 0.02
    if light == "window" or rng.random() < 0.4:
        _add_window(rng, room, up, turn, 9 if light == "window" else 2.5)
    if light in {"desk", "ceiling"}:
        _add_lamps(rng, room, up, turn, 12 if light == "ceiling" else 3)
    # the photographer with the phone, dark above
    above = up > rng.uniform(70, 80)
    room[above & (np.abs(_from(turn, rng.uniform(-180, 180))) < 100)] *= 0.25
    return np.asarray(gaussian_filter(room, (0.8, 0.8, 0)))


def _from(turn: Array, at: float) -> Array:
    """Angles from another one, -180 to 180."""
    return (turn - at + 180) % 360 - 180


def _add_window(rng: Rng, room: Array, up: Array, turn: Array, bright: float) -> None:
    at, height = rng.uniform(-180, 180), rng.uniform(30, 60)
    wide, high = rng.uniform(30, 70), rng.uniform(25, 45)
    across, above = _from(turn, at), up - height
    pane = (np.abs(across) < wide / 2) & (np.abs(above) < high / 2)
    bars = (np.abs(across) < 1.5) | (np.abs(above + 3) < 1.2)
    room[pane & ~bars] = np.array(DAYLIGHT) * bright


def _add_lamps(rng: Rng, room: Array, up: Array, turn: Array, bright: float) -> None:
    for _ in range(rng.integers(1, 3)):
        at, height = rng.uniform(-180, 180), rng.uniform(50, 82)
        across = np.abs(_from(turn, at)) < rng.uniform(15, 50)
        room[across & (np.abs(up - height) < rng.uniform(3, 7))] = np.array(LAMP) * bright
