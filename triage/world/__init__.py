"""Simulated benches: amplifiers with a hidden fault that answer what they are asked."""
