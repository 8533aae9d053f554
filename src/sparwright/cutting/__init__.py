"""Cutters, chip load and force, paths for each kind of cut, and motion time."""
