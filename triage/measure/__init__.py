"""Readings with uncertainty, what a meter does to them, and what they say about a finding."""
