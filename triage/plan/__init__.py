"""What to do next: expected minutes, money and risk to a proven repair."""
