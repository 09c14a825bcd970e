"""When a take is over, and whether what was played was one at all."""

from __future__ import annotations

from collections.abc import Sequence

from coach.listening.events import Event, Stroke
from coach.listening.matching import Match
from coach.practice.attempt import AT_ONCE, Attempt, Done
from coach.practice.marks import complete

ALL_UP = 0.4
"""Seconds that all keys are up after the last chord before the take ends."""

LAST_CHORD = 6.0
"""Seconds after which the last chord ends the take though it is still held."""

SILENCE = 3.0
"""Seconds without a key struck that end a take in tempo; with all keys up, one whose last chord lacks a note."""

RANG = 0.25
"""Seconds after the last chord within which a key was still struck with it: a slip, or a key that bounced (common
practice, no source)."""

FALSE_START = 3
"""Chords that a take must have reached to be one when it stops before its end; less is a false start and forgotten."""

CHANGE = 2
"""Chords of one change."""

FITTING = 0.6
"""Share of the keys struck that must be notes of the passage for a take that was broken off to be kept: who warms up on
chords of the key has not tried it (common practice, no source)."""


def is_over(attempt: Attempt, now: float, first_chord: float | None, *, all_up: bool) -> bool:
    """Whether silence ends a take.

    Args:
        attempt: What was played so far.
        now: Seconds of the drill's clock.
        first_chord: When the first chord was due, None without a clock.
        all_up: No key is down.
    """
    if not attempt.presses:
        return first_chord is not None and now > first_chord + _patience(attempt)
    quiet = now - attempt.last_press
    if attempt.finished:
        return (all_up and now - attempt.last_release > ALL_UP) or quiet > LAST_CHORD
    if attempt.at_end and all_up:
        return now - max(attempt.last_press, attempt.last_release) > SILENCE
    return first_chord is not None and quiet > _patience(attempt)


def went_on(attempt: Attempt) -> float | None:
    """When the player went on beyond the passage, in seconds: what came from there on belongs to no note of it.

    Once the last chord is whole, the take has all that was asked: any other key goes on, and so does all of that chord
    struck anew. Keys of it alone are a bounce or an echo. Where it lacks a note, a single key may be meant to mend it,
    and an earlier chord goes back; but a chord that has little to do with any of them goes on.

    Args:
        attempt: The take, a key having just been struck.

    Returns:
        When the first key came that went on; None while the player has not.
    """
    last = len(attempt.task.expected.chords) - 1
    if attempt.reached_end is None:
        return None
    group = _struck_as_one(attempt.match.strokes, attempt.reached_end)
    if not group or group[-1].press - attempt.reached_end <= RANG:
        return None
    keys = {stroke.key for stroke in group}
    own = _keys(attempt, last)
    foreign = keys - own
    if attempt.whole:
        anew = attempt.task.keys_of(last) <= keys and group[0].press - attempt.reached_end > RANG
        return group[0].press if foreign or anew else None
    mends = any(attempt.task.expected.notes[number].midi in keys for number in attempt.lacking(last))
    if mends or any(keys <= _keys(attempt, chord) for chord in range(last)):
        return None
    return group[0].press if len(foreign) > max(len(keys & own), 1) else None


def _keys(attempt: Attempt, chord: int) -> set[int]:
    """The keys that sound in a chord."""
    return {note.midi for note in attempt.task.expected.sounding(chord)}


def _struck_as_one(strokes: Sequence[Stroke], since: float) -> list[Stroke]:
    """The keys that were struck with the last one, rolled or not, after some moment."""
    group: list[Stroke] = []
    for stroke in reversed(strokes):
        if stroke.press <= since or (group and group[0].press - stroke.press > AT_ONCE):
            break
        group.insert(0, stroke)
    return group


def came_in_early(attempt: Attempt, ahead: Sequence[Event]) -> Attempt:
    """A take whose first chord was struck while it was still being counted in, with that chord: who comes in a beat too
    soon has not left it out.

    Args:
        attempt: What was played from the end of the count-in on.
        ahead: What was heard of the keyboard before.

    Returns:
        The take from its first chord on; as it was, where it has one of its own, or where the keys before are none.
    """
    first = attempt.task.first_keys
    if not first or not attempt.presses or complete(attempt.match, attempt.task.places, 0):
        return attempt
    presses = [event for event in (*ahead, *attempt.events) if event.kind == "press"]
    early = sum(event.kind == "press" for event in ahead)
    began = None
    for place, event in enumerate(presses[:early]):
        together = {each.key for each in presses[place:] if each.seconds - event.seconds <= AT_ONCE}
        another = began is None or event.seconds - began > AT_ONCE
        if another and event.key in first and 2 * len(together & first) > len(first):
            began = event.seconds
    if began is None:
        return attempt
    earlier = attempt.with_events([*(event for event in ahead if event.seconds >= began), *attempt.events])
    visits = earlier.match.visits
    after = next((visit for visit in visits if visit.chord), visits[-1])
    return earlier if visits[0].chord == 0 and visits[0].run == after.run else attempt


def _patience(attempt: Attempt) -> float:
    """Seconds of silence in tempo: the longest chord twice, or the way to the next one where the hand rests between."""
    longest = max((chord.duration for chord in attempt.task.expected.chords), default=0.0)
    return max(SILENCE, 2 * max(longest, attempt.step) * attempt.task.quarter)


def has_begun(attempt: Attempt) -> bool:
    """Whether enough chords were reached for a take."""
    return attempt.chords >= min(FALSE_START, len(attempt.task.expected.chords))


def is_false_start(attempt: Attempt) -> bool:
    """Whether a take that silence ended had hardly begun, and is none."""
    return not has_begun(attempt) and not attempt.at_end and attempt.presses <= attempt.notes(FALSE_START)


def fits(match: Match) -> bool:
    """Whether most keys struck are notes of the passage."""
    return len(match.note_of) >= FITTING * len(match.strokes)


def was_tried(done: Done) -> bool:
    """Whether a take that was broken off had begun: enough chords were reached, most of its keys being theirs.

    One change of chords has begun when a key was struck that the first chord does not have, be it the right one, or
    when all was played: keys that both chords share may be the first chord's, played anew.
    """
    task, match = done.task, done.match
    chords = len(task.expected.chords)
    if len(match.last_visits) < min(FALSE_START, chords) or not fits(match):
        return False
    if chords != CHANGE or complete(match, task.places, chords - 1):
        return True
    return any(stroke.key not in task.first_keys for stroke in match.strokes)
