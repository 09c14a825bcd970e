"""Eight weeks of a simulated learner: guided by the coach against going round everything in order, in one run.

python tests/bench/bench_learner.py [--seeds N] [--weeks N] [--minutes N] [--half-life DAYS]

Ten chorales of music21's corpus, 25 minutes a day. Both learners practise the same passages (phrases, joined phrases,
whole pieces) on the same ladder, at most the same minutes at a time; only what comes when is different. Reports, for
both: how many phrases can be played together, in tempo and without fingers on the day after, and again two weeks later
without any practice; how many stand solid in the log; with what true chance a learned phrase was still remembered when
it came back; for the guided learner also how reviews went, and the minutes of a day. Learners differ in talent from
seed to seed; how long an ordinary one remembers is an assumption, so try several.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from learner import FIRST_HALF_LIFE, Learner
from trial import Practised, Trial, round_of

from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Piece, chords_of

CHORALES = tuple(
    f"corpus:bach/bwv{name}" for name in ["269", "253", "255", "258", "262", "267", "268", "270", "272", "277"]
)
START = datetime(2026, 1, 5, 18, tzinfo=UTC)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--weeks", type=int, default=8)
    parser.add_argument("--minutes", type=float, default=25)
    parser.add_argument("--half-life", type=float, default=FIRST_HALF_LIFE, help="days, of an ordinary learner")
    arguments = parser.parse_args()
    pieces = [open_piece(name) for name in CHORALES]
    total = 0
    rows: dict[str, list[tuple[float, float, float]]] = {"guided": [], "in order": []}
    for seed in range(arguments.seeds):
        for way in rows:
            talent = (0.7, 1.0, 1.4)[seed % 3]
            with tempfile.TemporaryDirectory() as folder, log_in(Path(folder)) as log:
                passages, learner, titles = set_up(log, pieces, seed, talent, arguments.half_life)
                phrases = [passage for passage in passages if passage.kind == "phrase"]
                total = len(phrases)
                trial = Trial(log, learner, titles)
                practised = play(trial, round_of(passages), way, arguments.weeks * 7, arguments.minutes)
                end = START + timedelta(days=arguments.weeks * 7)
                tomorrow, later = (share(learner, phrases, end + timedelta(days=away)) for away in (0, 14))
                solid = sum(log.standings(piece)[n] == "solid" for piece in titles for n in log.standings(piece))
                rows[way].append((tomorrow, later, solid / total))
                print(
                    f"seed {seed}, talent {talent}, {way}: {tomorrow:.1%} the day after, {later:.1%} two weeks later, "
                    f"{solid} of {total} solid in the log, {log.count()} takes"
                )
                if trial.kept:
                    print(f"    a learned phrase that came back was remembered with a chance of {mean(trial.kept):.1%}")
                if practised:
                    report(practised)
    for way, figures in rows.items():
        next_day, later, solid_share = (mean(column) for column in zip(*figures, strict=True))
        print(
            f"{way:9} {next_day:6.1%} the day after, {later:6.1%} two weeks later, {solid_share:6.1%} solid in the log"
        )


def log_in(folder: Path) -> Log:
    """A log that believes every day of the trial, whatever this computer's clock says."""
    return Log.open(folder / "practice.sqlite", clock=lambda: START + timedelta(days=999))


def set_up(
    log: Log, pieces: list[Piece], seed: int, talent: float, half_life: float = FIRST_HALF_LIFE
) -> tuple[list[Passage], Learner, dict[str, str]]:
    """A log that knows the pieces, all in practice, and a learner who has never played them."""
    passages: list[Passage] = []
    onsets, titles = {}, {}
    for piece in pieces:
        phrases = find_phrases(piece)
        known = log.know(piece, phrases)
        log.set_state(known[0].piece, "in practice")
        titles[known[0].piece] = piece.title
        passages += known
        for phrase in phrases:
            onsets[known[0].piece, phrase.number] = [chord.onset for chord in chords_of(piece, phrase)]
    return passages, Learner(seed, onsets, talent, half_life), titles


def play(trial: Trial, passages: list[Passage], way: str, days: int, minutes: float) -> list[Practised]:
    at, practised = 0, []
    for number in range(days):
        start = START + timedelta(days=number)
        if way == "guided":
            practised.append(trial.guided(start, minutes))
        else:
            at = trial.in_order(start, passages, at, minutes)
    return practised


def share(learner: Learner, phrases: list[Passage], at: datetime, tries: int = 20) -> float:
    """Share of phrases that go as they are meant to at an instant."""
    good = [learner.test(p.piece, p.first, at) != "weak" for p in phrases for _ in range(tries)]
    return sum(good) / len(good)


def report(practised: list[Practised]) -> None:
    reviews = [remembered for day in practised for remembered in day.reviews]
    if reviews:
        print(f"    {len(reviews)} reviews, {mean(reviews):.1%} were not weak (forgotten, or gone wrong all the same)")
    minutes = [day.minutes for day in practised]
    print(f"    minutes a day: {min(minutes):.1f} to {max(minutes):.1f}, {mean(minutes):.1f} on average")


if __name__ == "__main__":
    main()
