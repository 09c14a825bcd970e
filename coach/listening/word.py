"""The word of a verdict. It stands alone: who keeps words need not load what finds them."""

from __future__ import annotations

from typing import Literal

Word = Literal["solid", "shaky", "weak"]

WORST_FIRST: tuple[Word, ...] = ("weak", "shaky", "solid")
