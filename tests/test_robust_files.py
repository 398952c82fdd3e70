"""Files that nobody should hand over: each gets one sentence, soon, and on one line."""

from __future__ import annotations

import io
import os
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from PIL import Image, ImageCms

from inspector import cli, photo as reading
from inspector.errors import PhotoError
from inspector.photo import make_photo, read_photo

RGB = np.random.default_rng(3).integers(0, 256, (90, 120, 3)).astype(np.uint8)
FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")
PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def encoded(picture, form, **options):
    buffer = io.BytesIO()
    picture.save(buffer, form, **options)
    return buffer.getvalue()


def chunk(name, body):
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(wide, high, *, depth=8, colour=2, rows=b"", more=b""):
    head = struct.pack(">IIBBBBB", wide, high, depth, colour, 0, 0, 0)
    body = chunk(b"IHDR", head) + more + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def sentence(source):
    with pytest.raises(PhotoError) as caught:
        read_photo(source)
    text = str(caught.value)
    assert text.isprintable()  # no line break, no control code
    return text


WHOLE = {form: encoded(Image.fromarray(RGB), form) for form in FORMATS}


@pytest.mark.parametrize("form", FORMATS)
@given(share=st.floats(0, 1))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_a_file_cut_short_anywhere_is_an_error(form, share):
    data = WHOLE[form]
    sentence(data[: min(int(share * len(data)), len(data) - 32)])  # PNG's end says nothing


@pytest.mark.parametrize("make", ["fifo", "zero", "null"])
def test_what_may_never_end_is_not_opened(tmp_path, make):
    path = {"zero": "/dev/zero", "null": "/dev/null"}.get(make) or str(tmp_path / "pipe.jpg")
    if make == "fifo":
        os.mkfifo(path)
    assert "no ordinary file" in sentence(path)


@pytest.mark.parametrize("name", ["x" * 300 + ".jpg", "a\nb.jpg", "\x1b[31mred.jpg", "\udcff.jpg"])
def test_names_that_cannot_be_or_cannot_be_shown(tmp_path, name):
    sentence(tmp_path / name)


def test_such_a_name_is_shown_on_one_line(tmp_path):
    path = tmp_path / "a\n\x1b\udcff.jpg"
    path.write_bytes(WHOLE["JPEG"])
    assert read_photo(path).name == "a???.jpg"
    fine = tmp_path / "Lötstelle 焊点.jpg"
    fine.write_bytes(WHOLE["JPEG"])
    assert read_photo(fine).name == fine.name


@pytest.mark.parametrize("name", ["", "  "])
def test_an_empty_name_is_no_folder(name):
    with pytest.raises(PhotoError, match="name is empty"):
        read_photo(name)


def test_a_loop_of_links_and_a_file_in_the_place_of_a_folder(tmp_path):
    loop = tmp_path / "loop.jpg"
    loop.symlink_to(loop)
    sentence(loop)
    (tmp_path / "a.jpg").touch()
    assert "empty" in sentence(tmp_path / "a.jpg")
    sentence(tmp_path / "a.jpg" / "b.jpg")


def test_a_file_too_large_is_not_read_to_its_end(tmp_path, monkeypatch):
    monkeypatch.setattr(reading, "LARGEST_BYTES", 1000)
    path = tmp_path / "video.jpg"
    path.write_bytes(bytes(1001))
    assert "larger than" in sentence(path)


@pytest.mark.parametrize("bad", ["pipe", "text", "long"])
def test_the_command_line_says_it_and_ends_with_2(tmp_path, capsys, bad):
    path = tmp_path / ("x" * 300 if bad == "long" else "a.jpg")
    if bad == "pipe":
        os.mkfifo(path)
    elif bad == "text":
        path.write_text("no photo\n" * 100, "utf-8")
    assert cli.main(["look", str(path)]) == cli.UNUSABLE
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "size", [(20_000, 10_000), (2**31 - 1, 2**31 - 1), (2**31 - 1, 64), (0, 0), (0, 90)]
)
def test_headers_that_claim_what_cannot_be(size):
    sentence(png(*size))


@pytest.mark.parametrize("size", [(1, 1), (1, 4000), (4000, 1), (63, 64)])
@pytest.mark.parametrize("form", ["PNG", "JPEG", "WEBP"])
def test_slivers(size, form):
    assert "pixels" in sentence(encoded(Image.new("RGB", size), form))
    with pytest.raises(PhotoError):
        make_photo(np.zeros((size[1], size[0], 3), np.uint8))


@pytest.mark.parametrize("form", ["GIF", "BMP", "TIFF"])
def test_formats_that_are_not_offered(form):
    assert "not a photo" in sentence(encoded(Image.fromarray(RGB), form))


def test_a_chunk_that_swells_is_an_error():
    rows = b"".join(b"\0" + row.tobytes() for row in RGB)
    bomb = chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(70_000_000), 1))
    sentence(png(120, 90, rows=rows, more=bomb))


@pytest.mark.parametrize("form", ["PNG", "JPEG", "WEBP"])
@given(changes=st.lists(st.tuples(st.integers(0, 500), st.integers(0, 255)), max_size=6))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_any_profile_gives_a_photo(form, changes):
    profile = bytearray(PROFILE)
    for place, value in changes:
        profile[place] = value
    data = encoded(Image.fromarray(RGB), form, icc_profile=bytes(profile))
    assert read_photo(data).rgb.shape == RGB.shape


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA"])
@pytest.mark.parametrize("space", ["LAB", "XYZ"])
def test_a_profile_for_other_channels_changes_nothing(mode, space):
    odd = ImageCms.ImageCmsProfile(ImageCms.createProfile(space)).tobytes()
    picture = Image.fromarray(RGB).convert(mode)
    plain, marked = (
        read_photo(encoded(picture, "PNG", **extra)).rgb for extra in ({}, {"icc_profile": odd})
    )
    assert (plain == marked).all()


@pytest.mark.parametrize("turn", [0, 9, 65535])
def test_an_orientation_that_is_none_counts_as_upright(turn):
    exif = Image.Exif()
    exif[0x0112] = turn
    assert read_photo(encoded(Image.fromarray(RGB), "JPEG", exif=exif)).rgb.shape == RGB.shape


def test_a_time_that_is_none_is_kept_short_and_on_one_line():
    exif = Image.Exif()
    exif[0x0132] = "2024\n\x1b[31m" * 2000
    taken = read_photo(encoded(Image.fromarray(RGB), "JPEG", exif=exif)).taken
    assert taken.isprintable()
    assert len(taken) <= 19
