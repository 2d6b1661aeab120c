"""What is kept on disk survives what can happen to it."""
