"""What leaves the coach."""
