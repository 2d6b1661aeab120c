"""Frozen types and the schemas of all files; no input or output."""
