"""Where a hand changes place: the chords whose fingers a player still needs to see once the rest is known."""

from __future__ import annotations

from coach.fingering.plan import PhrasePlan, PlannedNote, Side
from coach.paper.signs import letter_step


def changes_of_place(phrase: PhrasePlan, side: Side) -> tuple[bool, ...]:
    """For each chord, whether the hand has to find a new place for it.

    A hand keeps its place as long as each key that it strikes lies under the finger one expects there: the finger
    that struck the key before, the one finger left between two others, or the next finger on the next white key
    (common practice, no source: printed fingerings mark the first chord and each change of place). A lift that comes
    back to the same place is no change.
    """
    seen: dict[int, int] = {}
    changes = []
    for chord in phrase.chords:
        struck = [note for note in chord.played_by(side) if note.struck]
        changed = any(note.finger not in expected_fingers(note, seen, side) for note in struck)
        if changed:
            seen = {}
        seen.update((letter_step(n.pitch), n.finger) for n in chord.played_by(side) if n.finger is not None)
        changes.append(changed)
    return tuple(changes)


def expected_fingers(note: PlannedNote, seen: dict[int, int], side: Side) -> frozenset[int]:
    """The fingers a player would use without being told, none where the hand has to move.

    Args:
        note: The note to strike.
        seen: The place so far: letter step to finger.
        side: The hand; the left one counts its fingers from the other end.
    """
    step = letter_step(note.pitch)
    if step in seen:
        return frozenset({seen[step]})
    upwards = 1 if side == "right" else -1
    below = max((other for other in seen if other < step), default=None)
    above = min((other for other in seen if other > step), default=None)
    if below is not None and above is not None:
        low, high = sorted((seen[below], seen[above]))
        between = frozenset(range(low + 1, high))
        if len(between) == 1:
            return between
    near = [other for other in (below, above) if other is not None and abs(other - step) <= 4]
    return frozenset(seen[other] + upwards * (step - other) for other in near) & frozenset(range(1, 6))
