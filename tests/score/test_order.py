"""In which order bars are played. Oracle: music21's `repeat.Expander`, which follows repeats, endings, D.C. and D.S. by
code of its own, on the same files. (Endings
and a D.C. together it does not follow: of those the table of tunes tells.)"""

from __future__ import annotations

from itertools import chain

import pytest
from music21 import converter, repeat

from coach.errors import CoachError
from coach.score.order import how_it_runs, order_played
from coach.score.piece import Piece
from coach.score.reading import read_score

FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACK = '<barline location="right"><repeat direction="backward"/></barline>'


def ending(number: int, *, closes: bool) -> tuple[str, str]:
    """What stands before and behind the one bar of an ending."""
    turn = '<repeat direction="backward"/>' if closes else ""
    kind = "stop" if closes else "discontinue"
    return (
        f'<barline location="left"><ending number="{number}" type="start"/></barline>',
        f'<barline location="right"><ending number="{number}" type="{kind}"/>{turn}</barline>',
    )


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


SEGNO = "<direction><direction-type><segno/></direction-type></direction>"
CODA = "<direction><direction-type><coda/></direction-type></direction>"
FIRST, SECOND = ending(1, closes=True), ending(2, closes=False)
PLAIN = ("", "")


def document(*bars: tuple[str, str]) -> bytes:
    """Bars of one whole note in 4/4, C, D, E and so on, each with what stands before and behind the note."""
    note = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note>"
    head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    measures = "".join(
        f'<measure number="{number}">{head * (number == 1)}{before}{note.format(step)}{behind}</measure>'
        for number, (step, (before, behind)) in enumerate(zip("CDEFGAB", bars, strict=False), 1)
    )
    part = '<part-list><score-part id="P1"><part-name>Melody</part-name></score-part></part-list>'
    return f'<score-partwise version="4.0">{part}<part id="P1">{measures}</part></score-partwise>'.encode()


def read(data: bytes) -> Piece:
    return read_score(data, "tune.musicxml", "tune")


FORMS = {
    "repeat": [(FORWARD, ""), ("", BACK), PLAIN],
    "repeat that nothing opens": [PLAIN, ("", BACK), PLAIN],
    "two repeats": [("", BACK), (FORWARD, ""), ("", BACK), PLAIN],
    "endings": [(FORWARD, ""), PLAIN, FIRST, SECOND, PLAIN],
    "D.C. al Fine": [PLAIN, ("", words("Fine")), PLAIN, ("", words("D.C. al Fine"))],
    "D.C.": [PLAIN, PLAIN, ("", words("D.C."))],
    "D.S. al Fine": [PLAIN, (SEGNO, ""), ("", words("Fine")), ("", words("D.S. al Fine"))],
    "D.S.": [PLAIN, (SEGNO, ""), ("", words("Dal Segno"))],
    "D.S. al Coda": [PLAIN, (SEGNO, ""), ("", CODA), PLAIN, ("", words("D.S. al Coda")), (CODA, ""), PLAIN],
    "D.C. al Coda": [PLAIN, ("", CODA), PLAIN, ("", words("D.C. al Coda")), (CODA, ""), PLAIN],
}


@pytest.mark.parametrize("form", FORMS, ids=str)
def test_a_piece_runs_as_music21_plays_it(form: str) -> None:
    data = document(*FORMS[form])
    expander = repeat.Expander(converter.parseData(data.decode(), format="musicxml").parts[0])
    assert expander.isExpandable()
    # music21 numbers the bars anew; their notes tell which they are.
    heard = [one.step for one in expander.process().recurse().notes]
    piece = read(data)
    played = chain.from_iterable(range(run.first, run.last + 1) for run in order_played(piece.bars))
    assert [piece.notes[bar].pitch[0] for bar in played] == heard


@pytest.mark.parametrize(
    ("tune", "line"),
    [
        # Common practice, no source, where none is named.
        ("GABc|dcBA|]", ""),
        ("|:GABc:|dcBA|]", "bars 1, 1-2"),
        ("|:GABc|1dcBA:|2GABc|dddd|]", "bars 1-2, 1, 3-4"),
        # ABC 2.1, section 4.10: variant endings.
        ("|:GABc|[1,2 dcBA:|[3 GABc|]", "bars 1-2, 1-2, 1, 3"),
        ("GABc|dcBA!fine!|dddd|cccc!D.C.!|]", "bars 1-4, 1-2 (Fine)"),
        ("D|GABc|dcB!fine!d|dddd|ccc!D.C.!|]", "bars 1-4, 1-2 (Fine)"),
        ("GABc|SdcBA!dacoda!|GABc|dddd!D.S.!|OcccB|G4|]", "bars 1-4, 2, 5-6"),
        # After a D.C. repeats are not made again, and the last ending is taken.
        ("|:GABc|1dcBA:|2GABc|dddd!fine!|cccc!D.C.!|]", "bars 1-2, 1, 3-5, 1, 3-4 (Fine)"),
        # A coda is played for the first time, repeats and all.
        ('|:GABc:|dcBA!dacoda!|GABc "D.C. al Coda"|O|:GBdB:|]', "bars 1, 1-3, 1-2, 4, 4"),
        # A repeat after a Fine goes back to what begins there, not to the piece before it.
        ("GABc|dcBA!fine!|dddd:|cccc!D.C.!|]", "bars 1-3, 3-4, 1-2 (Fine)"),
        # Verses by D.C., and an ending for the last one.
        ('GABc|[1,2,3 GABc "D.C."|[4 G4|]', "bars 1-2, 1, 3"),
        # MusicXML 4.0, sound: a jump is made the first time through.
        ('GABc|dcBA "D.C."|cccc|]', "bars 1-2, 1-3"),
    ],
)
def test_how_a_piece_runs_is_said_in_a_line(tune: str, line: str) -> None:
    assert how_it_runs(read_score(f"X:1\nM:4/4\nL:1/4\nK:G\n{tune}\n".encode(), "tune.abc", "tune").bars) == line


@pytest.mark.parametrize(
    ("tune", "said"),
    [
        ('GABc|G4 "D.S."|]', 'bar 2 says "D.S.", but no bar has a segno'),
        ('GABc|G4 "D.C. al Fine"|]', 'bar 2 says "D.C. al Fine", but no bar says "Fine"'),
        ('GABc|G4 "D.C. al Coda"|]', 'bar 2 says "D.C. al Coda", but no bar says "To Coda"'),
        ('GABc "To Coda"|G4 "D.C. al Coda"|]', 'bar 1 says "To Coda", but no bar has a coda'),
        ('GABc!fine!|SG4|B4 "D.S. al Fine"|]', '"D.S. al Fine" does not come to a bar that says "Fine"'),
        ('GABc|SG4|B4 "D.C. al Segno"|]', 'the score does not say how it goes on after "D.C. al Segno" in bar 3'),
    ],
)
def test_signs_that_lead_nowhere_are_said(tune: str, said: str) -> None:
    bars = read_score(f"X:1\nM:4/4\nL:1/4\nK:G\n{tune}\n".encode(), "tune.abc", "tune").bars
    assert how_it_runs(bars) == said
    with pytest.raises(CoachError):
        order_played(bars)
