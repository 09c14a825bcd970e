"""How well the forecast for a date agrees with what a simulated learner then remembers.

python tests/bench/bench_forecast.py [--learners N]

Each learner practises five chorales for 25 minutes a day. After a time one piece gets a date; what was forecast for
each of its phrases a week, three days and one day before is compared with a test at that time, before any practice.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from datetime import UTC, timedelta
from pathlib import Path
from statistics import mean

from bench_learner import CHORALES, START, log_in, set_up
from trial import Trial

from coach.practice.schedule import today
from coach.score.library import open_piece

DATES = {0: (10, 7), 1: (20, 7), 2: (24, 3), 3: (34, 4), 4: (30, 2)}
"""Which piece must be ready on which day of the trial, at ten in the morning, and how many days before it is told so.

Pieces 2 to 4 rest until then: they have to be learned in less time than they need."""

AHEAD = (7, 3, 1)
TRIES = 20


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--learners", type=int, default=24)
    arguments = parser.parse_args()
    pieces = [open_piece(name) for name in CHORALES[:5]]
    pairs: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for seed in range(arguments.learners):
        talent = (0.6, 0.8, 1.0, 1.3, 1.6, 2.0)[seed % 6]
        with tempfile.TemporaryDirectory() as folder, log_in(Path(folder)) as log:
            _, learner, titles = set_up(log, pieces, 100 + seed, talent)
            marks = list(titles)
            for mark in marks[2:]:
                log.set_state(mark, "set aside")
            trial = Trial(log, learner, titles)
            forecasts: dict[tuple[int, str, int], float] = {}
            for number in range(max(day for day, _ in DATES.values()) + 1):
                evening = START + timedelta(days=number)
                morning = evening.replace(hour=10)
                for place, (day, notice) in DATES.items():
                    if day - number == notice:
                        log.set_date(marks[place], START.replace(hour=10) + timedelta(days=day))
                    if day == number:
                        for (ahead, mark, phrase), chance in forecasts.items():
                            if mark == marks[place]:
                                fine = [learner.test(mark, phrase, morning) != "weak" for _ in range(TRIES)]
                                pairs[ahead].append((chance, mean(fine)))
                for one in today(log, morning, zone=UTC).dates:
                    ahead = (one.day - morning.date()).days
                    if ahead in AHEAD:
                        for phrase in one.forecast:
                            forecasts[ahead, one.piece, phrase.number] = phrase.chance
                trial.guided(evening)
            print(f"learner {seed}, talent {talent}: {log.player()}")
    for ahead in AHEAD:
        found = pairs[ahead]
        print(
            f"{ahead} days ahead: forecast {mean(c for c, _ in found):.1%}, remembered {mean(f for _, f in found):.1%}"
        )
        bins: dict[int, list[tuple[float, float]]] = defaultdict(list)
        for chance, fine in found:
            bins[min(int(chance * 5), 4)].append((chance, fine))
        for place in sorted(bins):
            some = bins[place]
            forecast, remembered = mean(chance for chance, _ in some), mean(fine for _, fine in some)
            print(f"    {forecast:6.1%} forecast, {remembered:6.1%} remembered ({len(some)})")


if __name__ == "__main__":
    main()
