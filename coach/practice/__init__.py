"""What to play next."""
