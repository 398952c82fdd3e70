"""Materials of the joint and of what lies about: metals, solder, strands, insulation, plastic."""

from __future__ import annotations

from .blender import Colour, Material, Nodes, grey, rgb
from .fields import Rng

METALS = {
    "gold": rgb(0.95, 0.64, 0.24),
    "tin": rgb(0.72, 0.71, 0.69),
    "brass": rgb(0.80, 0.58, 0.26),
    "silver": rgb(0.80, 0.80, 0.82),
    "copper": rgb(0.86, 0.42, 0.24),
    "oxide": rgb(0.50, 0.22, 0.11),
}
INSULATION = {
    "red": rgb(0.55, 0.02, 0.02),
    "black": rgb(0.012, 0.012, 0.013),
    "blue": rgb(0.02, 0.08, 0.45),
    "yellow": rgb(0.75, 0.50, 0.03),
    "white": rgb(0.78, 0.77, 0.74),
    "green": rgb(0.03, 0.28, 0.07),
    "orange": rgb(0.75, 0.20, 0.02),
    "grey": rgb(0.22, 0.22, 0.23),
    "brown": rgb(0.14, 0.05, 0.02),
    "violet": rgb(0.16, 0.03, 0.28),
}
HOUSINGS = (
    rgb(0.70, 0.48, 0.02),
    rgb(0.02, 0.02, 0.022),
    rgb(0.5, 0.03, 0.02),
    rgb(0.03, 0.11, 0.42),
    rgb(0.65, 0.64, 0.60),
    rgb(0.10, 0.10, 0.1),
    rgb(0.04, 0.30, 0.12),
    rgb(0.70, 0.22, 0.02),
    rgb(0.30, 0.28, 0.24),
)
SLEEVES = (grey(0.012), rgb(0.5, 0.02, 0.02), rgb(0.02, 0.06, 0.4))
DIRT = rgb(0.2, 0.17, 0.13)
FLUX = rgb(0.35, 0.17, 0.05)
SINGED = rgb(0.10, 0.035, 0.01)
BURNT = rgb(0.006, 0.005, 0.004)


def terminal(rng: Rng, plating: str) -> Material:
    """Plated terminal metal, a little scratched and stained."""
    nodes = Nodes("terminal")
    stain = nodes.spread(nodes.noise(rng.uniform(1.5, 4)), 0.45, 0.75)
    dark = rgb(*(0.6 * c for c in METALS[plating][:3]))
    stained = nodes.math("MULTIPLY", stain, rng.uniform(0, 0.7))
    colour = nodes.mix(stained, METALS[plating], dark)
    scratch = nodes.noise(14, stretch=(1, 9, 9))
    rough = rng.uniform(0.14, 0.36)
    return nodes.finish(colour, rough, 1.0, scratch, rng.uniform(0.05, 0.2), 0.02)


def solder(rng: Rng, *, flux: float = 0.0) -> Material:
    """Bright to satin solder, with patches of flux."""
    nodes = Nodes("solder")
    tone = rng.uniform(0.68, 0.86)
    base = rgb(tone, tone, tone * rng.uniform(0.99, 1.05))
    colour = _with_flux(rng, nodes, base, flux)
    rough = rng.uniform(0.1, 0.34)
    grain = nodes.noise(5, detail=0.0)
    return nodes.finish(colour, rough, 1.0, grain, rng.uniform(0.03, 0.16), 0.05)


def cold_solder(rng: Rng) -> Material:
    """Dull and grainy solder."""
    nodes = Nodes("solder")
    tone = rng.uniform(0.68, 0.86)
    rng.uniform(0.99, 1.05)  # its tint, which cold solder does not show; the draws stay in step
    colour = _with_flux(rng, nodes, grey(tone * 0.72), 0.0)
    rough = rng.uniform(0.48, 0.6)
    return nodes.finish(colour, rough, 1.0, nodes.noise(30, detail=3.0), 0.8, 0.03)


def _with_flux(rng: Rng, nodes: Nodes, base: Colour, flux: float) -> Material:
    patch = nodes.spread(nodes.noise(rng.uniform(2, 4)), 0.62, 0.8)
    return nodes.mix(nodes.math("MULTIPLY", patch, flux), base, FLUX)


def tinned_strands(rng: Rng) -> Material:
    """Strands that were tinned."""
    nodes = Nodes("strands")
    rough = rng.uniform(0.2, 0.35)
    return nodes.finish(METALS["silver"], rough, 1.0, nodes.noise(8), 0.1, 0.03)


def copper_strands(rng: Rng, fade: tuple[float, float] | None = None) -> Material:
    """Bare copper strands; fade: the x up to which solder made them silvery, and of bare copper."""
    nodes = Nodes("strands")
    spots = nodes.spread(nodes.noise(2.5), 0.4, 0.8)
    oxide = nodes.math("MULTIPLY", spots, rng.uniform(0, 0.9))
    colour = nodes.mix(oxide, METALS["copper"], METALS["oxide"])
    if fade:
        x = nodes.along()
        x = nodes.math("ADD", x, nodes.math("MULTIPLY", nodes.noise(5), 0.3))
        silvery = nodes.spread(x, fade[1] + 0.15, fade[0] + 0.15)
        colour = nodes.mix(silvery, colour, METALS["silver"])
    return nodes.finish(colour, rng.uniform(0.24, 0.36), 1.0)


def insulation(rng: Rng, colour: str, char: tuple[float, float] | None = None) -> Material:
    """Silicone, matt or satin; char: the x of its end and the length that is burnt."""
    nodes = Nodes("insulation")
    spots = nodes.spread(nodes.noise(3), 0.5, 0.9)
    dirt = nodes.math("MULTIPLY", spots, rng.uniform(0, 0.25))
    shade = nodes.mix(dirt, INSULATION[colour], DIRT)
    rough = rng.uniform(0.28, 0.65)
    height = nodes.noise(12, detail=2.0)
    if char is None:
        return nodes.finish(shade, rough, 0.0, height, 0.08, 0.03)
    end, length = char
    back = nodes.math("SUBTRACT", end, nodes.along())
    uneven = nodes.math("SUBTRACT", nodes.noise(4, detail=3.0), 0.5)
    back = nodes.math("ADD", back, nodes.math("MULTIPLY", uneven, 0.9 * length))
    shade = nodes.mix(nodes.spread(back, 1.35 * length, 0.75 * length), shade, SINGED)
    shade = nodes.mix(nodes.spread(back, 0.95 * length, 0.5 * length), shade, BURNT)
    return nodes.finish(shade, rough, 0.0, height, 0.5, 0.03)


def plastic(rng: Rng, colour: Colour) -> Material:
    """Moulded plastic."""
    nodes = Nodes("plastic")
    rough = rng.uniform(0.25, 0.6)
    return nodes.finish(colour, rough, 0.0, nodes.noise(18), 0.06, 0.02)


def sleeve(rng: Rng) -> Material:
    """Shrunk sleeve."""
    nodes = Nodes("sleeve")
    colour = SLEEVES[rng.integers(len(SLEEVES))]
    rough = rng.uniform(0.3, 0.5)
    return nodes.finish(colour, rough, 0.0, nodes.noise(5), 0.15, 0.05)
