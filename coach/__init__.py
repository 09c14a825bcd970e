"""A practice coach for four-part playing at the keyboard."""
