"""Two pieces of one title are two pieces wherever they are named together."""

from __future__ import annotations

from dataclasses import replace

from practising import entry, evening, hymn, make_solid, phrases_of, review

from coach.practice.ladder import TOGETHER
from coach.practice.log import Log
from coach.practice.naming import told_apart
from coach.practice.passage import Passage
from coach.practice.schedule import today
from coach.practice.week import week


def namesakes(log: Log) -> tuple[list[Passage], list[Passage]]:
    """Two hymns called "Evening Hymn", both on the shelf and in practice; the phrases of each."""
    found = []
    for seed, source in ((1, "Evening Hymn"), (2, "Evening Hymn (2)")):
        piece = replace(hymn(seed=seed, title="Evening Hymn"), source=source)
        passages = log.know(piece, phrases_of(piece))
        log.set_state(passages[0].piece, "in practice")
        found.append([passage for passage in passages if passage.kind == "phrase"])
    return found[0], found[1]


def test_a_title_tells_a_piece_until_another_one_has_it_too() -> None:
    assert told_apart([("a", "Evening Hymn", "Evening Hymn"), ("b", "Wide Water", "wide-water")]) == {
        "a": "Evening Hymn",
        "b": "Wide Water",
    }
    assert told_apart([("a", "Evening Hymn", "Evening Hymn"), ("b", "EVENING HYMN", "Evening Hymn (2)")]) == {
        "a": "Evening Hymn",
        "b": "Evening Hymn (2)",
    }


def test_chorales_and_files_of_one_title_are_told_apart_by_both() -> None:
    called = told_apart(
        [
            ("a", "Christ lag in Todesbanden", "corpus:bach/bwv277"),
            ("b", "Christ lag in Todesbanden", "corpus:bach/bwv278"),
            ("c", "Christ lag in Todesbanden", "/music/hymns/christ.abc"),
            ("d", "Christ lag in Todesbanden", ""),
        ]
    )
    assert called == {
        "a": "Christ lag in Todesbanden (bwv277)",
        "b": "Christ lag in Todesbanden (bwv278)",
        "c": "Christ lag in Todesbanden (christ.abc)",
        "d": "Christ lag in Todesbanden",
    }


def test_the_week_names_each_of_two_pieces_of_one_title(log: Log) -> None:
    one, two = namesakes(log)
    make_solid(log, one[0], (0, 3))
    make_solid(log, two[0], (0, 3))
    make_solid(log, two[3], (2,))
    review(log, two[0], 5, "weak")
    for phrase, days in ((one[1], 4), (two[2], 5)):
        log.record(entry(phrase, TOGETHER, "weak", at=evening(days)))
    for phrase in (one[0], two[0]):
        log.set_date(phrase.piece, evening(7))
    found = week(log, evening(5))
    both = ("Evening Hymn", "Evening Hymn (2)")
    assert found.past[4].pieces == both
    assert [(turn.title, turn.passage) for turn in found.past[4].solid] == [(both[0], one[0]), (both[1], two[0])]
    assert [(turn.title, turn.passage) for turn in found.past[6].fell] == [(both[1], two[0])]
    weak = {(stand.title, stand.passage) for stand in found.weak}
    assert weak == {(both[0], one[1]), (both[1], two[0]), (both[1], two[2])}
    assert tuple(sorted(ready.title for ready in found.dates)) == both
    assert found.ahead[2].ready == both
    assert {stand.title for stand in week(log, evening(90)).ahead[0].due} == set(both)


def test_today_s_rows_name_each_of_two_pieces_of_one_title(log: Log) -> None:
    namesakes(log)
    assert {row.title for row in today(log, evening(0)).rows} == {"Evening Hymn", "Evening Hymn (2)"}


def test_of_two_pieces_of_one_title_the_one_that_was_removed_keeps_the_bare_title(log: Log) -> None:
    one, two = namesakes(log)
    log.forget_source("Evening Hymn")
    assert log.names() == {one[0].piece: "Evening Hymn", two[0].piece: "Evening Hymn (2)"}
