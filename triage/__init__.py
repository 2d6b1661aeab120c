"""Troubleshooting of vacuum-tube audio amplifiers: see README.md and DEVELOPERS.md."""
