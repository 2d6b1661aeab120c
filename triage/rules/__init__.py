"""Rules over findings at places: templates, the engine that matches them, and a reference."""
