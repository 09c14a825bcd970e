"""A whole take heard against a plan: the phrases that were played are found and judged one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from coach.fingering.plan import PhrasePlan, Side
from coach.listening.events import Metronome
from coach.listening.expected import ExpectedNote, Hand, expect
from coach.listening.findings import pedal
from coach.listening.hands import alone, shares
from coach.listening.matching import Match, match_take
from coach.listening.meant import silent
from coach.listening.pace import pace
from coach.listening.report import pedal_json, tempo_json
from coach.listening.setting import Half, half_off, moved, setting
from coach.listening.stretch import excerpt, stretch
from coach.listening.take import Take
from coach.listening.thresholds import AS_WELL, BELONGS, IN_PART, LEAST_KEYS, PLAYED
from coach.listening.verdict import Verdict, judge
from coach.listening.word import WORST_FIRST, Word


@dataclass(frozen=True)
class Heard:
    """One phrase of a take.

    Attributes:
        phrase: Its plan.
        verdict: The judgement.
    """

    phrase: PhrasePlan
    verdict: Verdict


@dataclass(frozen=True)
class Hearing:
    """A take heard against a plan.

    Attributes:
        match: The take as matched, against all the phrases it could have been.
        metronome: The clock it was played with, or None.
        heard: The phrases that were played, in their order in the piece.
        not_played: The phrases that were not, of those in which the hand has something to play.
        first: Index of the take's press that the match calls 0: where one phrase is judged, the stretch of the take
            in which it was played may begin later than the take.
        semitones: By how much all of the take sounded too high, negative for too low; it was judged where it belongs.
        half: The half of a split keyboard that sounded too high or too low; it was judged where it belongs.
        note_ons: The take's, see `Take`.
    """

    match: Match
    metronome: Metronome | None
    heard: tuple[Heard, ...]
    not_played: tuple[PhrasePlan, ...]
    first: int = 0
    semitones: int = 0
    half: Half | None = None
    note_ons: tuple[int, ...] = ()

    @property
    def word(self) -> Word:
        """The worst of the phrases' words; "weak" where nothing was recognised."""
        words = {heard.verdict.word for heard in self.heard}
        return next((word for word in WORST_FIRST if word in words), "weak")

    @property
    def fits(self) -> bool:
        """Whether the take is one of this piece at all, however badly played: half of its keys are notes of it, or half
        of a phrase sounded where half of the keys were its own, as where something else was played before."""
        match = self.match
        keys = len(match.strokes)
        if keys < LEAST_KEYS or len(match.note_of) >= BELONGS * keys:
            return True
        return any(_sounded(match, heard.verdict.findings.asked) >= BELONGS for heard in self.heard)

    @property
    def only_hand(self) -> Side | None:
        """The hand that played alone although both were expected, or None."""
        notes = [note for heard in self.heard for note in heard.verdict.findings.notes]
        return alone(shares(self.match, notes))

    def to_json(self) -> dict[str, Any]:
        """What `coach check --json` prints.

        The lists of a take of several phrases are those of the phrases one after the other; `phrases` has each by
        itself. `semitones_too_high`, negative for too low, is there only where the keyboard was set elsewhere, and
        `half_too_high`, with the channel counted from 1, where one half of a split keyboard was.
        """
        note_ons = (self.note_ons or range(self.first + len(self.match.strokes)))[self.first :]
        single = [
            {
                "number": heard.phrase.number,
                "bars": list(heard.phrase.bars),
                **heard.verdict.to_json(note_ons),
            }
            for heard in self.heard
        ]
        whole: dict[str, Any] = {"verdict": self.word}
        if self.semitones:
            whole["semitones_too_high"] = self.semitones
        elif self.half is not None:
            whole["half_too_high"] = {"channel": self.half.channel + 1, "semitones": self.half.semitones}
        for field in ("remarks", "notes", "extra", "lifts", "holds", "smears", "chords", "fingers", "jumps"):
            whole[field] = [entry for form in single for entry in form[field]]
        chords = [number for heard in self.heard for number in heard.verdict.findings.chords]
        within = range(min(chords), max(chords) + 1) if chords else range(0)
        whole["tempo"] = tempo_json(pace(self.match, self.metronome, within), self.match.expected)
        whole["pedal"] = pedal_json(pedal(self.match, within))
        whole["phrases"] = single
        return whole


def hear(
    phrases: Sequence[PhrasePlan], take: Take, hand: Hand = "both", *, only: int | None = None, timed: bool = True
) -> Hearing:
    """Judge a take.

    Args:
        phrases: The phrases of the piece; one alone is judged whatever was played.
        take: The take.
        hand: Which hand played.
        only: Number of the one phrase to judge. It is looked for in a take of several; where others explain the take
            better, it is judged on the stretch of the take that fits it.
        timed: Whether waiting and unevenness count.
    """
    match = match_take(expect(phrases, hand), take.events)
    semitones = setting(match, take.events)
    if semitones:
        take = replace(take, events=moved(take.events, -semitones))
        match = match_take(match.expected, take.events)
    half = half_off(match, take.events) if not semitones else None
    if half is not None:
        take = replace(take, events=moved(take.events, -half.semitones, half.channel))
        match = match_take(match.expected, take.events)
    hearing = _heard(match, phrases, take, hand, only, timed)
    return replace(hearing, semitones=semitones, half=half, note_ons=take.note_ons)


def _heard(
    match: Match, phrases: Sequence[PhrasePlan], take: Take, hand: Hand, only: int | None, timed: bool
) -> Hearing:
    """Judge a take that sounds where it is written, as matched to all the phrases."""
    played = [phrase for phrase in phrases if len(phrases) == 1 or _played(match, phrase)]
    wanted = [phrase for phrase in phrases if only in (None, phrase.number)]
    if only is not None and len(phrases) > 1 and (wanted[0] not in played or played == wanted):
        alone = _alone(wanted[0], take, hand, timed)
        # Another phrase may be the same music; one that explains the take much worse was not played.
        if len(alone.match.note_of) >= AS_WELL * len(match.note_of):
            return alone
        if wanted[0] not in played:
            part = _in_part(wanted[0], take, alone.match, match, hand, timed)
            if part is not None:
                return part
    heard = tuple(
        Heard(phrase, judge(match, take.metronome, timed=timed, chords=match.expected.range_of(phrase.number)))
        for phrase in played
        if phrase in wanted
    )
    not_played = tuple(phrase for phrase in wanted if phrase not in played and match.expected.range_of(phrase.number))
    return Hearing(match, take.metronome, heard, not_played)


def _alone(phrase: PhrasePlan, take: Take, hand: Hand, timed: bool) -> Hearing:
    """A take judged as one phrase, whatever was played."""
    return _heard(match_take(expect((phrase,), hand), take.events), (phrase,), take, hand, None, timed)


def _in_part(phrase: PhrasePlan, take: Take, alone: Match, match: Match, hand: Hand, timed: bool) -> Hearing | None:
    """A phrase judged on the stretch of a take that fits it, or None where none does.

    Args:
        phrase: The phrase.
        take: The take.
        alone: All of it matched to this phrase alone.
        match: All of it matched to all the phrases.
        hand: Which hand played.
        timed: Whether waiting and unevenness count.
    """
    presses = stretch(alone)
    part = _alone(phrase, excerpt(take, presses), hand, timed)
    if part.match.note_of and len(trimmed := _trimmed(presses, part.match)) < len(presses):
        presses = trimmed
        part = _alone(phrase, excerpt(take, presses), hand, timed)
    asked = [note for chord in part.match.expected.chords for note in part.match.expected.asked(chord.number)]
    sounded = len(asked) - sum(len(silent(part.match, chord.number)) for chord in part.match.expected.chords)
    others = sum(press in match.note_of for press in presses)
    if sounded < IN_PART * len(asked) or len(part.match.note_of) < AS_WELL * others:
        return None
    return replace(part, first=presses.start)


def _trimmed(presses: range, match: Match) -> range:
    """A stretch without the keys at its ends that are no notes of its phrase: they belong to what lies around it."""
    return range(presses.start + min(match.note_of), presses.start + max(match.note_of) + 1)


def _sounded(match: Match, asked: Sequence[ExpectedNote]) -> float:
    """Share of some notes that sounded, or of the keys from their first to their last that are notes of the piece,
    whichever is less."""
    presses = [press for note in asked if (press := match.press_of(note)) is not None]
    if not presses:
        return 0.0
    among = range(min(presses), max(presses) + 1)
    own = sum(press in match.note_of for press in among)
    return min(len(presses) / len(asked), own / len(among))


def _played(match: Match, phrase: PhrasePlan) -> bool:
    chords = match.expected.range_of(phrase.number)
    struck = sum(chord in match.last_visits for chord in chords)
    return len(chords) > 0 and struck >= PLAYED * len(chords)
