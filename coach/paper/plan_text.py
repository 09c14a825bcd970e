"""A plan as plain text: what `coach plan` prints."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from coach.fingering.hand import CAUTION
from coach.fingering.plan import Plan
from coach.paper.chord_table import chord_table_text
from coach.paper.reasons_text import reasons_text
from coach.paper.signs import SIGNS, Signs, beside


def plan_text(plan: Plan, words: Mapping[int, Mapping[float, str]], width: int = 80, signs: Signs = SIGNS) -> str:
    """The plan's heading, then each phrase's chord table and reasons.

    Args:
        plan: The plan.
        words: By the number of a phrase, the first stanza's syllables by onset.
        width: Places in a line.
        signs: `SIGNS` or `ASCII`.
    """
    made_for = textwrap.fill(plan.made_for, width)
    blocks = ["\n".join([plan.title, made_for, *(textwrap.fill(remark, width) for remark in plan.remarks)])]
    for phrase in plan.phrases:
        blocks.append(chord_table_text(phrase, width, syllables=words.get(phrase.number) or None, signs=signs))
        reasons = reasons_text(phrase, width)
        if reasons:
            blocks.append(reasons)
    blocks.append(textwrap.fill(CAUTION, width))
    return beside(signs, "\n\n".join(blocks))
