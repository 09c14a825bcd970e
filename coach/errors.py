"""What can go wrong, said to a pianist."""


class CoachError(Exception):
    """One clear sentence for the player; the command line prints it, a screen shows it, nothing else catches it."""
