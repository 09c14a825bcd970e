"""A sheet as a page to print: one file of HTML (Living Standard, WHATWG) with the music, the tables and the reasons."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape

from coach.fingering.hand import CAUTION
from coach.fingering.plan import PhrasePlan, Plan
from coach.paper.cells import Fingers
from coach.paper.chord_table import chord_table, heading
from coach.paper.reasons_text import reasons_in
from coach.paper.sheet import LET_GO, RAISED, RAISED_HERE, Sheet

TABLE_WIDTH = 84
"""Places of a chord table's line on the page: as many as stand beside each other on A4 in letters to be read."""

STYLE = """
  @page { size: A4; margin: 14mm 12mm; }
  body { font: 11pt/1.4 Georgia, 'Times New Roman', 'Liberation Serif', serif; color: #000; background: #fff;
         max-width: 186mm; margin: 0 auto; padding: 4mm; }
  h1 { font-size: 20pt; font-weight: normal; text-align: center; margin: 0; }
  h2 { font-size: 12pt; margin: 7mm 0 1mm; break-after: avoid; }
  header p { text-align: center; margin: 1mm 0; }
  figure { margin: 4mm 0; break-inside: avoid; }
  figure svg { display: block; width: 100%; height: auto; }
  pre { font: 8.5pt/1.3 'DejaVu Sans Mono', Menlo, Consolas, 'Liberation Mono', monospace; margin: 2mm 0;
        break-inside: avoid; }
  ul { margin: 1mm 0; padding-left: 5mm; font-size: 10pt; }
  li { break-inside: avoid; }
  .signs, .table { break-inside: avoid; }
  .table { break-after: avoid; }
  .table pre { break-after: avoid; }
  .reasons, .reasons li:first-child { break-before: avoid; }
  .caution { border: 0.3mm solid #000; padding: 2mm 3mm; margin: 5mm 0.5mm; break-inside: avoid; }
  @media print { body { padding: 0; max-width: none; } }
"""


def page_of(
    plan: Plan,
    sheet: Sheet,
    music: Sequence[str],
    fingers: Fingers,
    words: Mapping[int, Mapping[float, str]],
) -> str:
    """The whole page.

    The reasons name the fingers, so that they are given only where all of these are shown.

    Args:
        plan: What is shown.
        sheet: The same plan written down.
        music: Its pages as SVG.
        fingers: Which fingers are shown.
        words: By the number of a phrase, the first stanza's syllables by onset.
    """
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f"<title>{escape(plan.title)}</title>",
        f"<style>{STYLE}</style>",
        "</head>",
        "<body>",
        "<header>",
        f"<h1>{escape(plan.title)}</h1>",
        *(f"<p>{escape(line)}</p>" for line in _headlines(plan, sheet)),
        "</header>",
        *(f"<figure>\n{svg}\n</figure>" for svg in music),
        f'<p class="caution">{escape(CAUTION)}</p>',
        '<section class="signs">',
        "<h2>Signs</h2>",
        "<ul>",
        *(f"<li>{escape(line)}</li>" for line in _signs(sheet, fingers)),
        "</ul>",
        "</section>",
    ]
    for phrase in plan.phrases:
        lines += _phrase(phrase, fingers, words.get(phrase.number))
    return "\n".join([*lines, "</body>", "</html>", ""])


def _headlines(plan: Plan, sheet: Sheet) -> Iterator[str]:
    if sheet.composer:
        yield sheet.composer
    yield plan.made_for
    yield from plan.remarks


def _signs(sheet: Sheet, fingers: Fingers) -> Iterator[str]:
    """What the signs of the music mean, those that are used; the tables explain theirs."""
    yield "The upper staff is for the right hand, the lower one for the left, whoever sings the notes."
    if fingers != "none":
        where = "" if fingers == "all" else ", where a hand changes its place"
        yield f"Fingers, 1 the thumb, stand outside the staves, in the order of the notes{where}."
    said = {direction.what for direction in sheet.directions}
    changed = any("-" in stroke.finger for stroke in sheet.strokes)
    for used, sign in (
        (len(sheet.phrases) > 1, "A number in a box: a phrase begins."),
        (sheet.slurs, "A slur: the hand joins."),
        (sheet.commas, "A comma: the hand leaves the keys, but for a note that it holds on. So it does at a fermata."),
        (changed, "5-4: the second finger takes over the key while it is held."),
        (any(stroke.rolled for stroke in sheet.strokes), "A wavy line: the notes are struck in turn, lowest first."),
        (
            RAISED in said,
            "Raised: from here on the voice is an octave higher than in the score, until it is in its place.",
        ),
        (RAISED_HERE in said, "Raised here: this one note of the voice is an octave higher than in the score."),
        (LET_GO in said, "Let go: the note is shorter than in the score, because its finger is needed."),
        (any(stroke.left_out for stroke in sheet.strokes), "A note in parentheses is left out."),
        (
            sheet.pedal,
            "A line below the staves: the pedal is down, from after the chord is struck; at a tick inside the line it "
            "goes up and down again, at the end it comes up.",
        ),
    ):
        if used:
            yield sign


def _phrase(phrase: PhrasePlan, fingers: Fingers, words: Mapping[float, str] | None) -> Iterator[str]:
    """A phrase's table under its heading, which stays on one page with its legend, and its reasons, of which the first
    stands on that page too."""
    table = chord_table(phrase, TABLE_WIDTH, fingers=fingers, syllables=words)
    yield '<section class="table">'
    yield f"<h2>{escape(' '.join(heading(phrase, TABLE_WIDTH)))}</h2>"
    for system in table.systems:
        yield f"<pre>{escape(chr(10).join(line.text for line in system.lines))}</pre>"
    yield f"<pre>{escape(chr(10).join(table.legend))}</pre>"
    yield "</section>"
    if fingers == "all":
        yield '<ul class="reasons">'
        for where, said in reasons_in(phrase):
            yield f"<li><b>{where}:</b> {escape(said)}</li>"
        yield "</ul>"
