"""Which press is which note: a take matched to the plan while it is played, and again with each later press.

The same code judges recorded takes: hearing all events one by one is all there is to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from statistics import median

from coach.listening.accounts import Accounts, Press
from coach.listening.costs import AT_ONCE, BOUNCE
from coach.listening.events import Event, Keys, Stroke
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.layout import Music
from coach.listening.ledger import Ledger, Visit
from coach.listening.scouts import Scouts


@dataclass(frozen=True)
class Match:
    """A take matched to what was expected, as far as it was heard.

    Attributes:
        expected: What the take was heard against.
        strokes: All keys pressed, by index.
        pedal: The pedal's positions: seconds, and 0 to 127.
        visits: All strikings of chords, in order of time.
        last_visits: For each chord played, the visit that counts: the last one, since a player goes back to mend
            something.
        played: For each note played, the press that counts: of the last visit that struck it.
        front: Number of the current chord, None before the first.
        end: When the last event happened, 0 for a take without events.
        cost: What this explanation of the take costs (see `costs`): the less, the better it fits.
    """

    expected: Expected
    strokes: tuple[Stroke, ...]
    pedal: tuple[tuple[float, int], ...]
    visits: tuple[Visit, ...]
    last_visits: Mapping[int, Visit]
    played: Mapping[int, int]
    front: int | None
    end: float
    cost: float = 0.0

    @cached_property
    def note_of(self) -> Mapping[int, int]:
        """For each press that is a note of the plan, that note, counting or not."""
        return {press: note for visit in self.visits for note, press in visit.played}

    @cached_property
    def visit_of(self) -> Mapping[int, Visit]:
        """For each press that is a note of the plan, the striking of the chord that it belongs to."""
        return {press: visit for visit in self.visits for _, press in visit.played}

    def press_of(self, note: ExpectedNote) -> int | None:
        """The press of a note that counts, or of another voice on the same key of its chord; None for neither."""
        if note.number in self.played:
            return self.played[note.number]
        return next((self.played[one.number] for one in self.expected.sharing(note) if one.number in self.played), None)

    @cached_property
    def extra(self) -> tuple[int, ...]:
        """Presses that are no note of the plan."""
        return tuple(stroke.index for stroke in self.strokes if stroke.index not in self.note_of)

    @cached_property
    def bounces(self) -> Mapping[int, int]:
        """For presses whose key bounced, the press that sounded on: struck again at once, for no note of its own."""
        bounced: dict[int, int] = {}
        last: dict[int, Stroke] = {}
        for stroke in self.strokes:
            before = last.get(stroke.key)
            if before is not None and stroke.index not in self.note_of and stroke.press - before.press <= BOUNCE:
                bounced[before.index] = stroke.index
            last[stroke.key] = stroke
        return bounced

    def middle(self, visit: Visit) -> float:
        """When a chord sounded: the middle one of its presses, which no straggler moves far, in seconds."""
        return median(self.strokes[press].press for _, press in visit.played)

    def release(self, note: int) -> float | None:
        """When a note's key came up for good: infinity while it is down, None for a note not played."""
        press = self.played.get(note)
        if press is None:
            return None
        while press in self.bounces:
            press = self.bounces[press]
        release = self.strokes[press].release
        return float("inf") if release is None else release


class Matcher:
    """Hears a take event by event."""

    def __init__(self, expected: Expected) -> None:
        self.expected = expected
        self._music = Music(expected)
        self._scouts = Scouts(self._music)
        self._keys = Keys()
        self._ledger = Ledger(expected)
        self._accounts = Accounts(self._music)
        self._last = float("-inf")
        self._pause = float("inf")

    def hear(self, event: Event) -> None:
        """Take one event; anything at all may come, in any order."""
        stroke = self._keys.hear(event)
        if stroke is None:
            return
        gap = stroke.press - self._last
        self._last = stroke.press
        if gap > AT_ONCE:
            self._pause = gap
        press = Press(stroke.index, stroke.key, stroke.press, gap, self._pause)
        made = self._accounts.hear(press)
        cheapest = min((account.standing for account in made), default=float("inf"))
        made += self._scouts.hear(self._accounts.best, press, cheapest)
        self._accounts.keep(made)

    def hear_all(self, events: Iterable[Event]) -> None:
        for event in events:
            self.hear(event)

    @property
    def chord(self) -> int | None:
        """Number of the current chord, None before the first: as the presses so far are explained best."""
        front = self._accounts.best.front
        return front if front >= 0 else None

    @property
    def down(self) -> frozenset[int]:
        """The keys that are down."""
        return self._keys.down

    def match(self) -> Match:
        """Everything heard so far, as explained best."""
        self._ledger.write(self._accounts.best.claim, self._keys.strokes)
        end = self._keys.time
        return Match(
            expected=self.expected,
            strokes=tuple(self._keys.strokes),
            pedal=tuple(self._keys.pedal),
            visits=tuple(self._ledger.visits),
            last_visits=dict(self._ledger.last_visits),
            played=dict(self._ledger.played),
            front=self.chord,
            end=end if end > float("-inf") else 0.0,
            cost=self._accounts.best.standing,
        )


def match_take(expected: Expected, events: Iterable[Event]) -> Match:
    """Match a whole take."""
    matcher = Matcher(expected)
    matcher.hear_all(events)
    return matcher.match()
