"""Sparwright: rework long aluminium stock on a light router, with the answers proved before the first cut."""

__version__ = "0.1.0"
