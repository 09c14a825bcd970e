"""Every threshold of listening in one place: from where on something counts as heard, as a fault, as a word.

Times are in seconds. Sources: Repp, Music Perception 12 and 13, 1994/95 (key overlap and key detached time); Bresin and
Battel, Journal of New Music Research 29, 2000; Goebl, JASA 110, 2001 (melody lead, spread of chords); Friberg and
Sundberg, JASA 98, 1995 (displaced onsets). Figures quoted from them are from memory. What has no source is marked as
common practice.
"""

# Lifts, holds and smears

LIFT_SEEN = 0.030
"""Seconds that all keys of a hand must be up for a lift. Legato pairs overlap, or miss each other by less (Repp 1995:
mean overlaps from about 0 to 100 ms)."""

HOLD_SHARE = 0.25
"""Share of the last chord under a held note that must pass before it may be let go, where the hand does not lift after
it: a lift takes its time from that chord (common practice)."""

HOLD_SLACK = 0.030
"""Seconds before that by which a held note may be gone: the notes of a chord are that far apart (Goebl 2001)."""

SMEAR = 0.150
"""Seconds that a note may stay down into the next chord; legato overlaps stay well below (Repp 1995)."""

SMEAR_SHARE = 0.4
"""Share of the next chord's length that a note may stay down into it (common practice)."""

# Fingers

CERTAIN = 0.030
"""Seconds that two keys must be down together before it counts: a key sends its release a little after the finger has
left it (common practice)."""

# Time

NEIGHBOURS = 2
"""Steps before and after one that give its local tempo: slow rubato is not unevenness."""

HESITATION = 1.8
"""A step this many times as long as the local tempo leads to expect is a hesitation (common practice)."""

HESITATION_LEAST = 0.35
"""Seconds that a hesitation must last beyond the expected step (common practice)."""

MANY_WAITS = 0.25
"""Share of the steps from which on waiting is how the take goes rather than something that happened in it (common
practice, no source)."""

UNHEARD = 0.02
"""Seconds that a step may be off without anybody hearing it: thresholds for one displaced onset lie at a few per cent
of a step, and no lower than about 10 to 20 ms (Friberg and Sundberg)."""

# Which notes and phrases were meant

WAIT_FOR_WRONG = 1.0
"""Seconds around a chord in which a wrong key may have been meant for one of its notes (common practice)."""

HALF_STRUCK = 0.5
"""Share of a chord's keys for which wrong ones must have been struck for the take to have come to it, though none of
its own sounded (common practice, no source)."""

PLAYED = 0.25
"""Share of a phrase's chords that must have been struck for the phrase to count as played: a player who goes on into
the next phrase to round off has not played that one (common practice, no source)."""

AS_WELL = 0.8
"""Share of the presses that the other phrases explain which one phrase must explain to be the one that was played."""

IN_PART = 0.5
"""Share of a phrase's notes that must sound in a stretch of a take for the player to have played it there, although
another phrase explains the take better: cadences of several phrases are the same (common practice, no source)."""

LEAST_KEYS = 8
"""Keys below which a take fits any piece: two chords of four voices."""

BELONGS = 0.5
"""Share of a take's keys that must be notes of the piece, or of a phrase's notes that must sound and of the keys among
them that must be its own, for the take to be one of that piece at all. Of takes of the eight shipped pieces against
each other, whole or one phrase, both hands or one, 282 of 336 have less (the rest share lines and cadences); of 192
takes of the right piece with one note in five wrong, one in seven missing and as many added, or with all that can go
wrong, 2 have (measured with the simulated pianist)."""

ONE_HAND = 0.1
"""Share of a hand's notes up to which it has not played at all (common practice, no source)."""

HAND_PLAYED = 0.5
"""Share of a hand's notes from which it has played (common practice, no source)."""

NEXT_KEY = 2
"""Semitones at most from a note to its neighbour in a scale."""

ROLLED = 0.6
"""Share of a chord's spread that no gap between two of its notes exceeds where it was rolled: else two hands, or a
finger and the others, were apart (common practice, no source)."""

# What counts as a fault

LATE_NOTE = 0.120
"""Seconds after its chord that a note comes late: four times the melody lead of skilled players, which is 20 to 30 ms
(Goebl 2001)."""

APART = 0.120
"""Seconds of spread from which a chord that is not rolled is not together (the same)."""

JOIN_BROKEN = 0.080
"""Seconds of gap from which a planned join is broken; detached playing leaves more (Bresin and Battel 2000)."""

LIFT_UNPLANNED = 0.080
"""Seconds that a hand must be off the keys for a lift that nobody planned (the same source)."""

UNEVEN = 0.15
"""Deviation of the steps from the local tempo, as a share, from which playing is uneven; expressive playing deviates
by about a tenth (common practice)."""

OFF_CLICK = 0.20
"""Share of a quarter by which chords may lie before or after the metronome (common practice)."""

OFF_TEMPO = 0.05
"""Share of the metronome's tempo by which a take goes at another one, rather than beside its beats: what counts as in
tempo on the ladder is played at 95 % of it (common practice, no source)."""

DRIFT = 0.1
"""Share by which the tempo at one end of a take must be above that at the other for it to have rushed or dragged
(common practice, no source)."""

SWAY = 0.1
"""Share by which the steps of a take may stray from its own average for it to be steady; expressive playing deviates by
about a tenth (common practice)."""

ON_A_BEAT = 0.25
"""Share of a beat up to which a take lies on another beat than it was to begin on (common practice, no source)."""

PEDAL_LEFT_DOWN = 0.9
"""Share of a phrase from which a pedal that went down once has not been changed with the chords (common practice)."""

# Words and remarks

SOLID_NOTES = 0.02
"""Faults of notes a note of the phrase that a solid phrase may have: about one brushed key in a phrase of 32 notes
(common practice, no source)."""

SHAKY_NOTES = 0.12
"""The same for a shaky phrase: about one note in eight."""

SOLID_TOUCH = 0.10
"""Faults of touch a chord change that a solid phrase may have: one left-out lift in five changes of chord. Each hand is
held to it by its own changes, and so are both together (common practice, no source). Touch alone makes no phrase
weak."""

REMARKS = 3
"""Remarks a player can keep in mind for the next try (common practice)."""
