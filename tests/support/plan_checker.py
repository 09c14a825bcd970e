"""Whether a plan can be played: a second opinion that shares no code with the planner.

It reads the JSON form of a plan and the notes of the score, knows its own keyboard and its own table of spans, and says
in one sentence each what no pianist could do or what the page does not say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise
from typing import Any, Protocol

from ruler import HAND_BEHIND_KEYS_MM, PRACTICAL_SEMITONES, Player, is_black, midi_of

SLACK_MM = 0.3
"""Keys of different makers differ by more than this."""

MOMENT = 1e-6
"""Quarter notes that are no time at all."""

SIDES = ("right", "left")


class ScoreNote(Protocol):
    """What the checker reads of a note of the score."""

    @property
    def voice(self) -> str: ...
    @property
    def onset(self) -> Any: ...
    @property
    def duration(self) -> Any: ...
    @property
    def midi(self) -> int: ...
    @property
    def staff(self) -> int: ...


def faults(
    plan: Mapping[str, Any],
    notes: Iterable[ScoreNote],
    *,
    as_written: bool = False,
    player: Player | None = None,
) -> list[str]:
    """Everything that is wrong with a plan, a sentence each; empty where all is well.

    Args:
        plan: The JSON form of a plan.
        notes: The notes of the score that it must hold, all of them.
        as_written: The staves are the hands'.
        player: The hands it is for; two of the plan's span by default.
    """
    span = plan["hand"]["span_mm"]
    check = _Check(player or Player(span, span), as_written)
    score = list(notes)
    check.whole(plan, score)
    for phrase in plan["phrases"]:
        check.phrase(phrase)
    if as_written:
        check.staves(plan, score)
    return check.found


class _Check:
    def __init__(self, player: Player, as_written: bool) -> None:
        self.player = player
        self.as_written = as_written
        self.found: list[str] = []
        self.where = ""

    def fault(self, text: str) -> None:
        self.found.append(f"{self.where}: {text}")

    # The page.

    def whole(self, plan: Mapping[str, Any], score: Sequence[ScoreNote]) -> None:
        """Every note of the score is struck once and stands in each chord that it sounds through."""
        self.where = "the plan"
        hand = plan["hand"]
        if abs(hand["reach_mm"] - (hand["span_mm"] - HAND_BEHIND_KEYS_MM)) > SLACK_MM:
            self.fault(f"a hand of {hand['span_mm']} mm does not reach {hand['reach_mm']} mm")
        if abs(plan["effort"] - sum(phrase["effort"] for phrase in plan["phrases"])) > 1e-3:
            self.fault("its effort is not the sum of its phrases'")
        if [phrase["number"] for phrase in plan["phrases"]] != sorted({p["number"] for p in plan["phrases"]}):
            self.fault("its phrases are not in order")
        chords = [chord for phrase in plan["phrases"] for chord in phrase["chords"]]
        struck = Counter(_identity(note) for chord in chords for note in chord["notes"] if note["struck"])
        wanted = Counter((n.voice, float(n.onset), float(n.duration), n.midi) for n in score)
        for voice, onset, _, midi in wanted - struck:
            self.fault(f"{voice} {midi} at {onset} is not struck")
        for voice, onset, _, midi in struck - wanted:
            self.fault(f"{voice} {midi} at {onset} is struck but not in the score")
        if sorted({float(note.onset) for note in score}) != [chord["onset"] for chord in chords]:
            self.fault("its chords do not start where the notes of the score do")
        for chord in chords:
            self.where = f"chord at {chord['onset']}"
            sounding = Counter(
                (n.voice, float(n.onset), float(n.duration), n.midi)
                for n in score
                if float(n.onset) <= chord["onset"] + MOMENT < float(n.onset + n.duration)
            )
            there = Counter(_identity(note) for note in chord["notes"])
            for voice, *_ in sounding - there:
                self.fault(f"the {voice} sounds but is not there")
            for voice, *_ in there - sounding:
                self.fault(f"the {voice} is there but does not sound")

    def staves(self, plan: Mapping[str, Any], score: Sequence[ScoreNote]) -> None:
        """As written, every note is played by the hand whose staff it is on."""
        staff = {(n.voice, float(n.onset), float(n.duration), n.midi): n.staff for n in score}
        for phrase in plan["phrases"]:
            for chord in phrase["chords"]:
                self.where = f"chord at {chord['onset']}"
                for note in chord["notes"]:
                    written = {1: "right", 2: "left"}.get(staff.get(_identity(note), 0))
                    if note["hand"] is not None and written not in (None, note["hand"]):
                        self.fault(f"{note['voice']} {note['pitch']} is written for the {written} hand")
                    if note["struck"] and note["hand"] is None:
                        self.fault(f"{note['voice']} {note['pitch']} is left out")

    # A phrase.

    def phrase(self, phrase: Mapping[str, Any]) -> None:
        chords = phrase["chords"]
        self.where = f"phrase {phrase['number']}"
        if not chords:
            self.fault("it has no chords")
            return
        if not phrase["why_it_ends"]:
            self.fault("it does not say why it ends")
        if not 0 <= phrase["effort"] < 1e9:
            self.fault(f"an effort of {phrase['effort']}")
        if not phrase["onset"] <= chords[0]["onset"] <= chords[-1]["onset"] < phrase["end"]:
            self.fault("its chords lie outside it")
        if phrase["bars"][0] != chords[0]["bar"] or phrase["bars"][1] < chords[-1]["bar"]:
            self.fault("its bars are not those of its chords")
        ends = [chord["onset"] for chord in chords[1:]] + [phrase["end"]]
        for chord, end in zip(chords, ends, strict=True):
            self.where = f"phrase {phrase['number']}, chord at {chord['onset']}"
            if abs(chord["onset"] + chord["duration"] - end) > MOMENT:
                self.fault("it does not last to the next chord")
            self.chord(chord)
        for before, after in pairwise(chords):
            self.where = f"phrase {phrase['number']}, from {before['onset']} to {after['onset']}"
            self.held(before, after)
            for side in SIDES:
                self.leaving(side, before, after)
        self.where = f"phrase {phrase['number']}"
        if any(_end(note) > phrase["end"] + MOMENT for note in chords[-1]["notes"]):
            self.fault("a note sounds on after its end")
        for side in SIDES:
            self.groups(side, chords)

    def groups(self, side: str, chords: Sequence[Mapping[str, Any]]) -> None:
        """The phrase ends in a lift, and a hand's groups count up from one after each lift."""
        last = chords[-1][side]
        if last is not None and last["after"] != "end":
            self.fault(f"the {side} hand does not lift at its end")
        if any(chord[side] and chord[side]["after"] == "end" for chord in chords[:-1]):
            self.fault(f"the {side} hand ends before the phrase does")
        group = 1
        for chord in chords:
            part = chord[side]
            if part is None:
                continue
            if part["after"] not in ("join", "restrike", "lift", "end"):
                self.fault(f"the {side} hand leaves by {part['after']!r}")
            if part["group"] != group:
                self.fault(f"at {chord['onset']} the {side} hand's group is {part['group']}, not {group}")
            group += part["after"] == "lift"

    # A chord.

    def chord(self, chord: Mapping[str, Any]) -> None:
        notes = chord["notes"]
        count = {side: sum(note["hand"] == side for note in notes) for side in SIDES}
        if chord["distribution"] != f"{count['right']}+{count['left']}":
            self.fault(f"{chord['distribution']} is not the distribution of its notes")
        written = [note["written_midi"] for note in notes]
        if written != sorted(written, reverse=True):
            self.fault("its notes do not go from high to low")
        for note in notes:
            self.note(note, chord)
        hands = {side: _keys(notes, side) for side in SIDES}
        if not self.as_written and hands["right"] and hands["left"] and min(hands["right"]) <= max(hands["left"]):
            self.fault("the hands cross")
        for side in SIDES:
            if (chord[side] is None) != (count[side] == 0):
                self.fault(f"the {side} hand's part does not fit its {count[side]} notes")
            self.grip(side, chord)

    def note(self, note: Mapping[str, Any], chord: Mapping[str, Any]) -> None:
        name = f"{note['voice']} {note['pitch']}"
        if note["struck"] != (abs(note["onset"] - chord["onset"]) < MOMENT):
            self.fault(f"{name} is not struck where it starts")
        if (note["hand"] is None) != (note["finger"] is None):
            self.fault(f"{name} has a hand without a finger, or a finger without a hand")
        if note["hand"] not in (None, *SIDES) or note["finger"] not in (None, 1, 2, 3, 4, 5):
            self.fault(f"{name} is given to {note['hand']} {note['finger']}")
        if midi_of(note["pitch"]) != note["midi"]:
            self.fault(f"{name} is not key {note['midi']}")
        if note["hand"] is None and not note["why"]:
            self.fault(f"{name} is not played and no reason is given")
        if note["midi"] != note["written_midi"]:
            if self.as_written or note["midi"] != note["written_midi"] + 12:
                self.fault(f"{name} is moved from {note['written_midi']} to {note['midi']}")
            if note["struck"] and not note["why"]:
                self.fault(f"{name} is raised and no reason is given")
        if note["struck"] and (note["midi"] != note["written_midi"] or note["hand"] is None):
            if self.as_written:
                self.fault(f"{name} is written and not played")
            others = [other for other in chord["notes"] if other["struck"] or other["hand"] is not None]
            keys = [other["written_midi"] if other["struck"] else other["midi"] for other in others]
            if not min(keys) < note["written_midi"] < max(keys):
                self.fault(f"{name} is an outer note and must be played as written")
            if note["midi"] >= max(keys) and note["midi"] != note["written_midi"]:
                self.fault(f"{name} is raised to the top voice or above it")

    def grip(self, side: str, chord: Mapping[str, Any]) -> None:
        """Fingers in the order of keys, one key a finger, every pair within the hand."""
        mine = _fingered(chord, side)
        fingers: dict[int, int] = {}
        for note in mine:
            if fingers.setdefault(note["midi"], note["finger"]) != note["finger"]:
                self.fault(f"two fingers of the {side} hand on {note['pitch']}")
        keys = sorted(fingers, reverse=side == "left")
        held = {note["midi"] for note in mine if not note["struck"]}
        rolled = any(note["rolled"] for note in mine)
        if rolled:
            if any(note["rolled"] != note["struck"] for note in mine):
                self.fault(f"the {side} hand rolls some of its notes")
            if len({note["midi"] for note in mine if note["struck"]}) < 2:
                self.fault(f"the {side} hand rolls a single key")
        for low, high in pairwise(keys):
            free = rolled and len(keys) > 5 and low not in held and high not in held
            if fingers[low] == fingers[high] and not free:
                thumb = fingers[low] == 1 and not is_black(low) and not is_black(high) and abs(high - low) <= 2
                if not thumb:
                    self.fault(f"finger {fingers[low]} of the {side} hand on two keys")
            elif fingers[low] > fingers[high]:
                self.fault(f"fingers {fingers[low]} and {fingers[high]} of the {side} hand cross")
        if len(keys) > 2 and [fingers[key] for key in keys].count(1) > 2 and not (rolled and len(keys) > 5):
            self.fault(f"the thumb of the {side} hand on three keys")
        for low, high in combinations(keys, 2):
            # Rolled keys need not be spanned, but a key that is held must be while others are rolled.
            if not rolled or low in held or high in held:
                self.pair(side, low, high, fingers)

    def pair(self, side: str, low: int, high: int, fingers: Mapping[int, int]) -> None:
        apart = self.player.apart_mm(low, high)
        if apart > self.player.reach_mm(side) + SLACK_MM:
            self.fault(f"the {side} hand must span {apart:.1f} mm, keys {low} and {high}")
        one, other = fingers[low], fingers[high]
        if one == other:
            return
        if apart > self.player.widest_mm(side, one, other) + SLACK_MM:
            self.fault(f"fingers {one}-{other} of the {side} hand must span {apart:.1f} mm, keys {low} and {high}")
        if abs(high - low) < PRACTICAL_SEMITONES[min(one, other), max(one, other)][0]:
            self.fault(f"fingers {one}-{other} of the {side} hand are cramped, keys {low} and {high}")

    # From one chord to the next.

    def held(self, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
        """A note that sounds on keeps its key, hand and finger, or is let go."""
        earlier: dict[tuple[str, float, float, int], list[Mapping[str, Any]]] = {}
        for note in before["notes"]:
            earlier.setdefault(_identity(note), []).append(note)
        for note in after["notes"]:
            if note["struck"]:
                continue
            name = f"{note['voice']} {note['pitch']}"
            was = earlier.get(_identity(note), [])
            if not was:
                self.fault(f"{name} is held but was not there")
                continue
            if note["hand"] is None:
                if any(one["midi"] == note["midi"] for one in was):
                    continue
            elif any(one["midi"] == note["midi"] and one["hand"] == note["hand"] for one in was):
                if any(one["finger"] == note["finger"] for one in was):
                    continue
                self.fault(f"{name} is held by {was[0]['finger']} and then by {note['finger']}")
                continue
            self.fault(f"{name} is held by {was[0]['hand']} on {was[0]['midi']} and then by {note['hand']}")

    def leaving(self, side: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
        """What `after` says can be done."""
        if before[side] is None:
            return
        kind = before[side]["after"]
        mine, then = _fingered(before, side), _fingered(after, side)
        if not mine:
            return
        kept = [note for note in then if not note["struck"]]
        if not then:
            if kind != "lift":
                self.fault(f"the {side} hand has nothing to play next and does not lift")
            return
        outward = 1 if side == "right" else -1
        outer = max(mine, key=lambda note: note["midi"] * outward)
        next_outer = max(then, key=lambda note: note["midi"] * outward)
        if kind == "lift":
            # A hand that holds a note over cannot leave the keys: it may only lift its outer finger, and says so.
            if kept and (outer["midi"] == next_outer["midi"] or not next_outer["struck"]):
                self.fault(f"the {side} hand lifts while it holds {kept[0]['pitch']}")
            if kept and "held" not in before[side]["why"]:
                self.fault(f"the {side} hand lifts and does not say that {kept[0]['pitch']} is held")
            return
        on_outer = [note for note in mine if note["midi"] == outer["midi"]]
        waits = max(_end(note) for note in on_outer) < after["onset"] - MOMENT
        struck_again = any(note["struck"] for note in then if note["midi"] == next_outer["midi"])
        same_key = outer["midi"] == next_outer["midi"]
        if kind == "restrike":
            if not (same_key and struck_again):
                self.fault(f"the {side} hand is to strike {outer['pitch']} again, which is not there")
        elif same_key and struck_again and any(note["struck"] for note in then):
            self.fault(f"the {side} hand joins where {outer['pitch']} is struck again")
        if kept:
            if waits:
                return
        elif waits:
            self.fault(f"the {side} hand stays on the keys through a rest")
        elif any(note["rolled"] for note in mine):
            self.fault(f"the {side} hand stays on the keys of a rolled chord")
        if kind == "join" and not same_key and struck_again and not waits:
            self.connects(side, outer, then)

    def connects(self, side: str, outer: Mapping[str, Any], then: Sequence[Mapping[str, Any]]) -> None:
        """The outer finger can stay on its key until the next chord is down."""
        finger, key = outer["finger"], outer["midi"]
        outward = 1 if side == "right" else -1
        for note in then:
            if note["midi"] == key:
                if note["struck"]:
                    self.fault(f"the {side} hand is to connect {outer['pitch']}, which is struck again")
                continue
            other = note["finger"]
            if other == finger:
                self.fault(
                    f"finger {finger} of the {side} hand is to connect {outer['pitch']} and play {note['pitch']}"
                )
                continue
            sign = outward if other > finger else -outward
            apart = (self.player.x_mm(note["midi"]) - self.player.x_mm(key)) * sign
            semitones = (note["midi"] - key) * sign
            least = PRACTICAL_SEMITONES[min(finger, other), max(finger, other)][0]
            if apart > self.player.widest_mm(side, finger, other) + SLACK_MM or semitones < least:
                self.fault(f"{finger}-{other} of the {side} hand cannot connect {outer['pitch']} and {note['pitch']}")


def _identity(note: Mapping[str, Any]) -> tuple[str, float, float, int]:
    return note["voice"], note["onset"], note["duration"], note["written_midi"]


def _end(note: Mapping[str, Any]) -> float:
    return float(note["onset"] + note["duration"])


def _fingered(chord: Mapping[str, Any], side: str) -> list[Mapping[str, Any]]:
    """What a hand plays; a note without a proper finger is reported by itself."""
    return [note for note in chord["notes"] if note["hand"] == side and note["finger"] in (1, 2, 3, 4, 5)]


def _keys(notes: Sequence[Mapping[str, Any]], side: str) -> list[int]:
    return [note["midi"] for note in notes if note["hand"] == side]
