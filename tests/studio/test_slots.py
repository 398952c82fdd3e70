"""Every scene fills the same slots, and no part loses a face on the way."""

import numpy as np
import pytest

from sample_images.studio.part import Material, Part
from sample_images.studio.slots import TEXTURED, slots


def a_part(number, *, textured, smooth):
    rng = np.random.default_rng(number)
    texture = rng.random((4, 4, 3)).astype(np.float32) if textured else None
    return Part(
        f"part {number}",
        rng.random((6, 3)).astype(np.float32),
        np.array([[0, 1, 2], [2, 3, 4], [4, 5, 0]], np.uint32),
        number % 8,
        Material("any", "plastic", (0.4, 0.4, 0.4), 0.5, texture=texture),
        uv=rng.random((6, 2)).astype(np.float32) if textured else None,
        smooth=smooth,
    )


@pytest.mark.parametrize("pictures", [0, 1, TEXTURED, TEXTURED + 3])
@pytest.mark.parametrize("plain", [0, 5])
def test_the_number_of_meshes_never_changes(pictures, plain):
    parts = [a_part(k, textured=k < pictures, smooth=k % 2 == 0) for k in range(pictures + plain)]
    made = slots(parts)
    assert len(made) == 2 + TEXTURED
    assert all(len(group) == 1 and group[0].smooth for group in made[2:])
    kept = [p for group in made for p in group if p.name != "dummy"]
    assert sorted(p.name for p in kept) == sorted(p.name for p in parts)


def test_facets_with_corners_of_their_own_stay_where_they_were():
    part = a_part(3, textured=True, smooth=False)
    (apart,) = slots([part])[2]
    assert np.array_equal(apart.vertices[apart.faces], part.vertices[part.faces])
    assert np.array_equal(apart.uv[apart.faces], part.uv[part.faces])
    assert len(np.unique(apart.faces)) == apart.faces.size
