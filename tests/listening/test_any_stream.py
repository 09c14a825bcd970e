"""Whatever a keyboard sends is taken, and how it arrives makes no difference."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from takes import events, phrase, played

from coach.listening.events import Event, Metronome
from coach.listening.expected import Hand, expect
from coach.listening.hearing import hear
from coach.listening.matching import Match, Matcher, match_take
from coach.listening.report_text import report
from coach.listening.take import Take
from coach.listening.verdict import judge

PHRASES = (
    phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5, C4.1+G4.3~ ".replace("~", "") + "C4~+A4.4", "C3.5 D3.4= D3.4, F2.5"),
    phrase("G4.5 A4.4= A4.4 - C5.5", "C4.1 C4~, F3.2 E3.1 C3.5", number=2, onset=4.0),
)

EVENT = st.builds(
    Event,
    st.one_of(st.floats(-1e6, 1e6), st.floats()),
    st.sampled_from(["press", "press", "release", "pedal"]),
    st.sampled_from([36, 48, 50, 60, 61, 62, 64, 65, 67, 69, 72, 0, 127]),
    st.integers(0, 127),
)
"""Any event, at any time or none, in any order; stuck notes and lost releases among them, mostly of planned keys."""

CLOSE = st.builds(
    Event,
    st.floats(0, 8, allow_nan=False),
    st.sampled_from(["press", "release"]),
    st.sampled_from([48, 50, 60, 62, 64, 65, 67, 69]),
    st.just(64),
)
"""Events within a few seconds, so that they look like chords."""

STREAM = st.one_of(st.lists(EVENT, max_size=40), st.lists(CLOSE, max_size=60))


def check(match: Match, stream: list[Event]) -> None:
    """What must hold of any match."""
    presses = sum(event.kind == "press" for event in stream)
    assert len(match.strokes) == presses
    claimed = [press for visit in match.visits for _, press in visit.played]
    assert len(claimed) == len(set(claimed))
    assert set(claimed) | set(match.extra) == set(range(presses))
    assert not set(claimed) & set(match.extra)
    for visit in match.visits:
        for number, press in visit.played:
            note = match.expected.notes[number]
            assert note.chord == visit.chord
            assert match.strokes[press].key in (note.midi, note.written_midi)
    for visit in match.visits:
        numbers = [number for number, _ in visit.played]
        assert len(numbers) == len(set(numbers))


@given(STREAM, st.sampled_from(["right", "left", "both"]))
@settings(deadline=None)
def test_any_stream_is_matched(stream: list[Event], hand: Hand) -> None:
    check(match_take(expect(PHRASES, hand), stream), stream)


@given(STREAM, st.booleans())
@settings(deadline=None)
def test_any_stream_is_judged_and_told(stream: list[Event], with_clock: bool) -> None:
    take = Take(tuple(stream), Metronome(72, 0.5) if with_clock else None)
    for phrases in (PHRASES, PHRASES[:1]):
        hearing = hear(phrases, take)
        form = json.loads(json.dumps(hearing.to_json(), allow_nan=False))
        assert form["verdict"] in ("solid", "shaky", "weak")
        assert all(len(heard.verdict.remarks) <= 3 for heard in hearing.heard)
        assert isinstance(report(hearing), str)


@given(STREAM, st.lists(st.integers(0, 60), max_size=8))
@settings(deadline=None)
def test_batches_make_no_difference(stream: list[Event], cuts: list[int]) -> None:
    """One event at a time with the state read after each, or all at once: the same match."""
    whole = match_take(expect(PHRASES), stream)
    matcher = Matcher(expect(PHRASES))
    places = sorted({min(cut, len(stream)) for cut in cuts} | {0, len(stream)})
    for start, end in pairwise(places):
        for event in stream[start:end]:
            matcher.hear(event)
        matcher.match()
    match = matcher.match()
    assert (match.visits, match.strokes, match.played, match.last_visits, match.front) == (
        whole.visits,
        whole.strokes,
        whole.played,
        whole.last_visits,
        whole.front,
    )


@given(STREAM)
@settings(deadline=None)
def test_every_moment_is_what_a_take_that_ends_there_would_be(stream: list[Event]) -> None:
    """The live state after an event is the offline result of the take up to it: one code for both."""
    matcher = Matcher(expect(PHRASES))
    for place, event in enumerate(stream[:12], 1):
        matcher.hear(event)
        live = matcher.match()
        offline = match_take(expect(PHRASES), stream[:place])
        assert live.visits == offline.visits
        assert live.played == offline.played


@given(st.floats(-1e4, 1e4), st.floats(0.3, 3.0))
@settings(deadline=None, max_examples=30)
def test_only_time_differences_matter(shift: float, slower: float) -> None:
    """A take moved in time, or played slower or faster as a whole, is matched the same."""
    take = events(played("C4+E4+G4+C3 D4+F4+A4+D3 G4+C4+D3 A4+F2 G4+C4 A4 A4+F3 E3 C5+C3"))
    moved = [replace(event, seconds=shift + slower * event.seconds) for event in take]
    assert match_take(expect(PHRASES), moved).played == match_take(expect(PHRASES), take).played


def test_an_empty_take_is_weak() -> None:
    verdict = judge(match_take(expect(PHRASES[:1]), []))
    assert verdict.word == "weak"
    assert len(verdict.remarks) == 1
