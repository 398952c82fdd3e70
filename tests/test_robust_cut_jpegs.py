"""A JPEG that stops early behind a proper end marker is refused; a whole one never is."""

from __future__ import annotations

import io
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from PIL import Image

from inspector.errors import PhotoError
from inspector.photo import read_photo
from inspector.whole_photo import read_stream, stops_early

END = b"\xff\xd9"
SAMPLES = sorted((Path(__file__).parents[1] / "sample_images").rglob("*.jpg"))
WAYS = {
    "plain": {},
    "progressive": {"progressive": True},
    "own tables": {"optimize": True},
    "restarts": {"restart_marker_rows": 1},
    "restarts within rows": {"restart_marker_blocks": 7},
    "progressive with restarts": {"progressive": True, "restart_marker_rows": 2},
    "full colour": {"subsampling": 0},
}


def scene(wide=400, high=300):
    """Blurred noise: some detail everywhere, as photos have."""
    rough = np.random.default_rng(5).integers(0, 256, (high // 5, wide // 5, 3), np.uint8)
    return Image.fromarray(rough).resize((wide, high), Image.Resampling.BICUBIC)


def encoded(picture, form="JPEG", **options):
    buffer = io.BytesIO()
    picture.save(buffer, form, **options)
    return buffer.getvalue()


def first_scan(data):
    return data.find(b"\xff\xda")


def cut(data, share):
    """The first picture's data up to that share of its scans, closed; what follows it stays."""
    start, end = first_scan(data) + 14, read_stream(data).end
    return data[: start + int((end - start) * share)] + END + data[end + 2 :]


WHOLE = {way: encoded(scene(), **options) for way, options in WAYS.items()}
WHOLE["grey"] = encoded(scene().convert("L"))
WHOLE["four inks"] = encoded(scene().convert("CMYK"))
WHOLE["two pictures"] = encoded(scene(), "MPO", save_all=True, append_images=[scene(80, 80)])


@pytest.mark.parametrize("way", WHOLE)
@given(share=st.floats(0.01, 0.99))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_one_that_stops_early_gets_one_sentence(way, share):
    with pytest.raises(PhotoError) as caught:
        read_photo(cut(WHOLE[way], share), "a.jpg")
    assert str(caught.value).startswith("a.jpg ")
    assert str(caught.value).isprintable()


def test_the_sentence_says_what_to_do():
    with pytest.raises(PhotoError, match=r"cut short.*again, or take the photo anew"):
        read_photo(cut(WHOLE["plain"], 0.6))


def test_such_a_file_would_decode_without_a_word():
    picture = Image.open(io.BytesIO(cut(WHOLE["plain"], 0.5)))
    picture.load()
    assert picture.getpixel((399, 299)) == (128, 128, 128)


def test_stopping_between_two_restarts_or_two_scans_is_found():
    data = WHOLE["restarts"]
    place = data.find(b"\xff\xd4", first_scan(data))
    assert stops_early(data[:place] + END)
    assert stops_early(data[: place + 2] + END)
    data = WHOLE["progressive"]
    place = data.rfind(b"\xff\xda")
    table = data.rfind(b"\xff\xc4", 0, place)
    assert stops_early(data[:table] + END)


@pytest.mark.parametrize("way", WHOLE)
def test_a_whole_one_is_read_whatever_follows_it(way):
    for more in (b"", bytes(999), b"\xff" * 99, b"a trailer" * 99):
        assert read_photo(WHOLE[way] + more).rgb.shape == (300, 400, 3)


def barred(level, top, left):
    rgb = np.array(scene())
    rgb[top:], rgb[:, left:] = level, level
    return Image.fromarray(rgb)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("level", [0, 127, 128, 255])
def test_flat_parts_of_a_whole_photo_count_for_nothing(way, level):
    """A white page, a black border, a grey bar, from some row on or all over."""
    for top, left in ((0, 0), (96, 400), (201, 400), (300, 160), (290, 390)):
        assert not stops_early(encoded(barred(level, top, left), **WAYS[way]))


@pytest.mark.parametrize("way", WAYS)
def test_any_size_and_quality_is_whole(way):
    for (wide, high), quality in product([(64, 64), (65, 71), (97, 203)], (5, 75, 100)):
        assert not stops_early(encoded(scene(wide, high), quality=quality, **WAYS[way]))


@pytest.mark.parametrize("path", SAMPLES[::3], ids=lambda path: path.stem)
def test_sample_photos_are_whole_until_they_are_cut(path):
    data = path.read_bytes()
    assert not stops_early(data)
    for share in (0.4, 0.6, 0.8, 0.95):
        assert stops_early(cut(data, share))


def test_a_copy_broken_off_leaves_zeros():
    data = WHOLE["plain"]
    half = len(data) // 2
    assert stops_early(data[:half] + bytes(half))


@pytest.mark.parametrize("form", ["PNG", "WEBP", "HEIF", "AVIF"])
def test_other_formats_are_not_looked_at(form):
    data = encoded(scene(), form)
    assert read_stream(data) is None
    assert not stops_early(data)


@given(data=st.binary(max_size=60))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_bytes_that_are_no_picture_are_left_to_the_decoder(data):
    assert not stops_early(b"\xff\xd8" + data)
