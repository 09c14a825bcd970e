"""Draw the picture of the drill for the README: python tests/screens/make_drill_svg.py writes drill.svg beside itself.

A phrase is played half through by the simulated player, one note of it wrong.
"""

from __future__ import annotations

import asyncio
import os
import re
import tempfile
from dataclasses import replace
from pathlib import Path

SIZE = (92, 25)
PICTURE = Path(__file__).with_name("drill.svg")


async def draw() -> str:
    from coach import settings as kept
    from coach.listening.events import Event
    from coach.practice.ladder import TOGETHER
    from coach.practice.music import open_music
    from coach.practice.work import phrases_from
    from coach.screens.app import CoachApp
    from coach.screens.drill import DrillScreen

    kept.save(replace(kept.Settings(), set_up=True))

    def opening(app: CoachApp) -> DrillScreen:
        music = open_music("between-two-banks", app.settings.hands)
        app.keep_music(music)
        return DrillScreen(*phrases_from(music, 2, TOGETHER))

    app = CoachApp(opening, midi=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause(1.0)
        screen = app.screen
        assert isinstance(screen, DrillScreen)
        assert screen.drill is not None
        now = 0.0
        app.clock = lambda: now
        expected = screen.drill.task.expected
        for chord in expected.chords[: len(expected.chords) // 2 + 1]:
            keys = [expected.notes[number].midi for number in chord.struck]
            if chord.number == len(expected.chords) // 2:
                keys = [keys[0], keys[1] + 1]
            screen.hear([Event(now + 0.005 * place, "press", key, 64) for place, key in enumerate(keys)])
            now += 0.5
            screen._tick()
            if chord.number < len(expected.chords) // 2:
                gap = 0.12 if any(way.after == "lift" for way in chord.leaving.values()) else 0.01
                screen.hear([Event(now, "release", key, 64) for key in keys])
                now += gap
        await pilot.pause(0.3)
        return app.export_screenshot(title="coach")


def without_web_fonts(picture: str) -> str:
    """The same picture in the reader's own fixed-width font."""
    picture = re.sub(r"@font-face\s*\{[^}]*\}", "", picture)
    return re.sub(r"font-family:\s*Fira Code[^;]*;", "font-family: monospace;", picture)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["COACH_HOME"] = folder
        PICTURE.write_text(without_web_fonts(asyncio.run(draw())), encoding="utf-8")
    print(f"wrote {PICTURE}")


if __name__ == "__main__":
    main()
