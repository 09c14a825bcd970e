"""`parangonar`, an independent note matcher, asked about the same takes. It is a dependency of benchmarks only."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Callable, Sequence

from coach.listening.events import Stroke
from coach.listening.expected import Expected

Pairs = set[tuple[int, int]]
"""Note numbers and the presses that struck them."""

NoteMatcher = Callable[[Expected, Sequence[Stroke]], Pairs]


def parangonar_matchers() -> dict[str, NoteMatcher]:
    """Its two symbolic matchers, empty where it is not installed."""
    warnings.filterwarnings("ignore")
    logging.getLogger("parangonar").setLevel(logging.ERROR)
    try:
        import parangonar
    except ImportError:
        return {}
    return {
        "automatic": _asking(parangonar.AutomaticNoteMatcher()),
        "dual warping": _asking(parangonar.DualDTWNoteMatcher()),
    }


def _asking(matcher: Callable[..., list[dict[str, str]]]) -> NoteMatcher:
    def pairs(expected: Expected, strokes: Sequence[Stroke]) -> Pairs:
        import numpy as np

        score: list[tuple[object, ...]] = []
        seen = set()
        for note in expected.notes:
            if note.optional or (note.chord, note.midi) in seen:
                continue
            seen.add((note.chord, note.midi))
            times = (note.onset, note.duration) * 2
            score.append((*times, note.midi, 1, str(note.number), False))
        playing = [(s.press, max((s.release or s.press) - s.press, 0.02), s.key, 64, str(s.index)) for s in strokes]
        beats = [(name, "f4") for name in ("onset_beat", "duration_beat", "onset_quarter", "duration_quarter")]
        written = np.array(score, dtype=[*beats, ("pitch", "i4"), ("voice", "i4"), ("id", "U16"), ("is_grace", "?")])
        names = ("onset_sec", "f4"), ("duration_sec", "f4"), ("pitch", "i4"), ("velocity", "i4"), ("id", "U16")
        heard = np.array(playing, dtype=list(names))
        found = matcher(written, heard)
        return {(int(a["score_id"]), int(a["performance_id"])) for a in found if a["label"] == "match"}

    return pairs


def f_measure(found: Pairs, true: Pairs) -> float:
    """Harmonic mean of precision and recall."""
    return 2 * len(found & true) / (len(found) + len(true)) if found or true else 1.0
