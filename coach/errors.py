"""What can go wrong, said to a pianist."""


class CoachError(Exception):
    """One clear sentence for the player: the command line prints it, a screen shows it. Elsewhere it is caught only
    where the work goes on without what failed."""


DAMAGED = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)
"""What reading a damaged JSON form may raise: one place for all who read forms that a file or another machine gave."""
