"""Damaged files: a photo or one sentence, never anything else."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from PIL import Image

from inspector.errors import PhotoError
from inspector.photo import read_photo


def original(form):
    y, x = np.mgrid[:90, :120]
    rgb = np.stack([x + y, 2 * x, 255 - y], -1).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112] = 6
    buffer = io.BytesIO()
    Image.fromarray(rgb).save(buffer, form, exif=exif)
    return buffer.getvalue()


ORIGINALS = {form: original(form) for form in ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")}
CHANGES = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=12)


@pytest.mark.parametrize("form", ORIGINALS)
@given(changes=CHANGES, head=st.booleans())
@settings(max_examples=40, deadline=None, derandomize=True)
def test_changed_bytes_give_a_photo_or_one_sentence(form, changes, head):
    data = bytearray(ORIGINALS[form])
    reach = min(300, len(data)) if head else len(data)  # headers are where decoders stumble
    for place, value in changes:
        data[min(int(place * reach), len(data) - 1)] = value
    said = ""
    try:
        photo = read_photo(bytes(data), "odd")
    except PhotoError as error:
        said = str(error)
    else:
        assert photo.rgb.ndim == 3
        assert photo.rgb.dtype == np.uint8
    assert "\n" not in said
