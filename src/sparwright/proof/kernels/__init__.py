"""The compiled kernels of the cutting simulation.

Sweeps are cut in closed form: level lines and arcs of flat cutters as runs of cells along rows, everything
else by the lowest point of the moving cutter over each cell. No stepping along the path.
"""

from sparwright.proof.kernels.areas import lower_runs, metal_lost, outline_runs, run_figures
from sparwright.proof.kernels.base import (
    AIR,
    ARC,
    BALL,
    CHORD,
    CONE,
    FLAT,
    LINE,
    RAYS,
    SOURCES,
    Buckets,
    Grid,
    Metal,
    Sweeps,
    Tools,
)
from sparwright.proof.kernels.cutting import cut_tile, sort_tiles
from sparwright.proof.kernels.depths import depths
from sparwright.proof.kernels.looks import fill_buckets, gaps, meet_exactly

__all__ = [
    "AIR", "ARC", "BALL", "CHORD", "CONE", "FLAT", "LINE", "RAYS", "SOURCES", "Buckets", "Grid", "Metal",
    "Sweeps", "Tools", "cut_tile", "depths", "fill_buckets", "gaps", "lower_runs", "meet_exactly", "metal_lost",
    "outline_runs", "run_figures", "sort_tiles",
]  # fmt: skip
