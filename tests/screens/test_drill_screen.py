"""The drill on screen: what is played is seen, and every key does what its hint says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from intonation import INTONATION

from coach.listening.player import Manner, Mistakes, perform
from coach.listening.ports import Link
from coach.practice.entry import new_entry
from coach.practice.ladder import LEFT, NO_FINGERS, RIGHT, STEPS_IN_TEMPO, TOGETHER, Step
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.rest import REST, Stint
from coach.screens.app import CoachApp
from coach.screens.drill import DrillScreen

Desk = Callable[..., Any]
Drilling = Callable[..., Any]

SIZES = [(80, 24), (120, 40)]

LEGEND = 1
"""How often each mark stands in the legend under the table."""


GREY = 3
"""How far red, green and blue of a grey lie apart at most, for rounding."""


def flowing(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("size", SIZES)
async def test_the_first_phrase_is_on_the_stand(desk: Desk, drilling: Drilling, size: tuple[int, int]) -> None:
    async with desk(drilling(), size) as at:
        assert "Wide Water · phrase 1 of 4" in at.text
        assert "right hand · chord by chord" in at.text
        assert "Play the first chord to begin." in at.text
        assert "▸1" in at.text
        for hint in ("n Next", "r Right", "h Hear it", "s Step", "Esc Leave", "? Help"):
            assert hint in at.text


async def test_a_take_in_tempo_whose_keyboard_is_unplugged_is_not_kept(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[-1])) as at:
        at.app.post_message(CoachApp.Linked(Link("listening", "Upright", "Listening to Upright.")))
        await at.settle()
        task = at.drill.task
        await at.strike(*sorted(task.first_keys))
        await at.let_go(*sorted(task.first_keys))
        manner = Manner(task.quarter_bpm, rubato=0.0, unsteady=0.0)
        played = perform(task.expected, manner, start=at.drill.state.first_chord).events
        await at.hear(*played[: len(played) // 2])
        at.app.post_message(CoachApp.Linked(Link("unplugged", "Upright", "Upright is gone.")))
        await at.settle()
        assert "it is not kept" in at.text
        assert "Upright is gone" in at.text
        await at.wait(8)
        assert at.app.log_.count() == 0
        at.app.post_message(CoachApp.Linked(Link("listening", "Upright", "Upright is back.")))
        await at.settle()
        await at.perform()
        assert at.app.log_.count() == 1


async def test_a_hand_that_rests_is_not_put_on_the_stand(desk: Desk, drilling: Drilling, tmp_path: Path) -> None:
    tune = tmp_path / "intonation.abc"
    tune.write_text(INTONATION)
    async with desk(drilling(str(tune))) as at:
        assert "right hand · chord by chord" in at.text
        assert "Left" not in at.text
        await at.strike(*sorted(at.drill.task.first_keys))
        await at.press("l")
        # The key is not offered, and ends no take.
        assert at.app.screen.state.phase == "playing"
        at.app.screen.action_hand("left")
        assert at.notes[-1].startswith("The left hand has nothing to play in phrase 1")
        assert at.app.screen.state.phase == "playing"
        assert "right hand · chord by chord" in at.text
        await at.press("n")
        await at.settle()
        await at.press("l")
        assert "left hand · chord by chord" in at.text


async def test_phrases_in_which_the_hand_rests_are_passed_over(desk: Desk, drilling: Drilling, tmp_path: Path) -> None:
    tune = tmp_path / "intonation.abc"
    tune.write_text(INTONATION)
    async with desk(drilling(str(tune), phrase=2, step=LEFT)) as at:
        assert "phrase 2 of 2" in at.text
        await at.press("v")
        assert "phrase 2 of 2" in at.text


async def test_struck_notes_appear_in_their_cells_at_once(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.strike(*sorted(at.drill.task.first_keys))
        assert at.text.count("•") == 4 + LEGEND
        assert "▸3" in at.text


async def test_a_wrong_key_is_named_and_crossed(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        first = sorted(at.drill.task.first_keys)
        await at.strike(first[0], first[1], first[2], first[3] + 1)
        assert "×" in at.text
        assert "was struck; the soprano has G₄." in at.text


async def test_a_take_is_judged_kept_and_the_next_step_comes_by_itself(
    desk: Desk, drilling: Drilling, home: Any
) -> None:
    async with desk(drilling()) as at:
        await at.perform()
        assert "Solid. Next: left hand." in at.text
        assert "left hand · chord by chord" in at.text
        await at.perform()
        assert "both hands · chord by chord" in at.text
    with Log.open(home / "practice.sqlite") as log:
        entries = list(log.entries())
    assert [(entry.step.name, entry.verdict, entry.chosen) for entry in entries] == [
        ("right hand", "solid", False),
        ("left hand", "solid", False),
    ]
    assert all((home / "takes" / entry.midi).is_file() for entry in entries)
    assert all(entry.source == "wide-water" for entry in entries)


async def test_a_failed_take_keeps_its_marks_and_its_step(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.perform(Mistakes(wrong=0.2), seed=3)
        assert "right hand · chord by chord" in at.text
        assert "×" in at.text
        assert any(word in at.text for word in ("Shaky.", "Weak.")), at.text
        assert "sounded for" in at.text


async def test_in_tempo_the_beat_is_counted_where_it_is_seen(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[2])) as at:
        assert " 1   2   3    ♩ = 92" in at.text
        assert "Play the first chord to be counted in." in at.text
        await at.strike(*sorted(at.drill.task.first_keys))
        await at.let_go(*sorted(at.drill.task.first_keys))
        await at.wait(1.0)
        assert "count-in" in at.text
        await at.wait_until(at.drill.state.first_chord + 0.2)
        await at.wait(0.01)
        assert "count-in" not in at.text


async def test_played_in_tempo_it_is_solid(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[2])) as at:
        await at.perform()
        assert "Solid." in at.text


async def test_the_pedal_turns_the_page(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.pedal(2)
        assert "phrase 2 of 4" in at.text
        await at.pedal(2)
        assert "phrase 3 of 4" in at.text
        await at.pedal(3)
        assert "phrase 2 of 4" in at.text


async def test_next_and_before_by_key(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("n", "v")
        assert "phrase 1 of 4" in at.text
        await at.pedal(3)
        assert "This is the first one." in at.text
        await at.press("n", "n", "n")
        assert "phrase 4 of 4" in at.text
        await at.press("n")
        assert at.screen == "TodayScreen"


async def test_hands_are_chosen_by_key(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("l")
        assert "left hand" in at.text
        assert "RH" not in at.text
        await at.press("b")
        assert "both hands" in at.text
        assert "RH" in at.text
        assert "LH" in at.text
        await at.press("r")
        assert "LH" not in at.text


async def test_a_chosen_step_is_logged_as_chosen(desk: Desk, drilling: Drilling, home: Any) -> None:
    async with desk(drilling()) as at:
        await at.press("b")
        await at.perform()
        assert "both hands" in at.text
    with Log.open(home / "practice.sqlite") as log:
        assert [(entry.step.name, entry.chosen) for entry in log.entries()] == [("together", True)]


async def test_tempo_and_chord_by_chord(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.press("t")
        assert "in tempo, ♩ = 92" in at.text
        bpm = at.drill.task.quarter_bpm
        await at.press("plus")
        assert at.drill.task.quarter_bpm == round(bpm) + 4
        await at.press("minus", "minus")
        assert at.drill.task.quarter_bpm == round(bpm) - 4
        await at.press("t")
        assert "chord by chord" in at.text


def first_finger(at: Any) -> str:
    """The first note of the soprano with its finger, as the table shows it."""
    note = at.drill.task.plan.chords[0].notes[0]
    assert note.pitch == "G4"
    return f"G₄ {note.finger}"


async def test_fingers_are_shown_hidden_and_peeked_at(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        assert first_finger(at) in at.text
        await at.press("f")
        assert "fingers at changes of place" in at.text
        await at.press("f")
        assert "no fingers" in at.text
        assert first_finger(at) not in at.text
        await at.press("p")
        assert first_finger(at) in at.text
        await at.wait(1.0)
        await at.press("p")
        await at.wait(1.5)
        assert first_finger(at) in at.text, "the key repeats while it is held"
        await at.wait(1.0)
        assert first_finger(at) not in at.text


async def test_a_peek_during_a_take_is_kept_with_it(desk: Desk, drilling: Drilling, home: Any) -> None:
    async with desk(drilling(step=Step("together, no fingers", fingers="none"))) as at:
        events = perform(at.drill.task.expected, start=at.now + 0.1).events
        await at.hear(*events[:8])
        await at.press("p")
        await at.hear(*events[8:])
        await at.wait(4.0)
        await at.perform()
    with Log.open(home / "practice.sqlite") as log:
        assert sorted(entry.step.fingers for entry in log.entries()) == ["all", "none"]


async def test_looking_through_the_plan_says_why(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.press("right")
        assert "Bar 1, beat 1: 3+1" in at.text
        assert "tenor a tenth above the bass" in at.text
        await at.press("right")
        assert "Bar 1, beat 3" in at.text
        await at.press("left", "left")
        assert "Bar 1, beat 1" in at.text
        await at.press("down")
        assert first_finger(at) not in at.text
        await at.press("up")
        assert first_finger(at) in at.text


async def test_a_step_is_chosen_from_the_ladder(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("s")
        assert at.screen == "StepsScreen"
        for name in ("right hand", "left hand", "together", "in tempo 60 %", "no fingers", "from memory"):
            assert name in at.text
        await at.press("down", "down", "enter")
        assert "both hands · chord by chord" in at.text
        await at.press("s", "escape")
        assert "both hands · chord by chord" in at.text


async def test_the_take_that_is_going_on_is_ended_by_key(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[2])) as at:
        await at.press("space")
        assert at.drill.state.phase == "counting"
        await at.press("space")
        assert at.drill.state.phase == "ready"


async def test_leaving_keeps_the_take_that_is_going_on(desk: Desk, drilling: Drilling, home: Any) -> None:
    async with desk(drilling("wide-water", 1, RIGHT)) as at:
        events = perform(at.drill.task.expected, start=at.now + 0.1).events
        await at.hear(*events[: len(events) * 2 // 3])
        await at.press("escape")
        assert at.screen == "TodayScreen"
    with Log.open(home / "practice.sqlite") as log:
        entries = list(log.entries())
    assert len(entries) == 1
    assert entries[0].reached is not None


async def test_quitting_keeps_the_take_that_is_going_on(desk: Desk, drilling: Drilling, home: Any) -> None:
    async with desk(drilling("wide-water", 1, RIGHT)) as at:
        events = perform(at.drill.task.expected, start=at.now + 0.1).events
        await at.hear(*events[: len(events) * 2 // 3])
        await at.pilot.press("ctrl+q")
    with Log.open(home / "practice.sqlite") as log:
        assert log.count() == 1


async def test_a_take_that_cannot_be_written_as_midi_is_logged_and_said(
    desk: Desk, drilling: Drilling, home: Any
) -> None:
    (home / "takes").write_text("in the way")
    async with desk(drilling()) as at:
        await at.perform()
        assert any("Cannot keep the take" in note for note in at.notes), at.notes
    with Log.open(home / "practice.sqlite") as log:
        assert log.count() == 1


async def test_without_an_output_hearing_it_says_so(desk: Desk, drilling: Drilling, monkeypatch: Any) -> None:
    monkeypatch.setattr("coach.paper.sound.ports", lambda direction: None)
    async with desk(drilling()) as at:
        await at.press("h")
        assert "There is no MIDI output to hear it on." in at.notes


async def test_clicks_can_be_silenced(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("c")
        assert at.app.settings.clicks is False
        await at.press("c")
        assert at.app.settings.clicks is True


async def test_help_opens_and_closes_over_the_drill(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("question_mark")
        assert at.screen == "HelpScreen"
        await at.press("escape")
        assert at.screen == "DrillScreen"


async def test_a_click_on_a_hint_is_its_key(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        line = next(y for y, text in enumerate(at.text.splitlines()) if "l Left" in text)
        column = at.text.splitlines()[line].index("l Left")
        await at.pilot.click(offset=(column + 2, line))
        await at.settle()
        assert "left hand" in at.text


async def test_the_window_may_change_its_size(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling("oars-at-dusk", 1, TOGETHER), (120, 40)) as at:
        await at.strike(*sorted(at.drill.task.first_keys))
        wide = at.text
        assert wide.count("•") == 4 + LEGEND
        await at.pilot.resize_terminal(80, 24)
        await at.settle()
        assert at.text.count("•") in (4, 4 + LEGEND)
        assert max(map(len, at.text.splitlines())) <= 80
        assert "Space End take" in at.text


async def test_without_colour_all_is_still_said_by_signs(
    desk: Desk, drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    """https://no-color.org: a window without colour shows greys only."""
    monkeypatch.setenv("NO_COLOR", "1")
    async with desk(drilling(step=TOGETHER)) as at:
        first = sorted(at.drill.task.first_keys)
        await at.strike(first[0], first[1], first[2], first[3] + 1)
        assert "▸" in at.text
        assert "•" in at.text
        assert "×" in at.text
        for strip in at.app.screen._compositor.render_strips():
            for segment in strip:
                for colour in (segment.style.color, segment.style.bgcolor) if segment.style else ():
                    if colour is not None and colour.triplet is not None:
                        assert max(colour.triplet) - min(colour.triplet) <= GREY


def shown(at: Any) -> str:
    """What asks for a rest, "" where nothing does."""
    line = at.app.screen.query_one("#rest")
    return flowing(str(line.render())) if line.has_class("-on") else ""


async def test_after_25_minutes_of_playing_the_hands_are_asked_to_rest(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        at.app.stint = Stint(25 * 60.0, at.now)
        await at.perform()
        assert "rest your hands" in at.text
        assert "stop at the first pain" in at.text
        await at.press("space")
        assert "rest your hands" not in at.text


async def test_a_rest_is_asked_for_again_with_the_true_figure_until_it_is_taken(desk: Desk, drilling: Drilling) -> None:
    """By a player who never touches the computer's keys: the line goes by itself once the hands have rested."""
    async with desk(drilling(step=TOGETHER)) as at:
        at.app.stint = Stint(25 * 60.0, at.now)
        await at.perform()
        assert shown(at).startswith("You have played for 25 minutes: rest your hands for five. Never force a stretch.")
        at.app.stint = replace(at.app.stint, seconds=76 * 60.0)
        await at.perform()
        assert shown(at).startswith("You have played for 76 minutes")
        await at.wait(REST - 10)
        assert shown(at)
        await at.wait(10)
        assert not shown(at)
        await at.perform()
        assert not shown(at)
        at.app.stint = replace(at.app.stint, seconds=26 * 60.0)
        await at.perform()
        assert shown(at).startswith("You have played for 26 minutes")


async def test_a_rest_that_was_not_taken_is_asked_for_in_the_next_drill_too(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        at.app.stint = Stint(25 * 60.0, at.now)
        await at.perform()
        await at.press("escape")
        assert at.screen == "TodayScreen"
        at.app.push_screen(drilling(step=TOGETHER)(at.app))
        await at.settle()
        assert shown(at).startswith("You have played for 25 minutes")
        at.app.action_go("hands")
        await at.settle()
        at.now += REST
        await at.press("escape")
        await at.wait(0.1)
        assert not shown(at)


async def test_hands_that_played_before_the_coach_was_begun_again_are_not_rested(
    desk: Desk, drilling: Drilling, evening: datetime
) -> None:
    """Half an hour in the log, up to two minutes ago."""
    music = open_music("wide-water")
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases, music.shapes)[0]
        for number in range(60):
            began = evening - timedelta(minutes=32) + timedelta(seconds=30 * number)
            log.record(new_entry(passage, "x", TOGETHER, "shaky", began=began, seconds=25.0, source="wide-water"))
    async with desk(drilling(step=TOGETHER)) as at:
        assert 29 < at.app.stint.seconds / 60 < 31
        assert not shown(at)
        await at.perform()
        assert shown(at).startswith("You have played for 30 minutes")


async def test_no_fingers_step_hides_them(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=NO_FINGERS)) as at:
        assert first_finger(at) not in at.text
        assert "no fingers" in at.text


async def test_fingers_shown_to_be_read_are_hidden_when_the_take_begins(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=NO_FINGERS)) as at:
        await at.press("up")
        assert first_finger(at) in at.text
        await at.strike(*sorted(at.drill.task.first_keys))
        assert first_finger(at) not in at.text


async def test_keys_that_came_up_behind_the_help_page_are_up(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.strike(40, 41)
        assert at.drill.state.down == {40, 41}
        await at.press("question_mark")
        await at.let_go(40, 41)
        await at.press("escape")
        assert at.drill.state.down == frozenset()


@pytest.mark.parametrize("opens", ["question_mark", "ctrl+p", "s"], ids=["help", "commands", "steps"])
async def test_a_chord_played_behind_another_page_is_in_the_take(desk: Desk, drilling: Drilling, opens: str) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        chords = [sorted(at.drill.task.keys_of(chord)) for chord in range(3)]
        drill = at.drill
        await at.strike(*chords[0])
        await at.let_go(*chords[0])
        await at.press(opens)
        assert at.screen != "DrillScreen"
        await at.wait(1.0)
        await at.strike(*chords[1])
        await at.let_go(*chords[1])
        await at.press("escape")
        assert at.drill is drill
        assert drill.state.here == drill.task.places.chords[2]


async def test_what_is_played_to_try_another_instrument_is_not_in_the_take(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        drill = at.drill
        at.app.action_go("instrument")
        await at.settle()
        await at.strike(*sorted(drill.task.first_keys))
        assert "Heard:" in at.text
        assert drill.state.phase == "ready"


async def test_after_another_hand_the_way_back_to_the_ladder_is_said_and_is_there(
    desk: Desk, drilling: Drilling
) -> None:
    async with desk(drilling()) as at:
        await at.press("l")
        await at.perform()
        assert "Solid. Next on the ladder: together (key s)." in at.text
        assert "left hand · chord by chord" in at.text
        await at.press("s", "enter")
        assert "both hands · chord by chord" in at.text


async def test_a_take_played_a_tone_off_is_answered_beside_the_verdict_before(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.perform()
        assert "The verdict is the last take's." not in at.text
        for chord in range(3):
            keys = [key - 2 for key in sorted(at.drill.task.keys_of(chord))]
            await at.strike(*keys)
            await at.let_go(*keys)
        assert "Solid." in at.text
        said = " ".join(at.text.split())
        assert "That is the first chord a whole tone too low." in said
        assert "Strike it again to be heard so. The verdict is the last take's." in said
        await at.strike(*sorted(at.drill.task.first_keys))
        assert "the last take's" not in at.text


async def test_an_octave_that_is_off_stands_in_the_verdict(desk: Desk, drilling: Drilling) -> None:
    said = "The keyboard is set an octave too low: it is heard where it belongs."
    async with desk(drilling(step=TOGETHER)) as at:
        played = perform(at.drill.task.expected, start=at.now + 0.1).events
        lower = [event if event.kind == "pedal" else replace(event, key=event.key - 12) for event in played]
        await at.hear(*lower[:6])
        assert said in at.text
        await at.hear(*lower[6:])
        await at.wait(2.0)
        assert at.drill.state.phase == "heard"
        assert at.text.count(said) == 1


async def test_without_a_keyboard_it_says_so_and_where_to_see_to_it(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        at.app.post_message(CoachApp.Linked(Link("nothing", "", "No MIDI keyboard found: plug one in.")))
        await at.settle()
        assert "No MIDI keyboard found: plug one in. ^p Instrument, or coach ports" in flowing(at.text)
        assert "Play the first chord" not in at.text
        at.app.post_message(CoachApp.Linked(Link("listening", "Piano", "Listening to Piano.")))
        await at.settle()
        assert "Play the first chord to begin." in at.text


async def test_the_beat_is_not_said_to_click_where_there_is_nothing_to_click_on(
    desk: Desk, drilling: Drilling, monkeypatch: Any
) -> None:
    monkeypatch.setattr("coach.paper.sound.ports", lambda direction: None)
    async with desk(drilling(), clicks=False) as at:
        await at.press("c")
        assert at.notes[-1] == "There is no MIDI output to click on: the beat is to be seen only."
        await at.press("c")
        assert at.notes[-1] == "The beat is silent."


LONG = (
    "bar 21, beat 2.5: the tenor (C#4) is missing; take it with the right second finger as planned",
    "bar 20, beat 4: the right hand stayed on the keys; lift all but C#4 and E4 before bar 21, beat 1 as planned",
    "after bar 21, beat 4 you went back to bar 20, beat 3; play the change that you went back from by itself, slowly",
)


@pytest.mark.parametrize("resting", [False, True])
@pytest.mark.parametrize("name", ["wide-water", "oars-at-dusk", "the-last-lantern"])
async def test_a_long_verdict_leaves_the_head_of_the_table_in_sight(
    desk: Desk, drilling: Drilling, name: str, resting: bool
) -> None:
    """The longest remarks that there are, on a keyboard an octave off, in a step with the beat counted, at 80x24, also
    where a rest is asked for: the bars and beats that the first remark speaks of head the table."""
    async with desk(drilling(name, step=STEPS_IN_TEMPO[2])) as at:
        if resting:
            at.app.stint = Stint(25 * 60.0, at.now)
        await at.perform(Mistakes(missing=0.3, wrong=0.3), seed=3)
        heard = at.app.screen.heard
        done = heard.done
        heard.done = replace(done, verdict=replace(done.verdict, remarks=LONG), shift=12)
        await at.settle()
        lines = at.text.splitlines()
        head = next(row for row, line in enumerate(lines) if line.startswith(" bar "))
        bar = done.match.expected.chords[done.verdict.remarked].bar
        assert str(bar) in lines[head].split()
        assert all(any(f" {voice} " in line for line in lines[head + 2 : head + 7]) for voice in "SATB")
        assert "The keyboard is set an octave too low" in at.text
        assert not resting or "rest your hands" in at.text


async def test_a_piece_that_is_gone_is_passed_over(desk: Desk, drilling: Drilling) -> None:
    def opening(app: CoachApp) -> DrillScreen:
        screen = drilling("wide-water")(app)
        return DrillScreen([replace(screen._round.items[0], name="gone.musicxml"), *screen._round.items[1:]], 0)

    async with desk(opening) as at:
        assert any("gone.musicxml" in note for note in at.notes)
        assert "Wide Water · phrase 2 of 4" in at.text


async def test_hands_changed_over_the_drill_change_its_plan(desk: Desk, drilling: Drilling) -> None:
    """The same phrase in the same way; what was played before is kept."""
    async with desk(drilling("the-bell-above-the-reeds", step=TOGETHER)) as at:
        await at.press("t")
        asked, before = at.app.screen.step, at.drill.task.plan
        at.app.action_go("hands")
        await at.settle()
        await at.press(*"170", "enter", *"170", "enter", "escape")
        await at.settle()
        assert at.screen == "DrillScreen"
        assert at.app.settings.left_span_mm == 170
        assert at.drill.task.plan.effort > before.effort
        assert at.app.screen.step == asked
        plan = at.drill.task.plan
        at.app.action_go("hands")
        await at.settle()
        await at.press("escape")
        await at.settle()
        assert at.drill.task.plan is plan


async def test_another_keyboard_chosen_over_the_drill_is_what_is_waited_for(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        at.app.action_go("hands")
        await at.settle()
        at.app.change_settings(keys=61)
        await at.press("escape")
        await at.settle()
        assert at.drill.task.keys == at.app.settings.compass
