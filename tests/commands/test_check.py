"""coach check on real files: a corpus chorale and takes of the simulated pianist."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

import mido
import pytest
from intonation import INTONATION

from coach.cli import main
from coach.fingering.search import Options
from coach.listening.events import Event
from coach.listening.expected import expect
from coach.listening.player import Mistakes, perform
from coach.listening.take import Take, write_take
from coach.practice.music import open_music

CHORALE = "corpus:bach/bwv269"


@pytest.fixture(autouse=True)
def _own_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))


@pytest.fixture
def takes(tmp_path: Path) -> dict[str, Path]:
    """A faultless take of phrases 2 and 3, and one with mistakes of the whole piece."""
    phrases = open_music(CHORALE).plan.phrases
    found = {"two": tmp_path / "two.mid", "whole": tmp_path / "whole.mid"}
    write_take(Take(perform(expect(phrases[1:3]), seed=1).events), found["two"])
    mistakes = Mistakes(wrong=0.03, missing=0.03, no_lift=0.1)
    write_take(Take(perform(expect(phrases), mistakes=mistakes, seed=2).events), found["whole"])
    return found


def test_a_take_is_told_in_words(takes: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", CHORALE, str(takes["two"])]) == 0
    said = capsys.readouterr().out
    assert "Phrase 2, bars 4 to 7: solid" in said
    assert "Phrase 3, bars 7 to 10: solid" in said
    assert "Not played: phrases 1, 4 to 6." in said


def test_a_take_is_told_as_json(takes: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", CHORALE, str(takes["whole"]), "--json"]) == 0
    form = json.loads(capsys.readouterr().out)
    assert [phrase["number"] for phrase in form["phrases"]] == [1, 2, 3, 4, 5, 6]
    assert form["verdict"] in ("shaky", "weak")
    assert form["tempo"]["quarter_bpm"] == pytest.approx(72, rel=0.05)


def recorded(events: tuple[Event, ...], path: Path, *, later: float, up: int = 0) -> list[int]:
    """Write a take as an instrument with a second sound on channel 2 and drums on channel 10 records it.

    Returns:
        The keys of its note-ons in file order, with channel 10 as -1.
    """
    messages = []
    for event in events:
        status = {"press": 0x90, "release": 0x80}[event.kind]
        for channel in (0, 1):
            key = event.key + channel * up
            messages.append((event.seconds + channel * later, [status | channel, key, event.value]))
    last = events[-1].seconds
    messages += [(beat * 0.4, [0x99, 36, 90]) for beat in range(int(last / 0.4))]
    messages.sort(key=lambda each: each[0])
    track, before = mido.MidiTrack(), 0
    for seconds, data in messages:
        track.append(mido.Message.from_bytes(data, time=round(seconds * 1000) - before))
        before = round(seconds * 1000)
    score = mido.MidiFile(type=0, ticks_per_beat=500)
    score.tracks.append(track)
    score.save(path)
    return [-1 if data[0] == 0x99 else data[1] for _, data in messages if data[0] & 0xF0 == 0x90 and data[2] > 0]


@pytest.mark.parametrize(("later", "up"), [(0.0, 0), (0.001, 0), (0.008, 0), (0.03, 0), (0.001, 12), (0.001, -12)])
def test_a_layered_recording_with_drums_is_the_take_that_was_played(
    later: float, up: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Presses are counted by the note-ons of the file, whichever of them were heard as strokes."""
    phrases = open_music("the-lamp-at-the-landing").plan.phrases[1:2]
    events = perform(expect(phrases), mistakes=Mistakes(extra=0.1), seed=5, start=1.0).events
    single = [event.key for event in events if event.kind == "press"]
    doubled = recorded(events, tmp_path / "layered.mid", later=later, up=up)
    write_take(Take(events), tmp_path / "plain.mid")
    forms = []
    for name in ("layered.mid", "plain.mid"):
        assert main(["check", "the-lamp-at-the-landing", str(tmp_path / name), "--phrase", "2", "--json"]) == 0
        forms.append(json.loads(capsys.readouterr().out))
    layered, plain = forms
    assert (layered["verdict"], layered["remarks"]) == (plain["verdict"], plain["remarks"])
    assert all(doubled[note["played"]] == note["midi"] for note in layered["notes"])
    assert [doubled[press] for press in layered["extra"]] == [single[press] for press in plain["extra"]]
    assert plain["extra"]


def test_one_phrase_of_a_take(takes: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", CHORALE, str(takes["two"]), "--phrase", "3"]) == 0
    assert capsys.readouterr().out.startswith("Phrase 3, bars 7 to 10: solid")


def test_a_hand_that_rests_is_not_called_solid(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tune, left = tmp_path / "intonation.abc", tmp_path / "left.mid"
    tune.write_text(INTONATION)
    write_take(Take(perform(expect(open_music(str(tune)).plan.phrases, "left"), seed=1).events), left)
    assert main(["check", str(tune), str(left), "--hand", "left", "--phrase", "1"]) == 2
    assert "the left hand has nothing to play in phrase 1" in capsys.readouterr().err
    assert main(["check", str(tune), str(left), "--hand", "left"]) == 0
    said = capsys.readouterr().out
    assert "Phrase 2, bars 3 to 4: solid" in said
    assert "Not played" not in said


def test_one_hand_of_a_take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    left = tmp_path / "left.mid"
    write_take(Take(perform(expect(open_music(CHORALE).plan.phrases[1:2], "left"), seed=1).events), left)
    assert main(["check", CHORALE, str(left), "--phrase", "2", "--hand", "left", "--json"]) == 0
    form = json.loads(capsys.readouterr().out)
    assert form["verdict"] == "solid"
    assert {note["hand"] for note in form["notes"]} == {"left"}
    assert all(note["played"] is not None for note in form["notes"])


@pytest.mark.parametrize("hands", ["as-written", "planned"])
def test_a_hand_is_judged_by_the_staff_that_is_written_for_it_where_that_is_asked_for(
    hands: Literal["as-written", "planned"], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The left hand plays tenor and bass as they stand on their staff; the plan gives the tenor to the right hand."""
    left = tmp_path / "left.mid"
    written = open_music(CHORALE, options=Options(hands="as-written")).plan.phrases[1:2]
    write_take(Take(perform(expect(written, "left"), seed=1).events), left)
    command = ["check", CHORALE, str(left), "--phrase", "2", "--hand", "left", "--hands", hands, "--json"]
    assert main(command) == 0
    form = json.loads(capsys.readouterr().out)
    as_written = hands == "as-written"
    assert {note["voice"] for note in form["notes"]} == ({"tenor", "bass"} if as_written else {"bass"})
    assert (form["verdict"] == "solid") == as_written


def test_a_take_of_quite_another_piece_is_not_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lantern.mid"
    write_take(Take(perform(expect(open_music("the-last-lantern").plan.phrases), seed=1).events), path)
    assert main(["check", "wide-water", str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert f'"{path}" does not fit "Wide Water": ' in printed.err
    assert "keys are notes of it" in printed.err
    assert main(["check", "the-last-lantern", str(path)]) == 0


@pytest.mark.parametrize("name", ["wide-water", "oars-at-dusk", "between-two-banks"])
def test_a_bad_take_of_the_piece_is_judged(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One key in five wrong, one note in seven missing, as many keys added."""
    bad = Mistakes(wrong=0.2, missing=0.15, extra=0.15, late=0.1)
    write_take(Take(perform(expect(open_music(name).plan.phrases), mistakes=bad, seed=3).events), tmp_path / "bad.mid")
    assert main(["check", name, str(tmp_path / "bad.mid")]) == 0
    assert "weak" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([CHORALE, "no such take.mid"], "cannot find the take"),
        ([CHORALE, __file__], "is not a MIDI file"),
        (["no such piece", "TAKE"], "no such piece"),
        ([CHORALE, "TAKE", "--phrase", "99"], "99"),
        ([CHORALE, "OTHER"], "could be recognised"),
    ],
    ids=["no take", "no MIDI file", "no piece", "no phrase", "another piece"],
)
def test_bad_input_gets_one_sentence(
    words: list[str], said: str, takes: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other.mid"
    write_take(Take((Event(0.0, "press", 22, 64), Event(0.5, "release", 22, 0))), other)
    places = {"TAKE": str(takes["two"]), "OTHER": str(other)}
    assert main(["check", *(places.get(word, word) for word in words)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("coach: ")
    assert printed.err.count("\n") == 1
    assert said in printed.err
