"""Finding, loading and checking the knowledge files."""
