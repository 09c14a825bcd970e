"""What a JSON form of another hand may hold."""

from __future__ import annotations

from math import isfinite

HANDS = ("right", "left", "both")
"""What a form may call the hands that play."""

LARGEST = 10**12
"""Beyond this no number means anything here, and SQLite's own integers end not far above (nine quintillions)."""


def must_be_sound(form: object) -> None:
    """Refuse what JSON can say and nothing here can mean: numbers without end, text that is no Unicode.

    Raises:
        ValueError: there is such a thing in it.
    """
    if isinstance(form, str):
        form.encode("utf-8")
    elif isinstance(form, float | int):
        if not isfinite(form) or abs(form) > LARGEST:
            raise ValueError("a number beyond all measure")
    elif isinstance(form, dict):
        for name, value in form.items():
            must_be_sound(name)
            must_be_sound(value)
    elif isinstance(form, list):
        for value in form:
            must_be_sound(value)
