"""What was played."""
