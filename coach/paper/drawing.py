"""Drawing one system of a chord table: where each name, finger, bracket, line and slur goes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from coach.fingering.plan import HandPart, Side
from coach.paper.casting_off import LABELS, Setting, Shape, name_in, shape_of
from coach.paper.cells import Column, Grid
from coach.paper.lines import Canvas, Line, Part, System
from coach.paper.signs import breadth


def draw(grid: Grid, columns: tuple[Column, ...], gap: int, setting: Setting) -> System:
    shapes = [shape_of(column, place == 0, setting) for place, column in enumerate(columns)]
    starts, bars = [], []
    at = LABELS
    for place, shape in enumerate(shapes):
        if place and columns[place].opens_bar_after(columns[place - 1]):
            bars.append(at - (gap - 2) // 2)
            at += 2
        starts.append(at)
        at += shape.breadth + gap
    drawing = _Drawing(grid, columns, shapes, starts, bars, setting)
    voices = [line for row in range(len(grid.voices)) for line in drawing.voice(row)]
    lines = [drawing.bar_numbers(), drawing.beats()]
    if "right" in grid.sides:
        lines.append(drawing.slurs("right"))
    lines += voices
    if "left" in grid.sides:
        lines.append(drawing.slurs("left"))
    if any(column.pedal for column in grid.columns):
        lines.append(drawing.pedal())
    if any(column.word for column in grid.columns):
        lines.append(drawing.words())
    return System(tuple(column.chord for column in columns), tuple(lines))


@dataclass(frozen=True, slots=True)
class _Drawing:
    """One system and the places of everything in it."""

    grid: Grid
    columns: tuple[Column, ...]
    shapes: list[Shape]
    starts: list[int]
    bars: list[int]
    setting: Setting

    def canvas(self, label: str, bars: bool = True) -> Canvas:
        canvas = Canvas(self.setting.width)
        canvas.put(0, Part(label.rjust(LABELS - 1), "label"))
        for at in self.bars if bars else ():
            canvas.put(at, Part(self.setting.signs.bar, "bar line"))
        return canvas

    def name_at(self, place: int) -> int:
        return self.starts[place] + 1 + self.shapes[place].before

    def before(self, place: int) -> Column | None:
        """The column before one of this system's, in this system or the one above."""
        in_phrase = self.grid.columns.index(self.columns[place])
        return self.grid.columns[in_phrase - 1] if in_phrase else None

    def after(self, place: int) -> Column | None:
        rest = self.grid.columns[self.grid.columns.index(self.columns[place]) + 1 :]
        return rest[0] if rest else None

    def bar_numbers(self) -> Line:
        canvas = self.canvas("bar", bars=False)
        for place, column in enumerate(self.columns):
            before = self.before(place)
            opens = before is None or column.opens_bar_after(before)
            if opens or place == 0:
                canvas.put(
                    self.name_at(place), Part(f"{column.bar}" if opens else f"({column.bar})", "bar", column.chord)
                )
        return canvas.line()

    def beats(self) -> Line:
        canvas = self.canvas("")
        for place, column in enumerate(self.columns):
            canvas.put(self.starts[place], Part(" ", "pointer", column.chord))
            canvas.put(self.name_at(place), Part(column.counted, "beat", column.chord))
        return canvas.line()

    def words(self) -> Line:
        canvas = self.canvas("", bars=False)
        for place, column in enumerate(self.columns):
            word, room = column.word, self.shapes[place].word
            while breadth(word) > room:
                word = word.removesuffix(self.setting.signs.cut)[:-1] + self.setting.signs.cut
            canvas.put(self.name_at(place), Part(word, "word", column.chord))
        return canvas.line()

    def pedal(self) -> Line:
        """The line of the pedal: down after a chord, notched where it changes, up as a chord is struck."""
        signs, canvas = self.setting.signs, self.canvas("Ped")
        for place, column in enumerate(self.columns):
            at, tag = self.name_at(place), Part("", "pedal", column.chord)
            if column.pedal in ("up", "change") and place == 0:
                canvas.put(LABELS, replace(tag, text=signs.hold * (at - LABELS)))
            if column.pedal in ("down", "change"):
                last = place + 1 == len(self.columns)
                until = self.starts[place] + self.shapes[place].breadth if last else self.name_at(place + 1)
                canvas.put(at + 1, replace(tag, text=signs.hold * (until - at - 1)))
            if column.pedal:
                sign = {"down": signs.pedal[0], "change": signs.pedal[1], "up": signs.pedal[2]}[column.pedal]
                canvas.put(at, replace(tag, text=sign))
        return canvas.line()

    def slurs(self, side: Side) -> Line:
        signs = self.setting.signs
        opening, closing = signs.slur_right if side == "right" else signs.slur_left
        canvas = self.canvas("RH" if side == "right" else "LH")
        for place, column in enumerate(self.columns):
            part, before, after = column.part(side), self.before(place), self.after(place)
            if part is None:
                continue
            start, end = self.starts[place] + 1, self.starts[place] + self.shapes[place].right_at
            comes = _carries(before.part(side) if before else None, part)
            goes = _carries(part, after.part(side) if after else None)
            tag = Part("", "slur", column.chord, hand=side)
            if comes or goes:
                canvas.put(start, replace(tag, text=signs.slur * (end - start)))
            if goes:
                until = self.starts[place + 1] if place + 1 < len(self.starts) else end + 1
                canvas.put(
                    end,
                    replace(tag, text=(signs.again if part.after == "restrike" else signs.slur) * (until + 1 - end)),
                )
            if goes and not comes:
                canvas.put(start, replace(tag, text=opening))
            if comes and not goes:
                canvas.put(end - 1, replace(tag, text=closing))
            if part.after in ("lift", "end"):
                canvas.put(end, Part(signs.lift, "lift", column.chord, hand=side))
                if self.setting.marks:
                    canvas.put(end + 1, Part(" ", "mark", column.chord, hand=side))
        return canvas.line()

    def voice(self, row: int) -> list[Line]:
        """The line of one voice, under a blank one where the page is airy."""
        name = self.grid.voices[row]
        first = row == 0 or self.grid.voices[row - 1] != name
        canvas = self.canvas(label_of(name) if first else "")
        space = self.canvas("")
        for place, column in enumerate(self.columns):
            self._cell(canvas, row, place)
            self._brackets(canvas, space, column, row, place)
        return [space.line(), canvas.line()] if self.setting.airy and row else [canvas.line()]

    def _cell(self, canvas: Canvas, row: int, place: int) -> None:
        column, shape, signs = self.columns[place], self.shapes[place], self.setting.signs
        cell = column.cells[row]
        if cell.state == "rest":
            return
        at = self.starts[place]
        tag = Part("", "name", column.chord, cell.note, self.grid.voices[row], cell.hand)
        if cell.state in ("held", "let go") and place:
            previous = self.starts[place - 1] + self.shapes[place - 1].right_at
            carried = self.columns[place - 1].cells[row].state == "held"
            line_from = previous + (1 if carried else 2)
            line_to = at + (1 if cell.state == "let go" else shape.right_at - shape.mark - 1)
            canvas.put(line_from, replace(tag, text=signs.hold * (line_to - line_from), kind="hold"))
        if cell.state == "let go":
            canvas.put(at + 1, replace(tag, text=signs.let_go, kind="sign"))
            return
        sign = signs.rolled if cell.rolled else signs.omitted[0] if cell.state == "omitted" else ""
        if cell.state == "held" and place == 0:
            sign = signs.hold
        if sign:
            canvas.put(
                at + 1 + shape.before - 1, replace(tag, text=sign, kind="hold" if cell.state == "held" else "sign")
            )
        canvas.put(at + 1 + shape.before, replace(tag, text=name_in(cell, place == 0, self.setting)))
        finger_at = at + shape.finger_at
        if cell.state != "held" or (cell.finger and (cell.changed or place == 0)):
            finger = cell.finger or " "
            canvas.put(finger_at, replace(tag, text=finger, kind="finger"))
            if cell.own and cell.finger:
                canvas.put(finger_at + 1, replace(tag, text=signs.own, kind="sign"))
        if shape.mark:
            canvas.put(finger_at + 1 + shape.own, replace(tag, text=" ", kind="mark"))

    def _brackets(self, canvas: Canvas, space: Canvas, column: Column, row: int, place: int) -> None:
        for side in self.grid.sides:
            rows = [r for r, cell in enumerate(column.cells) if cell.hand == side]
            if not rows or not rows[0] <= row <= rows[-1]:
                continue
            top, middle, bottom, alone, passing = (
                self.setting.signs.right if side == "right" else self.setting.signs.left
            )
            if rows == [row]:
                sign = alone
            elif row == rows[0]:
                sign = top
            elif row == rows[-1]:
                sign = bottom
            else:
                sign = middle if row in rows else passing
            at = self.starts[place] + (self.shapes[place].right_at if side == "right" else 0)
            tag = Part(sign, "bracket", column.chord, None, self.grid.voices[row], side)
            canvas.put(at, tag)
            if row != rows[0]:
                space.put(at, replace(tag, text=middle, voice=""))


def _carries(part: HandPart | None, following: HandPart | None) -> bool:
    """Whether a slur leads from one chord of a hand to the next."""
    return (
        part is not None
        and following is not None
        and part.after in ("join", "restrike")
        and part.group == following.group
    )


def label_of(voice: str) -> str:
    """The name of a row: "S", "A", "T", "B", the number of a further voice."""
    return voice.split()[-1] if voice.startswith("voice ") else voice[:1].upper()
