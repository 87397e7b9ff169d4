"""A document of many drawings gives them one by one, so that others draw in between."""

from dataclasses import replace

import take_samples as samples
from linewright.page.handout import handout_inputs
from linewright.page.plan_sheets import plan_pdf


def test_each_piece_of_a_plan_and_each_score_of_a_handout_is_a_turn():
    turns = []

    def draw(one):
        turns.append(1)
        return one()

    sheet = replace(samples.sheet(), steps=samples.sheet().steps[:1])
    assert plan_pdf(sheet, draw=draw).startswith(b"%PDF")
    assert len(turns) == sheet.pieces + 1  # and the lick itself
    del turns[:]
    handout_inputs(samples.brought().analysis, draw=draw)
    assert turns
