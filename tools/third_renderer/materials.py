"""Materials of the joint and of what lies about. Colours are linear; ours, no source."""

from __future__ import annotations

from .blender import Material
from .fields import Rng
from .nodes import Colour, Nodes, Value, opaque, times

CUPS: dict[str, Colour] = {
    "gold": (1.0, 0.70, 0.28),
    "gold2": (0.93, 0.66, 0.33),
    "tin": (0.80, 0.79, 0.76),
    "nickel": (0.70, 0.67, 0.60),
}
INSULATION: tuple[Colour, ...] = (
    (0.55, 0.02, 0.02),
    (0.02, 0.02, 0.022),
    (0.02, 0.02, 0.022),
    (0.6, 0.02, 0.025),
    (0.75, 0.72, 0.66),
    (0.7, 0.45, 0.02),
    (0.03, 0.09, 0.42),
    (0.03, 0.28, 0.07),
    (0.72, 0.2, 0.02),
    (0.25, 0.25, 0.26),
    (0.20, 0.08, 0.04),
)
HOUSINGS: tuple[Colour, ...] = (
    (0.75, 0.42, 0.02),
    (0.02, 0.02, 0.022),
    (0.60, 0.03, 0.03),
    (0.03, 0.07, 0.30),
    (0.72, 0.70, 0.64),
    (0.06, 0.25, 0.10),
    (0.25, 0.26, 0.27),
    (0.55, 0.50, 0.40),
    (0.62, 0.24, 0.03),
)
SLEEVE: Colour = (0.02, 0.02, 0.022)
SOLDER: Colour = (0.82, 0.81, 0.78)
COPPER, DARK_COPPER = (0.93, 0.48, 0.30, 1), (0.70, 0.30, 0.17, 1)
OXIDE, TIN = (0.25, 0.12, 0.08, 1), (0.78, 0.77, 0.74, 1)
HOLE, CHAR = (0.01, 0.009, 0.008, 1), (0.008, 0.007, 0.006, 1)
AMBER, PALE = (0.85, 0.55, 0.22, 1), (0.95, 0.82, 0.6, 1)  # flux, thick and thin
SINGED = (1.2, 0.8, 0.5)  # how singeing shifts a colour


def plain(
    name: str,
    colour: Colour,
    rough: float = 0.5,
    metallic: float = 0.0,
    bumps: float = 0.15,
    grain: float = 8.0,
) -> Material:
    """A material of one colour, a little mottled and bumpy; grain: waves a mm."""
    nodes = Nodes(name)
    mottle = nodes.noise(grain * 0.3, 4)
    red, green, blue = (min(1, part * 1.12) for part in colour)
    dark, bright = opaque(times(colour, 1 - 0.12 * 2)), opaque((red, green, blue))
    nodes.surface(
        Base_Color=nodes.mix(mottle, dark, bright),
        Metallic=metallic,
        Coat_Weight=0.0,
        Specular_IOR_Level=0.5,
    )
    uneven = nodes.math("MULTIPLY", nodes.noise(grain, 5), 0.2 * rough)
    nodes.surface(Roughness=nodes.math("ADD", uneven, rough * 0.9))
    nodes.surface(Normal=nodes.bump(nodes.noise(grain * 4, 4), bumps, 0.03))
    return nodes.material


def cup(rng: Rng, plating: str) -> Material:
    """Plated metal, tarnished in places and scratched along."""
    nodes = Nodes("cup")
    red, green, blue = CUPS[plating]
    tarnish = nodes.spread(nodes.noise(0.9, 5), 0.5, 0.75)
    dark = opaque((red * 0.55, green * 0.45, blue * 0.4))
    part = nodes.math("MULTIPLY", tarnish, rng.uniform(0, 0.6))
    colour = nodes.mix(part, opaque(CUPS[plating]), dark)
    rough = nodes.math("ADD", nodes.math("MULTIPLY", tarnish, 0.15), rng.uniform(0.1, 0.26))
    nodes.surface(Base_Color=colour, Metallic=1.0, Roughness=rough)
    scratches = nodes.scaled(nodes.place(), (60.0, 3.0, 3.0))
    height = nodes.noise(1.0, 3, place=scratches)
    nodes.surface(Normal=nodes.bump(height, rng.uniform(0.02, 0.08), 0.03))
    return nodes.material


def solder(rng: Rng, strands: int, twist: float) -> Material:
    """Bright solder over strands, with a skin of flux in places; twist: of the lay, rad/mm."""
    rough = rng.uniform(0.09, 0.22)
    return _solder(strands, twist, 0.0, rough, rng.choice([0, 0.25, 0.6, 0.9]))


def cold_solder(rng: Rng, strands: int, twist: float) -> Material:
    """Dull, grainy solder."""
    dull = rng.uniform(0.6, 0.95)
    return _solder(strands, twist, dull, rng.uniform(0.38, 0.5), 0.2)


def _solder(strands: int, twist: float, dull: float, rough: float, flux: float) -> Material:
    nodes = Nodes("solder")
    base = times(SOLDER, 1 - 0.38 * dull)
    skin = nodes.spread(nodes.noise(0.7, 4), 0.48, 0.62)
    mottle = nodes.math("MULTIPLY", nodes.spread(nodes.noise(2.5, 4), 0.4, 0.8), 0.35)
    colour = nodes.mix(mottle, opaque(base), opaque(times(base, 0.8)))
    colour = nodes.mix(nodes.given("dark"), colour, HOLE)
    nodes.surface(Coat_Weight=nodes.math("MULTIPLY", skin, flux), Coat_Roughness=0.06)
    thick = flux > 0.5
    nodes.surface(Coat_Tint=nodes.mix(skin, (1, 1, 1, 1), AMBER if thick else PALE))
    in_hole = nodes.math("MULTIPLY", nodes.given("dark"), 0.9)
    nodes.surface(Base_Color=colour, Metallic=nodes.math("SUBTRACT", 1.0, in_hole))
    patches = nodes.spread(nodes.noise(1.3, 5), 0.35, 0.7)
    patchy = nodes.mix_values(patches, rough, rough + 0.12)
    hole_rough = nodes.math("MULTIPLY", nodes.given("dark"), 0.5)
    nodes.surface(Roughness=nodes.math("ADD", patchy, hole_rough))
    lay = nodes.math("MULTIPLY", _lay(nodes, strands / 2, twist), nodes.given("lay"))
    normal = nodes.bump(lay, 0.6, 0.04)
    normal = nodes.bump(nodes.noise(2.2, 3), 0.25 + 0.5 * dull, 0.06, normal)
    normal = nodes.bump(nodes.noise(14.0, 4), 0.06 + 0.9 * dull, 0.02, normal)
    nodes.surface(Normal=normal)
    return nodes.material


def _lay(nodes: Nodes, count: float, twist: float) -> Value:
    """The strands' backs as a height, 0 to 1, from the mesh's place on the wire."""
    angle = nodes.math("ARCTAN2", nodes.given("ly"), nodes.given("lz"))
    round_wire = nodes.math("MULTIPLY", angle, float(count))
    phase = nodes.math("ADD", round_wire, nodes.math("MULTIPLY", nodes.given("lx"), twist))
    phase = nodes.math("ADD", phase, nodes.math("MULTIPLY", nodes.noise(1.2, 1), 2.5))
    return nodes.math("ABSOLUTE", nodes.math("SINE", phase))


def strands(oxide: float) -> Material:
    """Copper strands, tinned where the mesh says so; oxide: 0 to 1."""
    nodes = Nodes("strands")
    copper = nodes.mix(nodes.spread(nodes.noise(3.0, 4), 0.3, 0.8), COPPER, DARK_COPPER)
    if oxide:
        copper = nodes.mix(oxide, copper, OXIDE)
    colour = nodes.mix(nodes.given("tin"), copper, TIN)
    rough = nodes.math("ADD", nodes.math("MULTIPLY", nodes.noise(4.0, 3), 0.15), 0.2)
    nodes.surface(Base_Color=colour, Metallic=1.0, Roughness=rough)
    return nodes.material


def insulation(colour: Colour, rough: float) -> Material:
    """Silicone, singed and charred where the mesh is burnt."""
    nodes = Nodes("insulation")
    mottle = nodes.math("MULTIPLY", nodes.noise(1.5, 4), 0.3)
    shade = nodes.mix(mottle, opaque(colour), opaque(times(colour, 0.7, 0.02)))
    burn, grain = nodes.given("burn"), nodes.noise(2.2, 5)

    def burnt(uneven: float, low: float, high: float) -> Value:
        off = nodes.math("MULTIPLY", nodes.math("SUBTRACT", grain, 0.5), uneven)
        return nodes.spread(nodes.math("ADD", burn, off), low, high)

    singed, charred = burnt(0.5, 0.35, 0.6), burnt(0.6, 0.6, 0.95)
    red, green, blue = (
        (part + 0.08) * 0.3 * shift for part, shift in zip(colour, SINGED, strict=True)
    )
    shade = nodes.mix(singed, shade, opaque((red, green, blue)))
    shade = nodes.mix(charred, shade, CHAR)
    uneven = nodes.math("MULTIPLY", nodes.noise(7.0, 4), 0.15)
    nodes.surface(
        Base_Color=shade,
        Roughness=nodes.math("ADD", uneven, rough),
        Specular_IOR_Level=0.4,
    )
    normal = nodes.bump(nodes.noise(18.0, 4), 0.08, 0.03)
    blisters = nodes.math("MULTIPLY", nodes.noise(5.0, 5), burn)
    nodes.surface(Normal=nodes.bump(blisters, 0.9, 0.3, normal))
    return nodes.material
