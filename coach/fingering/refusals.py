"""Why a choice of the player cannot be honoured: one sentence, read off what the search could not do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing
from coach.fingering.deals import Deal, Fate, deals
from coach.fingering.finished import pitches_of
from coach.fingering.hand import Hand
from coach.fingering.handful import Grip, hand_key
from coach.fingering.intervals import interval_name, note_name, the_voice, with_article
from coach.fingering.keyboard import Keyboard
from coach.fingering.leaving_reasons import connection_of
from coach.fingering.limits import can_be, fingerings_left, limits_of, note_place
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import Search, State
from coach.listing import listed
from coach.score.counting import place_words
from coach.score.piece import Note

FINGERS = 5
"""Of a hand."""


def refusal(search: Search, fix: Fix, others: Sequence[Fix] = ()) -> str:
    """The sentence that refuses a choice.

    Args:
        search: The search of its phrase.
        fix: The choice.
        others: Choices that can all be honoured, but not together with this one.
    """
    place = search.onsets.get(fix.onset)
    if place is None:
        return f"{in_words(fix)} is not possible: no chord of this phrase begins there"
    if can_be(search, [fix]):
        why = _against(search, place, fix, _opponent(search, fix, others))
    elif isinstance(fix, FixedFinger):
        why = _finger(search, place, fix)
    elif isinstance(fix, FixedSharing):
        why = _sharing(search, place, fix)
    else:
        why = _leaving(search, place, fix)
    return f"{place_words(*search.bars[place])}: {in_words(fix, search, place)} is not possible: {why}"


def in_words(fix: Fix, search: Search | None = None, place: int | None = None) -> str:
    """A choice in words: "4 on the soprano's E flat", "3+1", "a lift of the right hand"."""
    if isinstance(fix, FixedSharing):
        return fix.distribution
    if isinstance(fix, FixedLeaving):
        return f"a lift of the {fix.side} hand" if fix.after == "lift" else f"joining in the {fix.side} hand"
    at = note_place(search, place, fix) if search and place is not None else None
    if search is None or place is None or at is None:
        return f"{fix.finger} on {the_voice(fix.voice)}"
    return f"{fix.finger} on {the_voice(fix.voice)}'s {note_name(search.chords[place].notes[at].pitch)}"


def _opponent(search: Search, fix: Fix, others: Sequence[Fix]) -> Fix:
    """The first of the other choices with which, after those before it, this one cannot be."""
    for count in range(1, len(others) + 1):
        if not can_be(search, [*others[:count], fix]):
            return others[count - 1]
    return others[-1]


def _against(search: Search, place: int, fix: Fix, other: Fix) -> str:
    whose = "the printed" if isinstance(other, FixedFinger) and other.source == "printed" else "your"
    there = search.onsets[other.onset]
    words = in_words(other, search, there).removeprefix("a ")
    if there != place:
        words += f" at {place_words(*search.bars[there])}"
    if isinstance(fix, FixedFinger) and isinstance(other, FixedFinger) and place == there:
        key = {one.key for one in (fix, other)}
        in_two_hands = _in_two_hands(search, place, fix, other)
        if fix.finger == other.finger and len(key) == 2 and not in_two_hands:
            return f"two keys for one finger with {whose} {words}"
        if fix.finger != other.finger and len(key) == 1:
            return f"two fingers for one key with {whose} {words}"
        short = [state for state in in_two_hands if not fingerings_left(search, place, state, fix).any()]
        at = note_place(search, place, fix)
        if short and len(short) == len(in_two_hands) and at is not None:
            return f"with {whose} {words}, {_no_finger_of(search, place, short[0].deal, at, fix.finger)}"
    return f"it contradicts {whose} {words}"


def _in_two_hands(search: Search, place: int, fix: FixedFinger, other: FixedFinger) -> list[State]:
    """The states of a chord that the other choice leaves and in which its note is not in the hand of this one's; the
    one that would be planned with it first."""
    at, there = (note_place(search, place, one) for one in (fix, other))
    if at is None or there is None:
        return []
    limits = limits_of(search, [other])
    found = [
        state
        for index, state in enumerate(search.columns[place])
        if ((place, index) not in limits.fingerings or limits.fingerings[place, index].any())
        and {state.deal.fates[at].hand, state.deal.fates[there].hand} == set(SIDES)
    ]
    planned = search.limited(limits)
    return sorted(found, key=lambda state: planned is not None and state.deal != planned[1][place].deal)


# A finger.


def _finger(search: Search, place: int, fix: FixedFinger) -> str:
    at = note_place(search, place, fix)
    if at is None:
        return _not_struck(search, place, fix)
    column = search.columns[place]
    playing = [state for state in column if state.deal.fates[at].hand is not None]
    if not playing:
        return "no hand can take the note here"
    if any(fingerings_left(search, place, state, fix).any() for state in playing):
        return _no_way_through(search, place, fix)
    usual = search.free[1][place].deal
    deal = usual if usual.fates[at].hand is not None else playing[0].deal
    return _no_finger_of(search, place, deal, at, fix.finger)


def _no_finger_of(search: Search, place: int, deal: Deal, at: int, finger: int) -> str:
    """Why a finger cannot play a note of a chord that is dealt out so."""
    side = deal.fates[at].hand or "right"
    grip = deal.handful(side).grip
    names = _names(search, place, deal, side)
    return _no_finger(
        grip, grip.keys.index(hand_key(side, deal.fates[at].key)), finger, names, side, search.hands.hand(side),
        search.hands.keyboard,
    )  # fmt: skip


def _not_struck(search: Search, place: int, fix: FixedFinger) -> str:
    for note in search.chords[place].notes:
        if (note.voice, note.midi) == (fix.voice, fix.key):
            start = search.onsets.get(note.onset)
            if start is not None:
                return f"the note is held from {place_words(*search.bars[start])}: choose its finger there"
    return f"{the_voice(fix.voice)} strikes no such note here"


def _no_finger(
    grip: Grip, at: int, finger: int, names: Sequence[str], side: Side, hand: Hand, keyboard: Keyboard
) -> str:
    """Why no fingering of a grip has a finger on one of its keys."""
    inside, outside = names[:at], names[at + 1 :]
    if len(inside) > finger - 1:
        return f"no fingers of the {side} hand are left for {listed(inside)}"
    if len(outside) > FINGERS - finger:
        return f"no fingers of the {side} hand are left for {listed(outside)}"
    best: tuple[float, str] | None = None
    for row in combinations(range(1, FINGERS + 1), len(grip.keys)):
        if row[at] == finger:
            worst = max(_excesses(grip, row, names, side, hand, keyboard), default=(0.0, ""))
            best = worst if best is None else min(best, worst)
    return best[1] if best and best[1] else f"no fingers of the {side} hand fit {listed(names)} together"


def _excesses(
    grip: Grip, row: tuple[int, ...], names: Sequence[str], side: Side, hand: Hand, keyboard: Keyboard
) -> Iterator[tuple[float, str]]:
    """By how many mm each pair of fingers falls short of its keys, or is cramped by them, with the words for it."""
    for low, high in combinations(range(len(row)), 2):
        if grip.rolled and not (grip.kept[low] or grip.kept[high]):
            continue
        spans = hand.spans(row[low], row[high])
        pair, keys = f"{row[low]}-{row[high]}", f"{names[low]} to {names[high]}"
        over = keyboard.distance_mm(grip.keys[low], grip.keys[high]) - spans.most_practical
        if over > 0:
            yield over, f"out of reach: {pair} of the {side} hand cannot span {keys}"
        under = spans.least_practical - (grip.keys[high] - grip.keys[low])
        if under > 0:
            yield under * keyboard.white_mm, f"too close for the hand: {pair} cannot stand on {keys}"


# A distribution.


def _sharing(search: Search, place: int, fix: FixedSharing) -> str:
    chord = search.chords[place]
    played = {sum(fate.hand is not None for fate in state.deal.fates) for state in search.columns[place]}
    if fix.right + fix.left not in played:
        return f"the hands have {' or '.join(map(str, sorted(played)))} note{'s' * (played != {1})} here"
    if search.options.as_written:
        return "the staves say who plays what"
    states = [state for state in search.columns[place] if state.deal.distribution == fix.distribution]
    if states:
        usual = search.free[1][place].deal
        left = limits_of(search, [fix]).fingerings
        allowed = [
            state
            for index, state in enumerate(search.columns[place])
            if state in states and ((place, index) not in left or left[place, index].any())
        ]
        if not allowed:
            ways = {way for state in states for way, _ in state.deal.ways_out} - {way for way, _ in usual.ways_out}
            return f"the hands could only {' or '.join(sorted(ways)) or 'let go of more notes'} then"
        return _no_way_through(search, place, fix)
    possible = list(_deals_of(search, place, fix.distribution))
    if not possible:
        held = _held_elsewhere(search, place, fix)
        return held or f"the {len(chord.notes)} notes cannot be shared so"
    worst = [max(_too_wide(search, place, deal, side) for side in SIDES) for deal in possible]
    return min(worst)[1] or "the hands cannot come to it from the chords before"


def _deals_of(search: Search, place: int, distribution: str) -> Iterator[Deal]:
    ways_out = len(search.free[1][place].deal.ways_out)
    for inherited in _inheritances(search, place):
        for deal in deals(search.chords[place], inherited, ways_out, search.written):
            if deal.distribution == distribution:
                yield deal


def _inheritances(search: Search, place: int) -> list[tuple[Fate, ...]]:
    return list(dict.fromkeys(state.deal.inherited for state in search.columns[place]))


def _held_elsewhere(search: Search, place: int, fix: FixedSharing) -> str:
    """Which held note is in the wrong hand for a distribution, counted from the top."""
    chord = search.chords[place]
    fates = search.free[1][place].deal.fates
    for at, (note, struck, fate) in enumerate(zip(chord.notes, chord.struck, fates, strict=True)):
        wanted = "right" if at < fix.right else "left"
        if not struck and fate.hand not in (None, wanted):
            return f"{the_voice(note.voice)}'s {note_name(note.pitch)} is held by the {fate.hand} hand"
        if not struck and fate.hand is None:
            return f"{the_voice(note.voice)}'s {note_name(note.pitch)} was let go"
    keys = [fate.key for fate in fates]
    if 0 < fix.right < len(keys) and keys[fix.right - 1] == keys[fix.right]:
        return " and ".join(the_voice(chord.notes[at].voice) for at in (fix.right - 1, fix.right)) + " share one key"
    return ""


def _too_wide(search: Search, place: int, deal: Deal, side: Side) -> tuple[float, str]:
    """By how much a hand falls short of its part of a deal, in mm, and the words for it; 0 where it can do it."""
    handful = deal.handful(side)
    if not handful.keys or len(search.efforts[side].posture(handful.grip).ways):
        return 0.0, ""
    pitches = pitches_of(search.chords[place], deal, side)
    hand, keyboard = search.hands.hand(side), search.hands.keyboard
    if len(handful.keys) > FINGERS:
        return 1000.0, f"the {side} hand would have {len(handful.keys)} keys"
    apart = keyboard.distance_mm(handful.keys[0], handful.keys[-1])
    if apart > hand.reach_mm:
        low, high = sorted((handful.keys[0], handful.keys[-1]), reverse=side == "left")
        interval = with_article(interval_name(pitches[low], pitches[high]))
        return apart - hand.reach_mm, (
            f"out of reach: the {side} hand would have to span {note_name(pitches[low])} to "
            f"{note_name(pitches[high])}, {interval} ({apart:.0f} mm; it reaches {hand.reach_mm:g})"
        )
    names = [note_name(pitches[key]) for key in handful.keys]
    return 1.0, f"no fingers of the {side} hand fit {listed(names)} together"


# A lift or a join.


def _leaving(search: Search, place: int, fix: FixedLeaving) -> str:
    side = fix.side
    states = [state for state in search.columns[place] if state.deal.handful(side).keys]
    if not states:
        return f"the {side} hand has nothing to play here"
    if place + 1 == len(search.chords):
        return "the phrase ends here and both hands breathe" if fix.after == "join" else _no_way_through(
            search, place, fix
        )  # fmt: skip
    choices = search.free[1]
    now, then = choices[place].deal.handful(side), choices[place + 1].deal.handful(side)
    if fix.after == "lift":
        return _holding(search, place, side) or _no_way_through(search, place, fix)
    if not any(state.deal.handful(side).keys for state in search.columns[place + 1]):
        return "the hand has nothing to play next"
    if now.keys and then.keys:
        if max(then.since) - now.until[-1] > 1e-6:
            return "a rest comes before its next note"
        why = connection_of(search, place, choices[place], choices[place + 1], side).forbidden()
        if why:
            return why
    return _no_way_through(search, place, fix)


def _holding(search: Search, place: int, side: Side) -> str:
    """ "it holds the alto's C into the next chord" """
    deal = search.free[1][place + 1].deal
    chord = search.chords[place + 1]
    for note, struck, fate in zip(chord.notes, chord.struck, deal.fates, strict=True):
        if not struck and fate.hand == side:
            return f"it holds {the_voice(note.voice)}'s {note_name(note.pitch)} into the next chord"
    return ""


# What the chords around forbid.


def _no_way_through(search: Search, place: int, fix: Fix) -> str:
    """The chord itself could honour the choice; the chords before and after it cannot be reached from there."""
    stuck = len(search.forward(limits_of(search, [fix])))
    before = min(max(stuck, 1), len(search.chords) - 1)
    for chord in dict.fromkeys((before, place + 1, place)):
        if not 0 < chord < len(search.chords):
            continue
        for note in _held_into(search, chord):
            begun = place_words(*search.bars[search.onsets.get(note.onset, place)])
            return (
                f"{the_voice(note.voice)}'s {note_name(note.pitch)} is held from {begun}, "
                "and no fingers connect the chords so"
            )
    return "no fingers connect it with the chords around"


def _held_into(search: Search, place: int) -> list[Note]:
    chord, deal = search.chords[place], search.free[1][place].deal
    return [
        note
        for note, struck, fate in zip(chord.notes, chord.struck, deal.fates, strict=True)
        if not struck and fate.hand is not None
    ]


def _names(search: Search, place: int, deal: Deal, side: Side) -> list[str]:
    """Names of a hand's keys in a deal, from the thumb's side outward."""
    pitches = pitches_of(search.chords[place], deal, side)
    return [note_name(pitches[key]) for key in deal.handful(side).keys]
