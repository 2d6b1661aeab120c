"""What holds for any session whatever is typed."""
