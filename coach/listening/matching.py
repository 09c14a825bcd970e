"""Which press is which note: a take matched to the plan while it is played, and again with each later press.

The same code judges recorded takes: hearing all events one by one is all there is to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from coach.listening.accounts import MARGIN, WIDTH, Account, Link, Music, step
from coach.listening.events import Event, Keyboard, Stroke
from coach.listening.expected import Expected
from coach.listening.scouts import CLOSE, PROMISING, Scouts


@dataclass(frozen=True, slots=True)
class Visit:
    """One striking of one chord; a chord that the player came back to has several.

    Attributes:
        chord: Number of the chord.
        run: How often the player had jumped (back, ahead, to begin again) before: 0, 1, 2 ...
        seconds: When its first note came.
        played: The note numbers and the presses that struck them, in order of time.
    """

    chord: int
    run: int
    seconds: float
    played: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Match:
    """A take matched to what was expected.

    Attributes:
        expected: What the take was heard against.
        strokes: All keys pressed, by index.
        pedal: The pedal's positions: seconds, and 0 to 127.
        visits: All strikings of chords, in order of time.
        end: When the last event happened, 0 for a take without events.
    """

    expected: Expected
    strokes: tuple[Stroke, ...]
    pedal: tuple[tuple[float, int], ...]
    visits: tuple[Visit, ...]
    end: float

    @cached_property
    def last_visits(self) -> Mapping[int, Visit]:
        """For each chord played, the visit that counts: the last one, since a player goes back to mend something."""
        return {visit.chord: visit for visit in self.visits}

    @cached_property
    def played(self) -> Mapping[int, int]:
        """For each note played, the press that counts: of the last visit that struck it."""
        return {note: press for visit in self.visits for note, press in visit.played}

    @cached_property
    def note_of(self) -> Mapping[int, int]:
        """For each press that is a note of the plan, that note, counting or not."""
        return {press: note for visit in self.visits for note, press in visit.played}

    @cached_property
    def extra(self) -> tuple[int, ...]:
        """Presses that are no note of the plan."""
        return tuple(stroke.index for stroke in self.strokes if stroke.index not in self.note_of)

    @property
    def front(self) -> int | None:
        """Number of the current chord, None before the first."""
        if not self.visits:
            return None
        run = max(visit.run for visit in self.visits)
        return max(visit.chord for visit in self.visits if visit.run == run)


class Matcher:
    """Hears a take event by event."""

    def __init__(self, expected: Expected) -> None:
        self.expected = expected
        self._music = Music(expected)
        self._scouts = Scouts(self._music)
        self._keyboard = Keyboard()
        self._accounts = [Account(0.0, -1, (), (), 0.0, None)]
        self._last = float("-inf")

    def hear(self, event: Event) -> None:
        """Take one event; anything at all may come, in any order."""
        stroke = self._keyboard.hear(event)
        if stroke is None:
            return
        gap = stroke.press - self._last
        self._last = stroke.press
        best = self._accounts[0]
        made = [
            account
            for before in self._accounts
            for account in step(self._music, before, stroke.index, stroke.key, stroke.press, gap)
        ]
        scouted = self._scouts.hear(best, stroke.index, stroke.key, stroke.press, gap)
        cheapest = min(account.cost for account in made)
        for account in scouted[:WIDTH]:
            allowed = cheapest + CLOSE if _notes_in_run(account.link) >= PROMISING else cheapest
            if account.cost > allowed:
                continue
            made.append(account)
        self._accounts = _kept(made)

    def hear_all(self, events: Iterable[Event]) -> None:
        for event in events:
            self.hear(event)

    @property
    def keyboard(self) -> Keyboard:
        return self._keyboard

    @property
    def chord(self) -> int | None:
        """Number of the current chord, None before the first: as the presses so far are explained best."""
        front = self._accounts[0].front
        return front if front >= 0 else None

    def match(self) -> Match:
        """Everything heard so far, as explained best."""
        links = []
        link = self._accounts[0].link
        while link is not None:
            links.append(link)
            link = link.before
        links.reverse()
        strokes = self._keyboard.strokes
        end = self._keyboard.time
        return Match(
            self.expected,
            strokes,
            self._keyboard.pedal,
            _visits(self.expected, strokes, links),
            end if end > float("-inf") else 0.0,
        )


def match_take(expected: Expected, events: Iterable[Event]) -> Match:
    """Match a whole take."""
    matcher = Matcher(expected)
    matcher.hear_all(events)
    return matcher.match()


def _kept(made: list[Account]) -> list[Account]:
    """The best accounts, best first, one for each way in which the take can go on."""
    made.sort(key=lambda account: account.cost)
    limit = made[0].cost + MARGIN
    kept: list[Account] = []
    seen = set()
    for account in made:
        if account.cost > limit or len(kept) == WIDTH:
            break
        state = (account.front, account.masks)
        if state in seen:
            continue
        seen.add(state)
        kept.append(account)
    return kept


def _notes_in_run(link: Link | None) -> int:
    count = 0
    while link is not None and count < PROMISING:
        count += 1
        if link.jumped:
            break
        link = link.before
    return count


def _visits(expected: Expected, strokes: tuple[Stroke, ...], links: list[Link]) -> tuple[Visit, ...]:
    run = -1
    found: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for link in links:
        run += link.jumped
        number = expected.chords[link.chord].struck[link.bit]
        found.setdefault((run, link.chord), []).append((number, link.press))
    visits = []
    for (run, chord), played in found.items():
        visits.append(Visit(chord, run, strokes[played[0][1]].press, tuple(played)))
    return tuple(visits)
