"""The terminal: asks and shows, decides nothing. The only room that knows the prompt library."""
