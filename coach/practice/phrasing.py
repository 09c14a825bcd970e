"""The player's own cut of a piece into phrases, as practice needs it."""

from coach.score.cuts import OWN, join, keep, move, phrases_of, split

__all__ = ["OWN", "join", "keep", "move", "phrases_of", "split"]
