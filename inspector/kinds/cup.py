"""Solder cup: stripped wire in the cup of a power contact, loose or in a housing.

In the joint frame, from left to right: insulation up to s = 0, bare or tinned strands, then the
cup's lip. A half-open cup shows its mouth beyond the lip, a closed cup only a sliver of it.

Which checks must be seen before a cup may pass, and why:

- insulation-gap, wetting, excess-solder: their places (end of the insulation, lip, the contact
  line between them) show from every side. A photo in which they cannot be measured does not
  show the joint.
- surface, spike, stray-strand, insulation-damage: a defect here counts on any side, so this side
  has to have been looked at.
- bridge: as soon as there is more than one pole.

Not needed: solder-fill and seating, since a closed cup, or a half-open one from behind, shows no
mouth; fillet, since many cups are filled flush and show none; birdcage, since insulation close to
the lip leaves no bare bundle. Each still judges whenever it is measured, and a pass names those
that were not seen.
"""

from __future__ import annotations

from inspector.kinds._kind import Kind

KIND = Kind(
    name="cup",
    title="Solder cup",
    looks=(
        "A round socket, open at the top or cut away on one side, that takes the stripped wire; "
        "solder fills the space between the strands and its wall."
    ),
    checks=(
        "insulation-gap",
        "solder-fill",
        "wetting",
        "fillet",
        "excess-solder",
        "seating",
        "bridge",
        "spike",
        "surface",
        "stray-strand",
        "birdcage",
        "insulation-damage",
    ),
    needed=frozenset(
        {
            "insulation-gap",
            "wetting",
            "excess-solder",
            "surface",
            "spike",
            "stray-strand",
            "insulation-damage",
        }
    ),
    needed_beside=frozenset({"bridge"}),
    unseen=(
        "whether the wire goes to the bottom of the cup",
        "the far side of the joint",
        "voids inside the solder",
    ),
)
