"""Photos of every format and orientation come out the same; anything else gets one sentence."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
from PIL import Image, ImageCms

from inspector.errors import PhotoError
from inspector.photo import make_photo, read_photo

FORMATS = {"JPEG": 4.0, "PNG": 0.0, "WEBP": 4.0, "HEIF": 4.0, "AVIF": 4.0}
# how a camera held that way would have stored the upright picture: Pillow's inverse operations
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def scene(wide=160, high=96):
    """A smooth picture without any symmetry."""
    y, x = np.mgrid[:high, :wide]
    rgb = np.stack([40 + x, 30 + 2 * y, 200 - x + y * 0.3], -1)
    rgb[10:30, 12:50] = (220, 40, 30)
    return np.clip(rgb, 0, 255).astype(np.uint8)


def encoded(picture, form, **options):
    if form in ("JPEG", "WEBP", "HEIF", "AVIF"):
        options.setdefault("quality", 95)
    if form == "JPEG":
        options.setdefault("subsampling", 0)
    buffer = io.BytesIO()
    picture.save(buffer, form, **options)
    return buffer.getvalue()


def difference(one, other):
    return np.abs(one.astype(int) - other.astype(int)).mean()


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("turn", range(1, 9))
def test_every_format_in_every_orientation_is_upright(form, turn):
    upright = scene()
    picture = Image.fromarray(upright)
    if STORED[turn] is not None:
        picture = picture.transpose(STORED[turn])
    exif = Image.Exif()
    exif[0x0112] = turn
    photo = read_photo(encoded(picture, form, exif=exif), "a")
    assert photo.rgb.shape == upright.shape
    assert difference(photo.rgb, upright) <= FORMATS[form]
    assert not photo.rgb.flags.writeable


def test_grey_of_8_and_16_bits():
    grey = scene()[..., 1]
    eight = read_photo(encoded(Image.fromarray(grey), "PNG")).rgb
    deep = Image.fromarray(grey.astype(np.uint16) * 257)
    sixteen = read_photo(encoded(deep, "PNG")).rgb
    assert (eight == grey[..., None]).all()
    assert (sixteen == grey[..., None]).all()


def test_dark_16_bit_grey_stays_dark():
    deep = Image.fromarray(np.full((80, 80), 200, np.uint16))
    assert read_photo(encoded(deep, "PNG")).rgb.max() <= 1


def test_transparency_is_laid_on_white():
    rgba = np.dstack([scene(), np.zeros((96, 160), np.uint8)])
    rgba[:48, :, 3] = 255
    rgb = read_photo(encoded(Image.fromarray(rgba), "PNG")).rgb
    assert (rgb[:48] == scene()[:48]).all()
    assert (rgb[48:] == 255).all()


def test_palette_and_cmyk():
    palette = Image.fromarray(scene()).quantize(64)
    assert difference(read_photo(encoded(palette, "PNG")).rgb, scene()) < 12
    cmyk = Image.fromarray(scene()).convert("CMYK")
    assert difference(read_photo(encoded(cmyk, "JPEG")).rgb, scene()) < 6


def wide_gamut_profile():
    """A matrix profile with wide primaries (D50, columns sum to the white) and sRGB's curve."""

    def fixed(*values):
        return b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    def words(text):
        body = text.encode("utf-16be")
        return b"mluc\0\0\0\0" + struct.pack(">II4sII", 1, 12, b"enUS", len(body), 28) + body

    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0)
    curve += fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    xyz = b"XYZ \0\0\0\0"
    tags = {
        b"desc": words("wide"),
        b"cprt": words("none"),
        b"wtpt": xyz + fixed(0.9642, 1, 0.8249),
        b"rXYZ": xyz + fixed(0.51512, 0.2412, -0.00105),
        b"gXYZ": xyz + fixed(0.29198, 0.69225, 0.04189),
        b"bXYZ": xyz + fixed(0.1571, 0.06655, 0.78406),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    start, table, data = 132 + 12 * len(tags), b"", b""
    for name, body in tags.items():
        table += name + struct.pack(">II", start + len(data), len(body))
        data += body + b"\0" * (-len(body) % 4)
    head = struct.pack(">I4sI4s4s4s", start + len(data), b"", 0x04000000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2020, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28
    head = (head + fixed(0.9642, 1, 0.8249)).ljust(128, b"\0")
    return head + struct.pack(">I", len(tags)) + table + data


def test_a_wide_gamut_photo_is_converted_and_an_srgb_one_is_left_alone():
    colours = np.full((80, 80, 3), (180, 100, 90), np.uint8)
    wide = read_photo(encoded(Image.fromarray(colours), "PNG", icc_profile=wide_gamut_profile()))
    red, green, blue = wide.rgb[40, 40].astype(int)
    assert red > 183  # a wide red is a stronger sRGB red
    assert green < 100
    assert blue < 90
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    same = read_photo(encoded(Image.fromarray(scene()), "PNG", icc_profile=srgb))
    assert (same.rgb == scene()).all()


def test_a_broken_profile_is_ignored():
    data = encoded(Image.fromarray(scene()), "PNG", icc_profile=b"no profile")
    assert (read_photo(data).rgb == scene()).all()


def test_the_time_is_kept_and_nothing_else():
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2024:05:06 07:08:09"
    exif[0x010F] = "a maker"
    photo = read_photo(encoded(Image.fromarray(scene()), "JPEG", exif=exif))
    assert photo.taken == "2024:05:06 07:08:09"


def test_of_several_pictures_in_one_file_the_first_counts():
    first, second = Image.fromarray(scene()), Image.fromarray(255 - scene())
    data = encoded(first, "WEBP", save_all=True, append_images=[second], lossless=True)
    assert (read_photo(data).rgb == scene()).all()


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9])
def test_a_file_cut_short_gets_one_sentence(form, share):
    data = encoded(Image.fromarray(scene(400, 300)), form)
    with pytest.raises(PhotoError) as caught:
        read_photo(data[: int(len(data) * share)], "cut.jpg")
    assert "cut.jpg" in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "empty"),
        (b"not a photo at all", "not a photo"),
        (b"%PDF-1.4 something", "not a photo"),
        (b"\xff\xd8\xff\xe0" + bytes(200), "not a photo"),
        (b"GIF89a" + bytes(100), "not a photo"),
    ],
)
def test_what_is_no_photo_gets_one_sentence(data, word):
    with pytest.raises(PhotoError, match=word):
        read_photo(data)


def test_too_small_and_too_large():
    with pytest.raises(PhotoError, match="only 160 x 60 pixels"):
        read_photo(encoded(Image.fromarray(scene(160, 60)), "PNG"))
    bomb = encoded(Image.new("1", (11_000, 9_500)), "PNG")
    assert len(bomb) < 100_000
    with pytest.raises(PhotoError, match="100 megapixels"):
        read_photo(bomb)
    worse = encoded(Image.new("1", (20_000, 20_000)), "PNG")
    with pytest.raises(PhotoError, match="100 megapixels"):
        read_photo(worse)


def test_paths(tmp_path):
    path = tmp_path / "joint.jpg"
    path.write_bytes(encoded(Image.fromarray(scene()), "JPEG"))
    assert read_photo(path).name == "joint.jpg"
    assert read_photo(str(path)).name == "joint.jpg"
    with pytest.raises(PhotoError, match="no file"):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(PhotoError, match="folder"):
        read_photo(tmp_path)
    with pytest.raises(PhotoError):
        read_photo("a\0b.jpg")


def test_arrays():
    photo = make_photo(scene(), "mine")
    assert read_photo(photo) is photo
    with pytest.raises(PhotoError):
        make_photo(scene()[..., 0])
