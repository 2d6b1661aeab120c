"""Measurements of speed, run as modules."""
