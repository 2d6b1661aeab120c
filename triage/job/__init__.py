"""A job: its events, its state (a pure fold), and the session that decides what comes next."""
