"""The job room: events, their fold, and the session."""
