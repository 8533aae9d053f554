"""Measured against predicted: weigh-in and what the tap tone should be."""
