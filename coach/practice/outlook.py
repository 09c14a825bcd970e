"""What is said of a piece in practice: how its phrases stand, and whether it will be ready by its date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

from coach.listing import capital
from coach.practice import days
from coach.practice.log import Log
from coach.practice.ready import date_was
from coach.practice.schedule import dates


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is said.

    Attributes:
        sentences: Of the piece.
        phrases: Of each phrase, by its number, in a few words.
    """

    sentences: tuple[str, ...] = ()
    phrases: Mapping[int, str] = field(default_factory=dict)


def outlook(
    log: Log, piece: str, minutes: float, now: datetime | None = None, *, zone: tzinfo | None = None
) -> Outlook:
    """What is said of a piece.

    Args:
        log: The practice log.
        piece: The piece's mark.
        minutes: How long a day's practice is meant to be.
        now: This instant.
        zone: Where the player is; None for this computer's zone.

    Raises:
        CoachError: the log cannot be read.
    """
    instant = now or days.now()
    stands = [stand for stand in log.stands(piece) if stand.kind == "phrase"]
    ready = [one for one in dates(log, instant, minutes=minutes, zone=zone) if one.piece == piece]
    was = date_was(stands[0].ready_by, instant, zone) if stands else ""
    sentences = [f"{capital(was)}."] if was else []
    sentences += [f"{one.sentence} Behind each phrase: its chance to be remembered on the day." for one in ready]
    chances = {one.number: f"{100 * one.chance:.0f} %" for some in ready for one in some.forecast}
    phrases = {}
    for stand in stands:
        standing = f"stands {stand.standing}" if stand.standing else ""
        words = (standing, chances.get(stand.first, ""), stand.kept_from)
        phrases[stand.first] = " · ".join(word for word in words if word)
    return Outlook(tuple(sentences), phrases)
