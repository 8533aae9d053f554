"""Fit, pads, clamps and the error at every feature: where the member lies and whether it stays there."""
