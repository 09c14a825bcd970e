"""What the hands do."""
