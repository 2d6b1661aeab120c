"""Safety: power states, gates, hazards, and the only maker of cleared steps.

Nothing here knows what a reading would tell; nothing here can be outvoted by it.
"""
