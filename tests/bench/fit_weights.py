"""Fit the weights of effort to printed fingerings, and say how well they do on pieces they were not fitted to.

usage: python tests/bench/fit_weights.py [--write] [--rounds N]

The plan of a hand is taken as a chance: a fingering is the likelier the less effort it costs (a conditional random
field over the fingerings of each phrase and hand, Lafferty, McCallum and Pereira 2001). The weights that make the
printed fingers likeliest are found by gradient, held to the starting weights by a penalty and kept within bounds that
leave every term its meaning: none below zero, a wide stretch never cheaper than a small one, a quick lift never cheaper
than a slow one. Fingers that are not printed are left open, a printed one may now and then be another than the line
asks for, and long pieces do not drown short ones.

That is done twice: within what hymns and chorales ask for whose voices are dealt out to the hands, and for music whose
staves say already which hand plays. Each piece is then fingered with weights fitted to the fifteen others. Without
`--write` nothing is changed.
"""

from __future__ import annotations

import argparse
import collections
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import minimize

from coach.fingering.hand import Hands
from coach.fingering.handful import Handful, hand_key
from coach.fingering.plan import SIDES
from coach.fingering.planner import Options
from coach.fingering.search import Search
from coach.fingering.weights import read_weights
from coach.score.phrases import find_phrases
from coach.score.piece import chords_of
from coach.score.reading import read_score

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parent / "data" / "fingerings"
WEIGHTS_FILE = HERE.parent.parent / "coach" / "fingering" / "weights.toml"

HELD_TO_START = 4.0
"""Penalty on the squared distance from the starting weights."""

OTHERWISE = 0.05
"""Chance that a printed finger is not the one that belongs to its line (a slip, another sharing of the staves)."""

BOUNDS: dict[str, tuple[float, float]] = {
    "stretch": (0.1, 0.5),
    "strain": (0.5, 5.0),
    "line_stretch": (0.5, 1.0),
    "line_stretch_quick": (0.1, 1.1),
    "line_strain": (1.5, 5.0),
    "little_unused": (0.05, 2.0),
    "off_frame": (0.2, 2.0),
    "weak_neighbours": (0.05, 2.0),
    "same_finger": (0.0, 0.5),
    "changed_finger": (1.0, 2.0),
    "lift_long": (0.0, 1.0),
    "lift": (2.2, 2.5),
    "lift_quick": (2.5, 5.0),
    "shift": (0.5, 0.5),
    "far_shift": (0.8, 5.0),
    "shift_quick": (0.2, 0.8),
    "shift_in_lift": (0.0, 0.5),
    "crossing": (1.22, 3.0),
    "crossing_to_black": (0.5, 4.0),
}
"""Where a weight keeps its meaning where voices are dealt out to the hands; all others may be anything from 0 to 5.
Inner fingers move on cheaply, repeated notes keep their finger and hands lift for leaps of chords in hymns, whatever
editions of piano pieces print (common practice, no source). Quick lines keep the crossings of the taught scales and
broken chords: no fewer, but also none in place of an easy stretch (methods of the 19th century, from memory:
tests/fingering/test_standard_fingerings.py)."""

AS_WRITTEN = BOUNDS | {
    "same_finger": (0.0, 5.0),
    "changed_finger": (0.0, 5.0),
    "lift": (1.2, 2.5),
    "shift_in_lift": (0.0, 1.0),
}
"""The same where staves say already which hand plays: what editions of piano pieces print counts for inner fingers,
repeated notes and the way through the air. Taught scales and broken chords keep their crossings here too."""

USES = {"planned": BOUNDS, "as-written": AS_WRITTEN}
"""For which hands (`Options.hands`) weights are fitted, and within what bounds."""

BUCKETS = (16, 24, 32, 48, 1000)
"""Phrases of like length are worked out together."""

FINGERING = re.compile(r"<technical>\s*<fingering[^>]*>[^<]*</fingering>\s*</technical>")


@dataclass(frozen=True)
class Line:
    """One hand through one phrase.

    Attributes:
        piece: Name of the piece.
        search: The search that knows its terms.
        side: Which hand.
        handfuls: What the hand does in each chord.
        printed: For each chord, printed fingers by key (hand coordinates) and whether other keys are struck with it.
    """

    piece: str
    search: Search
    side: str
    handfuls: tuple[Handful, ...]
    printed: tuple[dict[int, tuple[int, bool]], ...]


def lines_of(path: Path) -> list[Line]:
    """The lines of a piece, its fingerings taken out before it is planned."""
    text = path.read_text("utf8")
    with_fingers = read_score(text.encode(), path.name, path.stem)
    bare = read_score(FINGERING.sub("", text).encode(), path.name, path.stem)
    fingers = {(n.onset, n.midi): n.finger for n in with_fingers.notes if n.finger}
    lines = []
    for phrase in find_phrases(bare):
        chords = chords_of(bare, phrase)
        if not chords:
            continue
        search = Search(chords, Hands(), Options(hands="as-written"))
        _, choices = search.best()
        for side in SIDES:
            printed = []
            for chord, choice in zip(chords, choices, strict=True):
                mine = [
                    (note, hand_key(side, fate.key))
                    for note, fate in zip(chord.notes, choice.deal.fates, strict=True)
                    if fate.hand == side and note.onset == chord.onset
                ]
                printed.append(
                    {
                        key: (fingers[note.onset, note.midi], len(mine) > 1)
                        for note, key in mine
                        if (note.onset, note.midi) in fingers
                    }
                )
            handfuls = tuple(choice.deal.handful(side) for choice in choices)
            lines.append(Line(path.stem, search, side, handfuls, tuple(printed)))
    return lines


class Batch:
    """Lines of like length as arrays: chords `L`, at most `S` fingerings a chord, two ways to leave it.

    `counts` has a row for every fingering of every chord and for every pair of fingerings of neighbouring chords, a
    column for every term.
    """

    def __init__(self, lines: Sequence[Line], terms: Sequence[str], fixed: Mapping[str, float]) -> None:
        self.lines = lines
        self.fingers: list[list[NDArray[np.int8]]] = []
        self.length = np.array([len(line.handfuls) for line in lines])
        sizes = [[len(self._ways(line, place)) for place in range(len(line.handfuls))] for line in lines]
        n, length, most = len(lines), int(self.length.max()), max(max(row) for row in sizes)
        self.shape, self.move_shape = (n, length, most), (n, length, 2, most, most)
        self.there, self.printed = np.zeros(self.shape, bool), np.zeros(self.shape)
        self.can = np.zeros(self.move_shape, bool)
        self.fixed_own, self.fixed = np.zeros(self.shape), np.zeros(self.move_shape)
        column = {term: index for index, term in enumerate(terms)}
        cells: list[tuple[NDArray[np.int64], int, NDArray[np.float64]]] = []
        for index, line in enumerate(lines):
            effort = line.search.efforts[line.side]
            for place, handful in enumerate(line.handfuls):
                size = sizes[index][place]
                fingers = self._ways(line, place)
                self.there[index, place, :size] = True
                self.printed[index, place, :size] = _chance_of_print(handful, fingers, line.printed[place])
                counts = line.search.posture(place, line.side, handful).counts if handful.keys else {}
                for name, count in counts.items():
                    if name in fixed:
                        self.fixed_own[index, place, :size] += fixed[name] * count
                        continue
                    rows = np.ravel_multi_index((index, place, np.arange(size)), self.shape)
                    cells.append((rows, column[name], count))
                if not place:
                    continue
                change = effort.change(line.handfuls[place - 1], handful)
                for way, found in enumerate((change.joined, change.lifted)):
                    can = found.can
                    before, after = can.shape
                    self.can[index, place, way, :before, :after] = can
                    for name, count in found.items():
                        if name in fixed:
                            self.fixed[index, place, way, :before, :after] += fixed[name] * count
                            continue
                        where = np.nonzero(can & (count != 0))
                        rows = np.ravel_multi_index((index, place, way, *where), self.move_shape)
                        cells.append((rows + self.there.size, column[name], count[where]))
        rows = np.concatenate([row for row, _, _ in cells])
        columns = np.concatenate([np.full(len(row), index) for row, index, _ in cells])
        values = np.concatenate([value for _, _, value in cells])
        size = (self.there.size + self.can.size, len(terms))
        self.counts = sparse.csr_matrix((values, (rows, columns)), shape=size)
        self.by_term = self.counts.T.tocsr()

    @staticmethod
    def _ways(line: Line, place: int) -> NDArray[np.int8]:
        return line.search.efforts[line.side].ways(line.handfuls[place]).fingers

    def chances(self, weights: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Log chances of fingerings and of moves, not yet summed to one."""
        effort = self.counts @ weights
        own = np.where(self.there, -effort[: self.there.size].reshape(self.shape) - self.fixed_own, -np.inf)
        move = -effort[self.there.size :].reshape(self.move_shape) - self.fixed
        return own, np.where(self.can, move, -np.inf)

    def loss(self, weights: NDArray[np.float64], share: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        """How unlikely the printed fingers are, and its gradient; `share` is how much each line counts."""
        own, move = self.chances(weights)
        total, own_any, move_any = self._expected(own, move)
        agreed, own_printed, move_printed = self._expected(own + self.printed, move)
        gradient = np.concatenate(
            [
                ((own_printed - own_any) * share[:, None, None]).ravel(),
                ((move_printed - move_any) * share[:, None, None, None, None]).ravel(),
            ]
        )
        return float((total - agreed) @ share), self.by_term @ gradient

    def _expected(
        self, own: NDArray[np.float64], move: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Forward and backward: the summed chance of each line, and how likely each fingering and move is in it."""
        n, length, _ = self.shape
        either = np.logaddexp(move[:, :, 0], move[:, :, 1])
        forward, backward = np.full(self.shape, -np.inf), np.full(self.shape, -np.inf)
        forward[:, 0] = own[:, 0]
        for place in range(1, length):
            forward[:, place] = _log_sum(forward[:, place - 1, :, None] + either[:, place], 1) + own[:, place]
        total = _log_sum(forward[np.arange(n), self.length - 1], 1)
        for place in range(length - 1, -1, -1):
            is_last = (self.length - 1 == place)[:, None]
            later: NDArray[np.float64] | float = -np.inf
            if place + 1 < length:
                onward = (own[:, place + 1] + backward[:, place + 1])[:, None, :]
                later = _log_sum(either[:, place + 1] + onward, 2)
            backward[:, place] = np.where(is_last, 0.0, later)
        with np.errstate(invalid="ignore"):
            likely = np.exp(forward + backward - total[:, None, None])
            moves = np.zeros(self.move_shape)
            ends = (own + backward)[:, 1:, None, None, :]
            moves[:, 1:] = np.exp(
                forward[:, :-1, None, :, None] + move[:, 1:] + ends - total[:, None, None, None, None]
            )
        inside = np.arange(length)[None, :] < self.length[:, None]
        likely = np.nan_to_num(likely) * inside[:, :, None]
        return total, likely, np.nan_to_num(moves) * inside[:, :, None, None, None]

    def agreement(self, weights: NDArray[np.float64], which: NDArray[np.bool_]) -> collections.Counter[str]:
        """Printed fingers that the least effort chooses, by dynamic programming as in the planner."""
        own, move = self.chances(weights)
        best = move.max(axis=2)
        found: collections.Counter[str] = collections.Counter()
        for index in np.flatnonzero(which):
            line = self.lines[index]
            length = self.length[index]
            value, back = own[index, 0], []
            for place in range(1, length):
                through = value[:, None] + best[index, place]
                back.append(through.argmax(axis=0))
                value = through.max(axis=0) + own[index, place]
            row = int(value.argmax())
            for place in range(length - 1, -1, -1):
                fingers = self._ways(line, place)[row]
                for key, (finger, in_chord) in line.printed[place].items():
                    hit = int(fingers[line.handfuls[place].keys.index(key)]) == finger
                    found.update(notes=1, hits=hit, chord_notes=in_chord, chord_hits=in_chord and hit)
                row = int(back[place - 1][row]) if place else row
        return found


def _chance_of_print(
    handful: Handful, fingers: NDArray[np.int8], printed: Mapping[int, tuple[int, bool]]
) -> NDArray[np.float64]:
    """Log chance of the print by each fingering: now and then an edition prints another finger than its hand takes."""
    chance = np.zeros(len(fingers))
    for key, (finger, _) in printed.items():
        hit = fingers[:, handful.keys.index(key)] == finger
        chance += np.where(hit, np.log(1 - OTHERWISE), np.log(OTHERWISE / 4))
    return chance


def _log_sum(values: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    most = values.max(axis=axis, keepdims=True)
    most = np.where(np.isfinite(most), most, 0.0)
    with np.errstate(divide="ignore"):
        return np.log(np.exp(values - most).sum(axis=axis)) + most.squeeze(axis)


def balance(batches: Sequence[Batch]) -> dict[str, float]:
    """How much a line of each piece counts: a piece as the root of its printed fingers, all together as many as there
    are, so that the longest pieces do not drown the others."""
    printed: collections.Counter[str] = collections.Counter()
    for batch in batches:
        for line in batch.lines:
            printed[line.piece] += sum(map(len, line.printed))
    scale = sum(printed.values()) / sum(count**0.5 for count in printed.values())
    return {piece: scale / count**0.5 for piece, count in printed.items()}


def fit(
    batches: Sequence[Batch],
    start: Mapping[str, float],
    within: Mapping[str, tuple[float, float]],
    leave_out: str | None,
    rounds: int,
) -> NDArray[np.float64]:
    """The weights that make the printed fingers of all pieces but one likeliest."""
    weight = balance(batches)
    first = np.array(list(start.values()))
    shares = [
        np.array([0.0 if line.piece == leave_out else weight[line.piece] for line in batch.lines]) for batch in batches
    ]

    def cost(weights: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        off = weights - first
        loss, gradient = HELD_TO_START * float(off @ off), 2 * HELD_TO_START * off
        for batch, share in zip(batches, shares, strict=True):
            more, slope = batch.loss(weights, share)
            loss, gradient = loss + more, gradient + slope
        return loss, gradient

    bounds = [within.get(name, (0.0, 5.0)) for name in start]
    return np.asarray(minimize(cost, first, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": rounds}).x)


def agreement(batches: Sequence[Batch], weights: NDArray[np.float64], piece: str | None) -> collections.Counter[str]:
    """Printed fingers found in one piece, or in all."""
    found: collections.Counter[str] = collections.Counter()
    for batch in batches:
        found.update(batch.agreement(weights, np.array([piece in (None, line.piece) for line in batch.lines])))
    return found


def told(found: Mapping[str, int]) -> str:
    notes, chord_notes = found["notes"], found["chord_notes"]
    return (
        f"{found['hits'] / max(1, notes):6.1%} of {notes:4d}"
        f"   chords {found['chord_hits'] / max(1, chord_notes):6.1%} of {chord_notes:3d}"
    )


def written(fitted: Mapping[str, Mapping[str, float]]) -> None:
    """Put the fitted weights into the weights file, in place of its last sections."""
    text = WEIGHTS_FILE.read_text("utf8")
    sections = [text[: text.index(f"\n[{next(iter(USES))}]\n")]]
    for hands, weights in fitted.items():
        sections.append(f"[{hands}]\n" + "".join(f"{name} = {value:.2f}\n" for name, value in weights.items()))
    WEIGHTS_FILE.write_text("\n".join(sections), "utf8")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--write", action="store_true", help="put the weights fitted to all pieces into the coach")
    parser.add_argument("--rounds", type=int, default=30, help="steps of the fit")
    parser.add_argument("--no-leaving-out", action="store_true", help="only fit to all pieces")
    arguments = parser.parse_args()

    sections = read_weights()
    start, fixed = sections["start"], sections["trade"]
    lines = [line for path in sorted(FOLDER.glob("*.musicxml")) for line in lines_of(path)]
    batches = []
    for shorter, longest in zip((0, *BUCKETS[:-1]), BUCKETS, strict=True):
        some = [line for line in lines if shorter < len(line.handfuls) <= longest]
        if some:
            batches.append(Batch(some, list(start), fixed))
    print(
        f"starting weights, all pieces    {told(agreement(batches, np.array(list(start.values())), None))}", flush=True
    )
    fitted = {}
    for hands, within in USES.items():
        whole = fit(batches, start, within, None, arguments.rounds)
        print(f"for hands {hands}:")
        print(f"fitted to all, all pieces       {told(agreement(batches, whole, None))}", flush=True)
        fitted[hands] = dict(zip(start, whole, strict=True))
    if arguments.write:
        written(fitted)
    if arguments.no_leaving_out:
        return
    for hands, within in USES.items():
        print(f"for hands {hands}:")
        total: collections.Counter[str] = collections.Counter()
        for piece in sorted({line.piece for line in lines}):
            found = agreement(batches, fit(batches, start, within, piece, arguments.rounds), piece)
            print(f"  left out: {piece:22s}{told(found)}", flush=True)
            total.update(found)
        print(f"each piece left out in turn     {told(total)}", flush=True)


if __name__ == "__main__":
    main()
