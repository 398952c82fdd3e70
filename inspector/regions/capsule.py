"""How far the second opinion on a joint looks, in D, and the cells of its grid."""

from __future__ import annotations

CELL_PX = 8  # of the patch, a side
BEHIND_D = 0.5  # before the insulation's end
BEYOND_D = 1.3  # beyond the lip
ASIDE_D = 0.8  # to each side of the axis
