"""Is the knowledge any good: lint, tries that run, cases replayed."""
