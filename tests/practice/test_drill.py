"""The drill, played by hand: what a pianist does at the keys and what the drill makes of it, without a terminal."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.fingering.plan import HandPart, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.listening.events import Event
from coach.listening.findings import Pedal
from coach.practice.attempt import Done
from coach.practice.beat import beats_of, count_in
from coach.practice.drill import BREATH, Drill, State
from coach.practice.ladder import Step
from coach.practice.octave import offered, said_of
from coach.practice.task import Task
from coach.score.piece import Bar, Piece

TICK = 0.05
KEYS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
VOICES = ("soprano", "alto", "tenor", "bass")
SIDE: dict[str, Side] = {"soprano": "right", "alto": "right", "tenor": "left", "bass": "left"}


def key(pitch: str) -> int:
    letter, accidental, octave = re.fullmatch(r"([A-G])([#b]?)(\d)", pitch).groups()  # type: ignore[union-attr]
    return KEYS[letter] + {"#": 1, "b": -1, "": 0}[accidental] + 12 * (int(octave) + 1)


def keys(chord: str) -> list[int]:
    return [key(pitch) for pitch in chord.split() if pitch != "-"]


def phrase(chords: Sequence[str], lifts: Sequence[int] = (), first_beat: int = 1) -> PhrasePlan:
    """One chord a quarter note, "E5 G4 C4 C3" from the soprano; "-" holds the voice's note from the chord before."""
    planned: list[PlannedChord] = []
    sounding: dict[str, PlannedNote] = {}
    for place, chord in enumerate(chords):
        notes = []
        for number, (voice, pitch) in enumerate(zip(VOICES, chord.split(), strict=True)):
            if pitch == "-":
                notes.append(replace(sounding[voice], struck=False))
                continue
            voice_on = [later.split()[number] for later in chords[place + 1 :]]
            held = sum(1 for _ in itertools.takewhile("-".__eq__, voice_on))
            midi = key(pitch)
            side = SIDE[voice]
            note = PlannedNote(voice, float(place), 1.0 + held, pitch, midi, midi, True, side, number + 1)
            sounding[voice] = note
            notes.append(note)
        after = "end" if place == len(chords) - 1 else "lift" if place in lifts else "join"
        part = HandPart(after, 1)  # type: ignore[arg-type]
        beat = (place + first_beat - 1) % 4 + 1
        bar = (place + first_beat - 1) // 4 + 1
        planned.append(PlannedChord(float(place), 1.0, bar, float(beat), "2+2", tuple(notes), part, part))
    return PhrasePlan(1, (1, 1), 0.0, float(len(chords)), "fermata", 0.0, tuple(planned))


FOUR = ("E5 C5 G4 C3", "D5 B4 G4 G3", "C5 A4 E4 A3", "B4 G4 D4 G3")
BAR = Piece("Test", "test", (), (), (Bar(1, Fraction(0), Fraction(4), "4/4"), Bar(2, Fraction(4), Fraction(4), "4/4")))

BY_CHORD = Step("together")
IN_TEMPO = Step("in tempo", clock="tempo")
RIGHT = Step("right hand", hand="right")


def task(chords: Sequence[str] = FOUR, step: Step = BY_CHORD, lifts: Sequence[int] = (), bpm: float = 60.0) -> Task:
    end = Fraction(len(chords))
    return Task(
        phrase(chords, lifts), step, bpm, beats_of(BAR, Fraction(0), end), count_in(BAR, Fraction(0)), range(21, 109)
    )


class Pianist:
    """Plays into a drill; time passes in ticks."""

    def __init__(self, drill: Drill, now: float = 100.0) -> None:
        self.drill = drill
        self.now = now
        self.takes: list[Done] = []
        self.wishes: list[str] = []
        self.sayings: list[str] = []

    @property
    def state(self) -> State:
        return self.drill.state

    def _keep(self, state: State) -> None:
        if state.done:
            self.takes.append(state.done)
        if state.wish:
            self.wishes.append(state.wish)
        if state.said and (not self.sayings or self.sayings[-1] != state.said):
            self.sayings.append(state.said)

    def wait(self, seconds: float) -> None:
        until = self.now + seconds
        while self.now + TICK < until:
            self.now += TICK
            self._keep(self.drill.tick(self.now))
        self.now = until
        self._keep(self.drill.tick(self.now))

    def press(self, *pressed: int) -> None:
        for each in pressed:
            self.now += 0.004
            self._keep(self.drill.hear(Event(self.now, "press", each, 64)))

    def release(self, *released: int) -> None:
        for each in released:
            self.now += 0.002
            self._keep(self.drill.hear(Event(self.now, "release", each, 64)))

    def pedal(self, *values: int) -> None:
        for value in values:
            self.now += 0.1
            self._keep(self.drill.hear(Event(self.now, "pedal", 64, value)))

    def play(self, chords: Sequence[str], each: float = 0.6, gap: float = 0.0) -> None:
        """Strike chords one after the other; a hand lets go `gap` before the next."""
        for chord in chords:
            start = self.now
            self.press(*keys(chord))
            self.wait(each - gap - (self.now - start) - 0.01)
            self.release(*keys(chord))
            if gap:
                self.wait(gap)


def pianist(of: Task | None = None) -> Pianist:
    return Pianist(Drill(of or task()))


def marks_of_chord(state: State, place: int) -> list[str]:
    return [str(state.marks.get((place, note), "")) for note in range(4)]


# Chord by chord


def test_the_first_chord_begins_and_silence_ends_a_take() -> None:
    player = pianist()
    assert (player.state.phase, player.state.here) == ("ready", 0)
    player.press(*keys(FOUR[0]))
    assert (player.state.phase, player.state.here) == ("playing", 1)
    player.release(*keys(FOUR[0]))
    player.play(FOUR[1:])
    assert player.takes == []
    player.wait(1.0)
    assert len(player.takes) == 1
    done = player.takes[0]
    assert done.verdict.word == "solid"
    assert not done.broken_off
    assert player.state.phase == "heard"
    assert player.state.shown is done
    assert all(marks_of_chord(player.state, place) == ["right"] * 4 for place in range(4))


def test_a_first_chord_may_be_built_up_key_by_key() -> None:
    """The bass is held while the other fingers look for their keys."""
    player = pianist()
    low, *others = sorted(keys(FOUR[0]))
    player.press(low)
    for key_ in others:
        player.wait(1.5)
        player.press(key_)
    assert (player.state.phase, player.state.waiting) == ("playing", ())
    player.release(low, *others)
    player.play(FOUR[1:])
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"


def test_a_pause_in_a_take_is_not_practising() -> None:
    """An hour away between two chords counts as a minute."""
    player = pianist()
    player.play(FOUR[:2])
    player.wait(3600)
    player.play(FOUR[2:])
    player.wait(1)
    assert 60 < player.takes[0].seconds < 65


def test_what_came_up_while_nobody_listened_is_up() -> None:
    """Two keys go down, the help page comes, they go up, the drill is back."""
    player = pianist()
    player.press(40, 41)
    assert player.state.down == {40, 41}
    assert player.drill.listen_again({41}, player.now + 1).down == {41}


def test_a_take_that_just_ended_does_not_end_again_when_the_keyboard_goes() -> None:
    player = pianist()
    player.play(FOUR)
    while not player.takes:
        player.wait(TICK)
    assert player.drill.unplugged([]).done is None


def test_a_key_that_is_two_voices_note_is_struck_for_both() -> None:
    """Alto and tenor meet on one key; only the soprano is still to come."""
    player = pianist(task(("E5 G4 G4 C3", *FOUR[1:])))
    player.press(key("C3"), key("G4"))
    player.wait(2)
    assert player.state.waiting == ("E5",)


def test_chord_by_chord_the_drill_waits_without_limit() -> None:
    player = pianist()
    player.play(FOUR[:2])
    player.wait(600)
    assert (player.state.phase, player.state.here) == ("playing", 2)
    player.play(FOUR[2:])
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"


def test_playing_one_key_after_the_other_is_taking_ones_time() -> None:
    player = pianist()
    for chord in FOUR:
        for each in keys(chord):
            player.press(each)
            player.wait(0.8)
        player.release(*keys(chord))
    player.wait(1)
    assert len(player.takes) == 1
    assert not player.takes[0].broken_off


def test_a_chord_struck_in_part_is_waited_for() -> None:
    player = pianist()
    player.play(FOUR[:1])
    player.press(key("D5"), key("B4"))
    assert (player.state.here, player.state.waiting) == (1, ())
    player.wait(1.6)
    assert player.state.waiting == ("G4", "G3")
    player.press(key("G4"), key("G3"))
    assert (player.state.here, player.state.waiting) == (2, ())


def test_a_wrong_key_is_shown_in_its_cell_at_once_and_mended_by_the_right_one() -> None:
    player = pianist()
    player.play(FOUR[:1])
    player.press(key("D5"), key("A4"), key("G4"), key("G3"))
    assert marks_of_chord(player.state, 1) == ["right", "wrong", "right", "right"]
    assert player.state.said == "A4 was struck; the alto has B4."
    assert player.state.here == 1
    player.press(key("B4"))
    assert marks_of_chord(player.state, 1) == ["right"] * 4
    assert player.state.said == ""


def test_a_wrong_key_struck_first_is_shown_before_the_chord_has_begun() -> None:
    player = pianist()
    player.play(FOUR[:1])
    player.press(key("A4"))
    assert marks_of_chord(player.state, 1) == ["", "wrong", "", ""]


def test_a_key_far_from_every_note_belongs_to_none() -> None:
    player = pianist()
    player.play(FOUR[:1])
    player.press(key("F#6"))
    assert player.state.struck == (key("F#6"),)
    assert player.state.said == "F#6 belongs to no note here."
    player.play(FOUR[1:2])
    assert player.state.struck == ()


@pytest.mark.parametrize("back", [2, 3])
def test_who_goes_back_strikes_no_wrong_keys(back: int) -> None:
    """What the first key of an earlier chord may have been is plain once its other keys have come."""
    chords = (*FOUR[:2], "C5 A4 F4 F3", "B4 G4 E4 E3")
    player = pianist(task((*chords, "A4 F4 D4 D3")))
    player.play(chords)
    player.wait(4)
    player.press(*keys(chords[4 - back]))
    assert player.state.said == ""
    assert player.state.struck == ()
    assert "wrong" not in player.state.marks.values()


def test_a_note_left_out_is_missing_as_soon_as_the_player_goes_on() -> None:
    player = pianist()
    player.play(["E5 C5 G4 C3", "D5 B4 - G3"])
    player.press(*keys(FOUR[2]))
    assert marks_of_chord(player.state, 1) == ["right", "right", "missing", "right"]


def test_a_note_that_limps_behind_its_chord_is_late() -> None:
    player = pianist()
    player.play(FOUR[:1])
    player.press(*keys("D5 B4 - G3"))
    player.wait(0.3)
    player.press(key("G4"))
    assert marks_of_chord(player.state, 1) == ["right", "right", "late", "right"]


def test_a_lift_is_seen_and_a_lift_left_out_too() -> None:
    lifting = pianist(task(lifts=[1]))
    lifting.play(FOUR[:2], gap=0.15)
    lifting.play(FOUR[2:3])
    assert {lifting.state.marks[1, side] for side in ("right", "left")} == {"lifted"}
    clinging = pianist(task(lifts=[1]))
    clinging.play(FOUR[:1])
    clinging.press(*keys(FOUR[1]))
    clinging.wait(0.5)
    clinging.press(*keys(FOUR[2]))
    clinging.release(*keys("D5 B4 - G3"))
    clinging.wait(0.2)
    assert {clinging.state.marks[1, side] for side in ("right", "left")} == {"not lifted"}


@pytest.mark.parametrize(("held", "mark"), [(True, "kept"), (False, "let go")])
def test_a_hold_is_seen(held: bool, mark: str) -> None:
    chords = ("E5 C5 G4 C3", "D5 B4 - G3", "C5 A4 E4 A3", "B4 G4 D4 G3")
    player = pianist(task(chords))
    player.press(*keys(chords[0]))
    player.wait(0.5)
    player.release(*(keys("E5 C5 - C3") if held else keys(chords[0])))
    player.press(*keys("D5 B4 - G3"))
    player.wait(0.5)
    player.release(*keys("D5 B4 G4 G3"))
    player.play(chords[2:3])
    assert player.state.marks[1, 2] == mark


def test_playing_the_first_chord_again_restarts_and_a_false_start_is_forgotten() -> None:
    player = pianist()
    player.play([FOUR[0], FOUR[1], FOUR[0]])
    assert player.takes == []
    assert (player.state.phase, player.state.here) == ("playing", 1)
    player.play(FOUR[1:])
    player.wait(1)
    assert [take.verdict.word for take in player.takes] == ["solid"]


def test_striking_the_first_chord_twice_restarts_cleanly() -> None:
    player = pianist()
    player.play([FOUR[0], *FOUR])
    player.wait(1)
    assert [(take.verdict.word, take.broken_off) for take in player.takes] == [("solid", False)]
    assert sum(event.kind == "press" for event in player.takes[0].events) == 16


@pytest.mark.parametrize("second", ["E5 C5 G4 A3", "E5 C5 A4 C3", "E5 C5 G4 -", "- C5 G4 A3", "D5 B4 G4 G3"])
def test_in_a_drill_of_one_change_the_first_chord_again_is_a_false_start(second: str) -> None:
    """Though its keys are keys of the second chord too."""
    player = pianist(task([FOUR[0], second]))
    player.play([FOUR[0], FOUR[0], FOUR[0]], gap=0.1)
    assert player.takes == []
    held = [key for key, after in zip(keys(FOUR[0]), second.split(), strict=True) if after == "-"]
    player.press(*keys(FOUR[0]))
    player.wait(0.5)
    player.release(*(key for key in keys(FOUR[0]) if key not in held))
    player.press(*keys(second))
    player.wait(0.5)
    player.release(*keys(second), *held)
    player.wait(1)
    assert [take.verdict.word for take in player.takes] == ["solid"]


@pytest.mark.parametrize(
    ("before", "apart", "begins"),
    [(0.8, 0.24, True), (0.8, 0.26, False), (0.2, 0.15, True)],
    ids=["quick", "slow", "quick after a short pause"],
)
def test_the_first_chords_keys_begin_again_where_they_are_struck_as_one_chord(
    before: float, apart: float, begins: bool
) -> None:
    """A quarter of a second from key to key is still a roll (common practice, no source); slower, keys are looked for,
    and three of these four are the second chord's as well."""
    player = pianist(task([FOUR[0], "E5 C5 A4 C3"]))
    player.press(*keys(FOUR[0]))
    player.wait(before)
    player.release(*keys(FOUR[0]))
    for each in keys(FOUR[0]):
        player.press(each)
        player.wait(apart)
    assert player.state.said == ("" if begins else "G4 was struck; the tenor has A4.")
    player.release(*keys(FOUR[0]))
    player.play(["E5 C5 A4 C3"])
    player.wait(1)
    assert [sum(event.kind == "press" for event in take.events) for take in player.takes] == [8 if begins else 12]


def test_a_change_that_is_tried_wrongly_and_begun_again_is_a_take() -> None:
    """The bass went to another key than the second chord's: the first chord does not have it either."""
    player = pianist(task([FOUR[0], "E5 C5 G4 A3"]))
    player.play([FOUR[0], "E5 C5 G4 B3", FOUR[0], "E5 C5 G4 A3"])
    player.wait(1)
    assert [take.verdict.word for take in player.takes] == ["weak", "solid"]


def test_a_change_played_twice_without_a_rest_is_two_takes_though_the_second_chord_has_no_key_of_its_own() -> None:
    player = pianist(task([FOUR[0], "E5 C5 G4 -"]))
    for _ in range(2):
        player.press(*keys(FOUR[0]))
        player.wait(0.5)
        player.release(*keys(FOUR[0])[:3])
        player.press(*keys(FOUR[0])[:3])
        player.wait(0.5)
        player.release(*keys(FOUR[0]))
    player.wait(1)
    assert [take.verdict.word for take in player.takes] == ["solid", "solid"]


def test_a_take_broken_off_after_a_good_part_is_kept_apart_from_the_next() -> None:
    player = pianist()
    player.play([*FOUR[:3], *FOUR])
    player.wait(1)
    assert [take.broken_off for take in player.takes] == [True, False]
    assert player.takes[0].verdict.word == "weak"
    assert player.takes[1].verdict.word == "solid"
    assert sum(event.kind == "press" for event in player.takes[0].events) == 12


def test_a_first_chord_that_comes_twice_in_the_phrase_restarts_nothing() -> None:
    chords = (FOUR[0], FOUR[0], FOUR[1], FOUR[0], FOUR[3])
    player = pianist(task(chords))
    player.play(chords, gap=0.05)
    player.wait(1)
    assert len(player.takes) == 1
    assert all(marks_of_chord(player.state, place) == ["right"] * 4 for place in range(5))


def test_the_next_take_begins_with_the_first_chord_whatever_is_shown() -> None:
    player = pianist()
    player.play(FOUR)
    player.wait(2)
    assert player.state.phase == "heard"
    player.press(*keys(FOUR[0]))
    assert (player.state.phase, player.state.here, player.state.shown) == ("playing", 1, None)


def test_the_first_chord_right_after_the_last_one_ends_the_take_and_begins_the_next() -> None:
    player = pianist()
    player.play([*FOUR, *FOUR])
    player.wait(1)
    assert [(take.verdict.word, take.broken_off) for take in player.takes] == [("solid", False), ("solid", False)]


def test_keys_of_the_first_chord_are_shown_before_they_are_enough_to_begin() -> None:
    player = pianist()
    player.press(key("G4"))
    assert player.state.phase == "ready"
    assert marks_of_chord(player.state, 0) == ["", "", "right", ""]
    player.release(key("G4"))
    assert marks_of_chord(player.state, 0) == [""] * 4


def test_warming_up_is_no_take() -> None:
    """Chords of the key, among them half of the first one, then the phrase: only the phrase was tried."""
    player = pianist()
    player.play(["E5 C5 G3 C3", "C5 A4 E4 A2", "G5 E5 C4 C3", "D5 A4 F3 D3", "D5 B4 G4 F3", "A4 F4 C4 F3"])
    player.play(FOUR)
    player.wait(1)
    assert [(take.verdict.word, take.broken_off) for take in player.takes] == [("solid", False)]


def test_the_first_key_of_a_chord_that_is_built_from_the_bottom_is_not_corrected() -> None:
    player = pianist()
    for each in sorted(keys(FOUR[0])):
        player.press(each)
        player.wait(0.5)
    assert player.sayings == []
    assert player.state.phase == "playing"


@pytest.mark.parametrize(
    ("chords", "struck", "called"),
    [
        (("A4 E4 C#4 A2", "G#4 E4 D4 B2", "A4 E4 C#4 A2"), 63, "D#4"),
        (("A4 E4 C#4 A2", "G#4 E4 D4 B2", "A4 E4 C#4 A2"), 56, "G#3"),
        (("A4 E4 C#4 A2", "G#4 E4 D4 B2", "A4 E4 C#4 A2"), 65, "F4"),
        (("Ab4 Eb4 C4 Ab2", "G4 Eb4 Db4 Bb2", "Ab4 Eb4 C4 Ab2"), 66, "Gb4"),
        (("Ab4 Eb4 C4 Ab2", "G4 Eb4 Db4 Bb2", "Ab4 Eb4 C4 Ab2"), 64, "E4"),
        (("Ab4 Eb4 C4 Ab2", "G4 Eb4 Db4 Bb2", "Ab4 Eb4 C4 Ab2"), 61, "Db4"),
    ],
)
def test_a_wrong_key_is_spelled_as_the_music_around_it(chords: Sequence[str], struck: int, called: str) -> None:
    """A major has sharps, A flat major flats (common practice, no source)."""
    player = pianist(task(chords))
    player.press(struck)
    assert player.state.said == f"{called}: the take begins with the first chord."


def test_half_the_first_chord_leaves_a_verdict_where_it_is() -> None:
    player = pianist()
    player.play(FOUR)
    player.wait(2)
    player.play(["E5 C5 E4 A3"])
    assert (player.state.phase, player.state.shown is None) == ("heard", False)
    player.wait(2)
    player.press(*keys("E5 C5 G4 D3"))
    assert player.state.phase == "playing"


def test_in_the_middle_of_other_music_only_all_of_the_first_chord_begins_a_take() -> None:
    player = pianist()
    player.play(FOUR)
    player.wait(1)
    player.play(["A4 F4 C4 F3", "E5 C5 G4 E3"])
    assert player.state.phase == "heard"
    player.press(*keys(FOUR[0]))
    assert player.state.phase == "playing"


@pytest.mark.parametrize(
    ("after", "wait"), [(("F5 C5 A4 F3", "E5 B4 G#4 E3", "F5 D4 A3 D3"), 0.1), ((), 7.0), (("F5 D5 G4 G3",), 7.0)]
)
def test_music_that_has_the_first_chord_in_it_gives_the_verdict_back(after: Sequence[str], wait: float) -> None:
    """The tonic comes again in the next phrase: what is played from there on is no take of this one."""
    player = pianist()
    player.play([*FOUR, "A4 F4 C4 F3", FOUR[0], *after])
    player.wait(wait)
    assert (player.state.phase, player.state.shown) == ("heard", player.takes[0])
    player.wait(10)
    assert [take.verdict.word for take in player.takes] == ["solid"]
    assert all(marks_of_chord(player.state, place) == ["right"] * 4 for place in range(4))


def test_two_chords_that_share_keys_with_the_first_one_do_not_add_up_to_it() -> None:
    """Half a second apart and detached, as a player goes on after the verdict."""
    player = pianist()
    player.play(FOUR)
    player.wait(1)
    player.play(["E5 C5 A4 A3", "F5 D5 G4 C3", "E5 C5 A4 F3"], each=0.5, gap=0.1)
    assert (player.state.phase, player.state.shown is None) == ("heard", False)


def test_after_a_take_that_stopped_keys_elsewhere_are_told_where_the_next_begins() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(FOUR[:3], each=1.0)
    player.wait(3.5)
    player.play(FOUR[3:])
    assert (player.state.phase, player.state.said) == ("heard", "G3: the take begins with the first chord.")
    assert player.state.astray


@pytest.mark.parametrize("semitones", [-2, -1, 1, 2, 7])
def test_a_whole_take_played_elsewhere_after_a_finished_one_is_answered_and_not_judged(semitones: int) -> None:
    """A tone, a semitone or a fifth off: what is shown is the verdict of the take before."""
    player = pianist()
    player.play(FOUR)
    player.wait(1)
    assert (player.state.phase, player.state.said, player.state.astray) == ("heard", "", False)
    for chord in FOUR:
        moved = [each + semitones for each in keys(chord)]
        player.press(*moved)
        player.wait(0.5)
        player.release(*moved)
    player.wait(1)
    assert (player.state.phase, player.state.astray, len(player.takes)) == ("heard", True, 1)
    assert player.state.said == offered(semitones)
    player.press(*keys(FOUR[0]))
    assert (player.state.phase, player.state.said, player.state.astray) == ("playing", "", False)


@pytest.mark.parametrize("semitones", [-2, 1, 5])
def test_with_the_transpose_button_on_the_first_chord_struck_again_is_heard_where_it_belongs(semitones: int) -> None:
    """Who plays a whole phrase so is told, and heard from the next try on, until the button is put right."""
    player = pianist()

    def moved() -> None:
        for chord in FOUR:
            player.press(*(each + semitones for each in keys(chord)))
            player.wait(0.5)
            player.release(*(each + semitones for each in keys(chord)))
        player.wait(1.5)

    moved()
    assert (player.takes, player.state.said) == ([], offered(semitones))
    moved()
    assert [(take.verdict.word, take.shift) for take in player.takes] == [("solid", -semitones)]
    moved()
    player.play(FOUR)
    player.wait(1)
    assert [take.shift for take in player.takes] == [-semitones, -semitones, 0]


def test_the_left_hand_alone_where_both_are_asked_is_told_so() -> None:
    """The bass alone is too little of the first chord to begin."""
    three = task([f"{right} C4 {bass}" for right, bass in (("E5 G4", "C3"), ("D5 G4", "B2"), ("E5 G4", "C3"))])
    chords = tuple(
        replace(
            chord, notes=tuple(replace(note, hand="left" if note.voice == "bass" else "right") for note in chord.notes)
        )
        for chord in three.plan.chords
    )
    player = pianist(replace(three, plan=replace(three.plan, chords=chords)))
    player.play(["- - - C3", "- - - B2"])
    assert player.state.said == "Only the left hand was heard: both are asked."
    player.play(["- - - C3"])
    assert player.state.said == "Only the left hand was heard: both are asked."
    assert player.takes == []
    other = pianist(replace(player.drill.task, step=RIGHT))
    other.play(["- - - C3", "- - - B2"])
    assert other.state.said == "The left hand was heard: the right hand is asked."


def test_noodling_begins_nothing() -> None:
    player = pianist()
    player.play(["F5 D5 A4 D3", "F#5 D#5 A#4 D#3"])
    assert player.state.phase == "ready"
    assert player.state.said.endswith("the take begins with the first chord.")


def test_a_first_chord_with_a_wrong_note_in_it_begins_the_take_all_the_same() -> None:
    player = pianist()
    player.press(key("F5"), key("C5"), key("G4"), key("C3"))
    assert player.state.phase == "playing"
    assert marks_of_chord(player.state, 0) == ["wrong", "right", "right", "right"]


def test_a_chord_of_the_first_ones_keys_may_be_mended() -> None:
    """What is waited for has precedence over beginning again."""
    player = pianist(task((FOUR[0], FOUR[1], FOUR[0], FOUR[2], FOUR[3]), step=RIGHT))
    player.play(["E5 C5 - -", "D5 B4 - -", "F5 C5 - -"])
    player.wait(1)
    player.play(["E5 C5 - -"])
    assert (player.takes, player.state.phase, player.state.here) == ([], "playing", 3)


def test_an_octave_slip_is_put_down_to_the_nearest_voice() -> None:
    player = pianist(task(("G5 D5 G4 G3", *FOUR)))
    player.press(key("G2"), key("G4"), key("D5"))
    assert player.state.said == "G2 was struck; the bass has G3."
    player.press(key("G5"))
    assert player.state.said == "G2 was struck; the bass has G3."
    assert marks_of_chord(player.state, 0) == ["right", "right", "right", "wrong"]


def test_a_wrong_key_taken_for_a_voice_that_comes_is_looked_at_again() -> None:
    player = pianist(task(("A4 G4 D4 G3", *FOUR)))
    player.press(key("G#4"), key("D4"), key("G3"))
    assert player.state.said == "G#4 was struck; the soprano has A4."
    player.press(key("A4"))
    assert player.state.said == "G#4 was struck; the alto has G4."
    assert marks_of_chord(player.state, 0) == ["right", "wrong", "right", "right"]


def test_one_hand_alone_is_heard_alone() -> None:
    player = pianist(task(step=RIGHT))
    player.play(["E5 C5 - -", "D5 B4 - -", "C5 A4 - -", "B4 G4 - -"])
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"
    assert marks_of_chord(player.state, 0) == ["right", "right", "", ""]


def test_both_hands_where_one_is_asked_are_told_so_and_not_judged() -> None:
    player = pianist(task(step=RIGHT))
    player.play(FOUR[:2])
    assert player.state.said == "The right hand is asked alone: let the left one rest."
    assert "wrong" not in player.state.marks.values()
    player.play(FOUR[2:])
    player.wait(1)
    assert (player.takes, player.state.phase) == ([], "ready")
    assert player.state.said == "Both hands were heard: the right hand is asked alone."


def test_one_hand_where_both_are_asked_is_told_so_and_not_judged() -> None:
    player = pianist()
    player.play(["E5 C5 - -", "D5 B4 - -", "C5 A4 - -", "B4 G4 - -"])
    player.wait(4)
    assert (player.takes, player.state.phase) == ([], "ready")
    assert player.state.said == "Only the right hand was heard: both are asked."


def test_a_stray_key_of_the_other_hand_is_no_other_hand() -> None:
    player = pianist(task(step=RIGHT))
    player.play(["E5 C5 - -", "D5 B4 - G3", "C5 A4 - -", "B4 G4 - -"])
    assert player.state.said == ""
    player.wait(1)
    assert len(player.takes[0].verdict.findings.extra) == 1


def test_a_last_chord_that_is_held_for_ever_ends_the_take_too() -> None:
    player = pianist()
    player.play(FOUR[:3])
    player.press(*keys(FOUR[3]))
    player.wait(10)
    assert len(player.takes) == 1


def test_a_last_chord_with_a_note_missing_is_ended_by_silence() -> None:
    player = pianist()
    player.play([*FOUR[:3], "B4 G4 - G3"])
    player.wait(2)
    assert player.takes == []
    player.wait(2)
    assert [take.broken_off for take in player.takes] == [False]
    assert marks_of_chord(player.state, 3) == ["right", "right", "missing", "right"]


# Playing on beyond the last chord

ELSEWHERE = ("A4 F4 C4 F3", "G4 E4 C4 C3", "F4 D4 B3 G2", "E4 C4 G3 C3")
"""A phrase that follows."""


@pytest.mark.parametrize("held", [False, True])
@pytest.mark.parametrize("following", [ELSEWHERE, (FOUR[3], *ELSEWHERE), (FOUR[2], *ELSEWHERE)])
def test_who_plays_straight_on_into_the_next_phrase_is_judged_up_to_the_last_chord(
    following: Sequence[str], held: bool
) -> None:
    """The next phrase begins with a chord of its own, with the last one again, or with the one before that."""
    player = pianist()
    player.play(FOUR[:3])
    player.press(*keys(FOUR[3]))
    player.wait(0.6)
    kept = keys("- G4 D4 -") if held and following is ELSEWHERE else []
    player.release(*(each for each in keys(FOUR[3]) if each not in kept))
    player.press(*keys(following[0]))
    player.release(*kept)
    assert [(take.verdict.word, take.broken_off) for take in player.takes] == [("solid", False)]
    assert (player.state.phase, player.state.shown) == ("heard", player.takes[0])
    assert all(marks_of_chord(player.state, place) == ["right"] * 4 for place in range(4))
    player.release(*keys(following[0]))
    player.play(following[1:])
    player.wait(8)
    assert len(player.takes) == 1
    assert sum(event.kind == "press" for event in player.takes[0].events) == 16


def test_who_plays_straight_on_from_a_last_chord_that_lacked_a_note_is_told_of_the_note() -> None:
    player = pianist()
    player.play([*FOUR[:3], "B4 G4 - G3", *ELSEWHERE])
    player.wait(5)
    assert [take.broken_off for take in player.takes] == [False]
    assert player.takes[0].verdict.remarks == (
        "beat 4: the tenor (D4) is missing; take it with the left third finger as planned",
    )


def test_going_back_from_what_may_be_the_last_chord_with_a_wrong_bass_ends_nothing() -> None:
    """The chord gone back to has two keys of the last one."""
    player = pianist(task(("F5 C5 A4 F3", "C5 A4 - D3", "D5 Bb4 - G3", "F5 A4 - F3", "A4 F4 - E3", "C5 A4 - F3")))
    player.play(["F5 C5 A4 F3", "C5 A4 - D3", "D5 Bb4 - G3"])
    player.wait(3)
    player.play(["C5 A4 - D3", "D5 Bb4 - G3", "F5 A4 - F3", "A4 F4 - E3", "C5 A4 - F3"])
    player.wait(1)
    assert [take.broken_off for take in player.takes] == [False]
    assert len(player.takes[0].verdict.findings.jumps) == 1


def test_a_slip_with_the_last_chord_and_keys_of_it_struck_again_are_the_takes_own() -> None:
    player = pianist()
    player.play(FOUR[:3])
    player.press(*keys(FOUR[3]), key("F#3"))
    player.wait(0.6)
    player.release(key("F#3"), key("B4"))
    player.wait(0.3)
    player.press(key("B4"))
    assert (player.takes, player.state.phase) == ([], "playing")
    player.release(*keys(FOUR[3]))
    player.wait(1)
    assert len(player.takes[0].verdict.findings.extra) == 2


def test_a_bass_that_rounds_off_the_last_chord_ends_the_take() -> None:
    """The octave below, an organist's last note (common practice, no source)."""
    player = pianist()
    player.play(FOUR[:3])
    player.press(*keys(FOUR[3]))
    player.wait(0.8)
    player.press(key("G2"))
    assert [take.verdict.word for take in player.takes] == ["solid"]


def test_in_tempo_too_the_take_ends_where_the_player_goes_on() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play((*FOUR, *ELSEWHERE), each=1.0)
    player.wait(4)
    assert [take.verdict.word for take in player.takes] == ["solid"]


# In tempo


def counted_in(player: Pianist) -> None:
    """Ask for the count-in with the first chord, and let it pass up to the first beat."""
    player.press(*keys(FOUR[0]))
    player.wait(0.2)
    player.release(*keys(FOUR[0]))
    assert player.state.phase == "counting"
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now - 0.01)


def test_a_last_chord_that_is_being_mended_is_not_cut_off() -> None:
    """Held while the sentence about it is read, let go, and struck right half a second later."""
    player = pianist()
    player.play(FOUR[:3])
    player.press(*keys("C5 G4 D4 G3"))
    player.wait(3.5)
    player.release(*keys("C5 G4 D4 G3"))
    player.wait(0.5)
    player.play(FOUR[3:])
    player.wait(1)
    (done,) = player.takes
    assert not done.broken_off
    assert done.verdict.findings.absent == ()


def test_in_tempo_the_first_chord_asks_for_the_count_in() -> None:
    player = pianist(task(step=IN_TEMPO))
    player.press(*keys(FOUR[0]))
    assert player.state.first_chord == pytest.approx(player.now + BREATH + 4.0, abs=0.02)
    beats = []
    for _ in range(120):
        player.wait(TICK)
        beat = player.state.beat
        if beat and (not beats or beats[-1] != (beat.counted, beat.number)):
            beats.append((beat.counted, beat.number))
    assert beats == [(True, 1), (True, 2), (True, 3), (True, 4), (False, 1), (False, 2)]


def test_played_on_the_beat_it_is_solid() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(FOUR, each=1.0)
    player.wait(1)
    done = player.takes[0]
    assert done.verdict.word == "solid"
    assert done.metronome is not None
    assert done.metronome.quarter_bpm == 60
    assert all(marks_of_chord(player.state, place) == ["right"] * 4 for place in range(4))


def test_a_chord_behind_the_beat_is_late_and_one_left_out_is_missing_at_once() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(FOUR[:1], each=1.3)
    player.press(*keys(FOUR[1]))
    assert marks_of_chord(player.state, 1) == ["late"] * 4
    player.wait(0.2)
    player.release(*keys(FOUR[1]))
    player.wait(1.8)
    assert marks_of_chord(player.state, 2) == ["missing"] * 4


def test_a_hand_that_rests_in_tempo_is_waited_for() -> None:
    """The left hand holds a note of five beats at 60: nothing of it is struck for five seconds, and nobody stopped."""
    held = ("E5 C5 G4 C3", *["D5 B4 - -"] * 4, "C5 A4 E4 A3")
    player = pianist(task(held, step=Step("left hand in tempo", hand="left", clock="tempo")))
    player.press(*keys("G4 C3"))
    player.wait(0.2)
    player.release(*keys("G4 C3"))
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now)
    player.press(*keys("G4 C3"))
    player.wait(5.0)
    player.press(*keys("E4 A3"))
    player.release(*keys("G4 C3"))
    player.wait(0.9)
    player.release(*keys("E4 A3"))
    player.wait(1.0)
    (done,) = player.takes
    assert done.verdict.word == "solid"
    assert not done.broken_off


def test_the_notes_of_a_roll_are_not_late() -> None:
    four = task()
    first = four.plan.chords[0]
    rolled = replace(first, notes=tuple(replace(note, rolled=True) for note in first.notes))
    player = pianist(replace(four, plan=replace(four.plan, chords=(rolled, *four.plan.chords[1:]))))
    for each in sorted(keys(FOUR[0])):
        player.press(each)
        player.wait(0.1)
    assert marks_of_chord(player.state, 0) == ["right"] * 4


def test_stopping_ends_the_take_in_tempo() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(FOUR[:3], each=1.0)
    player.wait(3.5)
    assert [take.broken_off for take in player.takes] == [True]
    assert player.state.phase == "heard"


@pytest.mark.parametrize("struck", [FOUR[:1], FOUR[:2], ("F5 D5 - -",)])
def test_a_false_start_in_tempo_is_forgotten(struck: Sequence[str]) -> None:
    """As one is that is broken off; a wrong take of many keys is not one."""
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(struck, each=1.0)
    player.wait(4)
    assert player.takes == []
    assert (player.state.phase, player.state.said) == ("ready", "A false start: begin again with the first chord.")
    counted_in(player)
    player.play(["F5 D5 A4 D3"] * 4, each=1.0)
    player.wait(4)
    assert [take.verdict.word for take in player.takes] == ["weak"]


@pytest.mark.parametrize(("beats", "said"), [(1, "a beat"), (2, "2 beats")])
def test_who_comes_in_too_soon_is_told_to_count_and_has_left_nothing_out(beats: int, said: str) -> None:
    """At 60, so that the keys before the count-in is over are many."""
    chords = (*FOUR, *FOUR[1:])
    player = pianist(task(chords, step=IN_TEMPO))
    player.press(*keys(FOUR[0]))
    player.wait(0.2)
    player.release(*keys(FOUR[0]))
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now - beats)
    player.play(chords, each=1.0)
    player.wait(4)
    (done,) = player.takes
    assert (done.verdict.word, done.verdict.remarks) == ("shaky", (f"you came in {said} early; count the bar out",))
    assert marks_of_chord(player.state, 0) == ["right"] * 4


def test_a_first_chord_tried_during_the_count_in_and_struck_on_the_beat_is_not_too_soon() -> None:
    player = pianist(task(step=IN_TEMPO))
    player.press(*keys(FOUR[0]))
    player.wait(0.2)
    player.release(*keys(FOUR[0]))
    player.wait(1.5)
    player.play(FOUR[:1])
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now)
    player.play(FOUR, each=1.0)
    player.wait(1)
    assert [take.verdict.word for take in player.takes] == ["solid"]
    assert sum(event.kind == "press" for event in player.takes[0].events) == 16


def test_counting_in_and_playing_nothing_is_no_take() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.wait(5)
    assert player.takes == []
    assert (player.state.phase, player.state.said) == ("ready", "Nothing was heard.")


def test_the_first_chord_again_counts_in_again() -> None:
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    player.play(FOUR[:2], each=1.0)
    player.press(*keys(FOUR[0]))
    assert player.state.phase == "counting"
    assert player.takes == []


def test_keys_during_the_count_in_belong_to_nothing() -> None:
    player = pianist(task(step=IN_TEMPO))
    player.press(*keys(FOUR[0]))
    player.release(*keys(FOUR[0]))
    assert player.state.said == ""
    player.wait(1.2)
    player.play(["F5 D5 A4 D3"])
    assert player.state.said == "Wait for the beat: the take begins with the first chord after the count."
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now - 0.01)
    player.play(FOUR, each=1.0)
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"
    assert sum(event.kind == "press" for event in player.takes[0].events) == 16


def test_clicks_fall_on_the_beats_of_the_count_in_and_of_the_phrase() -> None:
    counted = ((-2.0, True), (-1.5, False), (-1.0, False), (-0.5, False))
    played = ((0.0, True), (0.5, False), (1.0, False), (1.5, False))
    assert task(step=IN_TEMPO, bpm=120).clicks() == counted + played


# By key, by pedal, and what keyboards do


def test_a_key_starts_and_stops() -> None:
    player = pianist(task(step=IN_TEMPO))
    player.drill.start(player.now)
    assert player.state.phase == "counting"
    player.drill.stop(player.now)
    assert (player.state.phase, player.state.first_chord) == ("ready", None)
    assert player.takes == []


def test_stopping_by_key_judges_what_was_played() -> None:
    player = pianist()
    player.play(FOUR[:3])
    state = player.drill.stop(player.now)
    assert state.done is not None
    assert state.done.broken_off
    assert state.phase == "heard"


def test_two_quick_presses_of_the_pedal_ask_for_the_next_phrase_and_three_for_the_one_before() -> None:
    player = pianist()
    player.pedal(127, 0, 127, 0)
    player.wait(1)
    player.pedal(127, 0, 127, 0, 127, 0)
    player.wait(1)
    assert player.wishes == ["next", "back"]


def test_a_pedal_changed_on_a_long_note_turns_no_page() -> None:
    """Down, and up and down again on the same note: pedalling, in a take or while anything else is played."""
    player = pianist()
    player.press(*keys("F5 D5"))
    player.pedal(127, 0, 127, 0)
    player.wait(1)
    player.release(*keys("F5 D5"))
    for chord in FOUR:
        player.press(*keys(chord))
        player.pedal(127, 0, 127)
        player.wait(0.6)
        player.release(*keys(chord))
        player.pedal(0)
    assert player.wishes == []
    player.wait(1)
    player.pedal(127, 0, 127, 0)
    player.wait(1)
    assert player.wishes == ["next"]


def test_who_is_stuck_in_a_take_may_still_ask_for_the_next_phrase() -> None:
    player = pianist()
    player.play(FOUR[:2])
    player.pedal(127, 0, 127, 0)
    player.wait(2.9)
    assert player.wishes == []
    player.pedal(127, 0, 127, 0)
    player.wait(1)
    assert player.wishes == ["next"]


@pytest.mark.parametrize("step", [BY_CHORD, IN_TEMPO])
def test_a_pedal_that_is_down_already_is_down_in_the_take(step: Step) -> None:
    player = pianist(task(step=step))
    player.pedal(127)
    player.wait(2)
    if step is IN_TEMPO:
        counted_in(player)
    player.play(FOUR, each=1.0)
    player.wait(2)
    (done,) = player.takes
    assert done.verdict.findings.pedal == Pedal(0, 1.0)
    assert done.seconds < 6


def test_with_pedal_is_not_passed_dry() -> None:
    for pedalling, word in (((), "shaky"), ((127, 0), "solid")):
        player = pianist(task(step=replace(IN_TEMPO, pedal=True)))
        counted_in(player)
        player.play(FOUR[:1], each=1.0)
        player.press(*keys(FOUR[1]))
        player.pedal(*pedalling)
        player.wait(1.0 - 0.016 - 0.1 * len(pedalling))
        player.release(*keys(FOUR[1]))
        player.play(FOUR[2:], each=1.0)
        player.wait(2)
        assert [take.verdict.word for take in player.takes] == [word]


def test_the_pedal_under_a_take_is_only_pedalling() -> None:
    player = pianist()
    for chord in FOUR:
        player.press(*keys(chord))
        player.pedal(127)
        player.wait(0.3)
        player.pedal(0)
        player.release(*keys(chord))
    player.wait(1)
    assert player.wishes == []
    assert player.takes[0].verdict.word == "solid"


@pytest.mark.parametrize(("semitones", "said"), [(12, "an octave too high"), (-24, "two octaves too low")])
def test_a_keyboard_set_an_octave_off_is_heard_where_it_belongs(semitones: int, said: str) -> None:
    player = pianist()
    player.press(*(each + semitones for each in keys(FOUR[0])))
    assert player.state.phase == "playing"
    assert said in player.state.said
    player.release(*(each + semitones for each in keys(FOUR[0])))
    player.wait(2)
    assert said in player.state.said, "it can be read until the second chord"
    for chord in FOUR[1:]:
        player.press(*(each + semitones for each in keys(chord)))
        player.wait(0.5)
        player.release(*(each + semitones for each in keys(chord)))
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"
    player.play(FOUR)
    player.wait(1)
    assert (player.state.shift, len(player.takes)) == (0, 2)
    assert [take.shift for take in player.takes] == [-semitones, 0]


@pytest.mark.parametrize(("asked", "each"), [(140.0, 60 / 70), (50.0, 0.6)], ids=["half as fast", "twice as fast"])
def test_a_steady_take_in_tempo_at_another_tempo_is_told_its_own(asked: float, each: float) -> None:
    """Counted in as asked, played through as the player can."""
    chords = (*FOUR, *FOUR[1:], FOUR[1])
    player = pianist(task(chords, step=IN_TEMPO, bpm=asked))
    counted_in(player)
    player.play(chords, each=each)
    player.wait(4)
    (done,) = player.takes
    assert f"♩ = {60 / each:.0f} where {asked:.0f} was asked" in " ".join(done.verdict.remarks)
    assert "beat of the metronome" not in " ".join(done.verdict.remarks)


def test_an_octave_that_is_off_is_said_while_the_take_is_counted_in_and_in_its_first_chord() -> None:
    player = pianist(task(step=IN_TEMPO))
    first = [each + 12 for each in keys(FOUR[0])]
    player.press(*first)
    player.release(*first)
    assert (player.state.phase, player.state.said) == ("counting", said_of(-12))
    assert player.state.first_chord is not None
    player.wait(player.state.first_chord - player.now)
    player.press(*first)
    player.release(*first)
    assert (player.state.phase, player.state.said) == ("playing", said_of(-12))
    player.wait(0.9)
    player.press(*(each + 12 for each in keys(FOUR[1])))
    assert player.state.said == ""


def test_a_key_that_the_instrument_does_not_have_is_said_and_not_waited_for() -> None:
    """61 keys end at C2 (common practice, no source)."""
    chords = ("E5 C5 G4 C3", "D5 B4 G4 B1", "C5 A4 E4 A2")
    player = pianist(replace(task(chords), keys=range(36, 97)))
    assert player.state.said == "Your 61 keys have no B1 (bar 1, beat 2): nothing waits for it."
    player.play(["E5 C5 G4 C3", "D5 B4 G4 -", "C5 A4 E4 A2"])
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"


def test_an_unplugged_keyboard_leaves_the_take_open_and_no_key_down() -> None:
    player = pianist()
    player.play(FOUR[:2])
    player.press(*keys(FOUR[2]))
    player.drill.unplugged([Event(player.now, "release", each, 64) for each in keys(FOUR[2])])
    assert player.state.down == frozenset()
    player.wait(30)
    assert (player.state.phase, player.state.here) == ("playing", 3)
    player.play(FOUR[3:])
    player.wait(1)
    assert player.takes[0].verdict.word == "solid"


def test_what_another_keyboard_played_just_before_is_no_part_of_the_take() -> None:
    player = pianist()
    player.press(40)
    player.drill.unplugged([Event(player.now, "release", 40, 64)])
    player.wait(0.2)
    player.play(FOUR)
    player.wait(1)
    assert 40 not in {event.key for event in player.takes[0].events}
    assert player.takes[0].verdict.word == "solid"


def on_the_beat(chords: int) -> Pianist:
    """A take in tempo of which so many chords were played on the beat, the last of them still held."""
    player = pianist(task(step=IN_TEMPO))
    counted_in(player)
    if chords:
        player.play(FOUR[: chords - 1], each=1.0)
        player.press(*keys(FOUR[chords - 1]))
    return player


@pytest.mark.parametrize("chords", [0, 1, 3])
def test_a_take_in_tempo_whose_keyboard_is_unplugged_is_none_and_that_is_said(chords: int) -> None:
    """The beat does not wait for a cable, and what could not be played says nothing of the player."""
    player = on_the_beat(chords)
    player.drill.unplugged([Event(player.now, "release", each, 64) for each in sorted(player.state.down)])
    assert (player.state.phase, player.state.down) == ("ready", frozenset())
    assert "not kept" in player.state.said
    player.wait(30)
    assert player.takes == []
    player.press(*keys(FOUR[0]))
    assert player.state.phase == "counting"


def test_a_take_in_tempo_that_had_come_to_its_end_is_judged_though_the_keyboard_goes() -> None:
    player = on_the_beat(4)
    player.drill.unplugged([Event(player.now, "release", each, 64) for each in sorted(player.state.down)])
    player.wait(2)
    assert [take.broken_off for take in player.takes] == [False]


def test_keys_that_came_up_while_nobody_listened_end_no_take_in_tempo() -> None:
    player = on_the_beat(2)
    player.drill.listen_again((), player.now)
    assert (player.state.phase, player.state.down) == ("playing", frozenset())


def test_the_pedal_pressed_twice_while_nobody_listened_turns_no_page() -> None:
    player = pianist()
    player.pedal(127, 0, 127, 0)
    player.drill.listen_again((), player.now)
    player.wait(2)
    assert player.wishes == []


def test_looking_at_hidden_fingers_is_remembered_with_the_take_and_only_with_that() -> None:
    player = pianist()
    player.drill.peek()
    player.play(FOUR)
    player.wait(1)
    player.play(FOUR[:2])
    player.drill.peek()
    player.play(FOUR[2:])
    player.wait(1)
    assert [take.peeked for take in player.takes] == [False, True]


EVENTS = st.lists(
    st.tuples(
        st.floats(0, 3),
        st.sampled_from(["press", "press", "release", "pedal", "tick", "start", "stop", "unplug"]),
        st.sampled_from([*keys(FOUR[0]), *keys(FOUR[1]), 61, 100]),
        st.integers(0, 127),
    ),
    max_size=60,
)


@settings(max_examples=150, deadline=None)
@given(EVENTS, st.sampled_from([BY_CHORD, IN_TEMPO, RIGHT]))
def test_whatever_happens_there_is_always_a_state(script: list[tuple[float, str, int, int]], step: Step) -> None:
    drill = Drill(task(step=step))
    now = 0.0
    for wait, what, which, value in script:
        now += wait
        if what == "tick":
            drill.tick(now)
        elif what == "start":
            drill.start(now)
        elif what == "stop":
            drill.stop(now)
        elif what == "unplug":
            drill.unplugged([Event(now, "release", each, 64) for each in sorted(drill.state.down)])
        else:
            kind = "press" if what == "press" else "release" if what == "release" else "pedal"
            drill.hear(Event(now, kind, 64 if kind == "pedal" else which, max(value, 1)))  # type: ignore[arg-type]
        state = drill.state
        assert state.here is None or 0 <= state.here < 4
        assert (state.first_chord is not None) == (state.phase == "counting") or state.phase == "playing"
        for (place, _), mark in state.marks.items():
            assert 0 <= place < 4
            assert mark


def test_a_key_beyond_all_keys_of_midi_is_not_there_for_an_octave_switch() -> None:
    """Two octaves too high, the lowest key would lie below 0 where it is heard: the take goes on and can be kept."""
    player = pianist()
    for chord in FOUR:
        if chord is FOUR[3]:
            player.press(21)
            player.release(21)
        player.press(*(each + 24 for each in keys(chord)))
        player.wait(0.5)
        player.release(*(each + 24 for each in keys(chord)))
    player.wait(1)
    done = player.takes[0]
    assert done.verdict.word == "solid"
    assert all(0 <= event.key < 128 for event in done.events)
