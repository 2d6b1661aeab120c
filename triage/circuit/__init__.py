"""Circuits: what a good amplifier reads at each point, and what each fault makes of it."""
