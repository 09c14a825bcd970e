"""What is shown."""
