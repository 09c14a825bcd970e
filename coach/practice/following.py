"""What follows a take that was just recorded: the same again, another step, a change by itself, the next passage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.listening.take import Take
from coach.listing import capital
from coach.practice.attempt import Done
from coach.practice.changes import to_drill
from coach.practice.entry import Entry, Fault
from coach.practice.ladder import Place, Step, after, learned, next_step
from coach.practice.music import Music
from coach.practice.passage import Passage
from coach.practice.progress import Progress
from coach.practice.replanning import is_played
from coach.practice.schedule import Row
from coach.practice.session import asked_of, is_done
from coach.score.counting import bar_words

if TYPE_CHECKING:
    from coach.practice.log import Log


@dataclass(frozen=True, slots=True)
class Following:
    """What to play after a take.

    Attributes:
        passage: What.
        step: How.
        said: Why, in a few words; "" when nothing changes.
        moved: It is another step or another passage than before.
        finished: Nothing more of this passage for now: what comes next is up to the day's list.
    """

    passage: Passage
    step: Step
    said: str
    moved: bool
    finished: bool = False


def after_keeping(
    log: Log, done: Done, music: Music, entry: Entry, home: Passage, row: Row | None, spent: float
) -> Following:
    """Keep a take, and find out what follows it; the disk takes its time, so a thread does this.

    Args:
        log: Where it is kept.
        done: The take.
        music, entry, home, row, spent: See `after_take`.

    Raises:
        CoachError: the log cannot be written.
    """
    log.keep(Take(done.events, done.metronome), entry)
    return after_take(music, entry, home, log, row, spent)


def after_take(
    music: Music, entry: Entry, home: Passage, log: Log, row: Row | None = None, spent: float = 0.0
) -> Following:
    """What to play after a take that was just recorded.

    Args:
        music: The piece.
        entry: The take: of the passage that is being practised, or of a change in it drilled on its own.
        home: The passage that is being practised.
        log: The log that the take was recorded in.
        row: The line of today's practice that it is played for, if any.
        spent: Minutes spent on that line so far.
    """
    progress, steps = log.progress(home), log.steps(home)
    if row is not None and row.kind == "anew" and is_played(log, home):
        said = f"{capital(home.label)} was played with its other fingers."
        return Following(home, next_step(steps, progress.place), said, True, True)
    following = decide(music, entry, home, progress, steps, row)
    if row is None or entry.chosen or following.finished:
        return following
    if not is_done(row, steps, progress, spent, entry.day):
        mends = entry.verdict == "shaky" and row.kind in ("review", "again") and following.passage == home
        return replace(following, said="Once more.") if mends and not following.moved else following
    if row.change is not None:
        said = _of_the_change(row.change, progress)
    elif row.kind == "again" and progress.standing == "solid":
        said = f"{capital(home.label)} {'stand' if home.kind == 'join' else 'stands'} solid."
    elif row.kind == "review":
        said = f"{capital(home.label)} {'are' if home.kind == 'join' else 'is'} reviewed."
    else:
        said = f"Enough of {home.label} for today."
    return replace(following, said=said, moved=True, finished=True)


def decide(
    music: Music, entry: Entry, home: Passage, progress: Progress, steps: tuple[Step, ...], row: Row | None = None
) -> Following:
    """What to play next from the history of the passage that is being practised; see `after_take`."""
    trouble = None if entry.chosen else to_drill(progress.troubles)
    passage, step = asked_of(music, home, trouble, steps, progress, row)
    if trouble and passage != home:
        if entry.passage != passage:
            said = f"The change in {bar_words(trouble.fault.bar)} keeps failing: play it on its own."
            return Following(passage, step, said, True)
        if step.name == entry.step.name:
            return Following(passage, step, _once_more(trouble.place, trouble.steps, entry), False)
        return Following(passage, step, f"Next: {step.name}.", True)
    if entry.chosen and entry.passage != home:
        return Following(home, step, _on_the_ladder(step, entry, music), False)
    if entry.passage.kind == "change" and home.kind != "change":
        return Following(home, step, f"The change is mended. Back to {home.label}: {step.name}.", True)
    below = step != next_step(steps, progress.place)
    waits = learned(steps, progress.place) and (step.days_apart > 0 or below)
    if waits and (entry.verdict == "solid" or step.name != entry.step.name):
        rests = "rest" if home.kind == "join" else "rests"
        return Following(home, step, f"{capital(home.label)} {rests} until another day.", True, True)
    if entry.chosen and step.name != entry.step.name:
        return Following(home, step, _on_the_ladder(step, entry, music), False)
    if step.name == entry.step.name:
        return Following(home, step, _once_more(progress.place, steps, entry), False)
    return Following(home, step, f"{'Next' if entry.verdict == 'solid' else 'Back to'}: {step.name}.", True)


def _of_the_change(fault: Fault, progress: Progress) -> str:
    """What is said of the change that a line of the day was there for, when the line is done; others may have been
    drilled after it."""
    place = (fault.onset, fault.hand)
    fails = any(one.drilled and (one.fault.onset, one.fault.hand) == place for one in progress.troubles)
    which = f"the change in {bar_words(fault.bar)}"
    return f"Enough of {which} for today." if fails else f"{capital(which)} is mended."


def _on_the_ladder(step: Step, entry: Entry, music: Music) -> str:
    """What to say of a solid take in a way that the player chose: where the ladder goes on, and how to get there; ""
    for some voices alone, which climb no ladder."""
    return f"Next on the ladder: {step.name} (key s)." if entry.verdict == "solid" and not music.letters else ""


def _once_more(place: Place, steps: tuple[Step, ...], entry: Entry) -> str:
    """What to say of a solid take that did not pass its step: that another one will, where it will; else ""."""
    passes = entry.verdict == "solid" and after(place, steps, entry).index > place.index
    return "Once more like this and it is passed." if passes else ""
