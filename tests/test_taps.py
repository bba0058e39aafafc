"""How many taps lead to the first remedy, and how often it is right, against a stored baseline.

Cooks are drawn from the book's own tables (see ``bench/taps.py``), so this guards the asking, not
the truth of the advice. What is compared is a share over a fixed set of cooks; a fall of more
than 0.03 fails (house rule).
"""

from __future__ import annotations

import pytest
from bench.taps import HONEST, House, draw_cooks, score, tools_choice, walk

from diagnose.consulting import OpenBook

SEED = 2310
EACH = 75
FALL = 0.03
BASELINE = {"cook-paste": 0.72, "temper": 0.70}
"""Share of first remedies right, as the book and the asking stood when it was last raised."""


@pytest.fixture(scope="module")
def house(book: OpenBook) -> House:
    return House(book)


@pytest.mark.parametrize("stage", BASELINE)
def test_few_taps_lead_to_the_right_first_remedy(house: House, stage: str) -> None:
    cooks = draw_cooks(house, stage, EACH, SEED)
    walks = [walk(house, cook, HONEST, tools_choice) for cook in cooks]
    found = score(house, walks)
    assert found.median <= 4
    assert found.right >= BASELINE[stage] - FALL, f"{stage}: {found.right:.3f}"


def test_the_same_seed_draws_the_same_cooks_however_many(house: House) -> None:
    few = draw_cooks(house, "temper", 3, SEED)
    assert draw_cooks(house, "temper", 5, SEED)[:3] == few
    assert draw_cooks(house, "temper", 3, SEED + 1) != few
