"""Charts: drawn in the page's colours, said in a table beside, and fit for the smallest phone.

Outside checks: W3C, Web Content Accessibility Guidelines 2.2, success criteria 1.1.1 (text
alternatives), 1.4.1 (use of colour), 1.4.10 (reflow at 320 CSS pixels), by axe-core.
"""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.reporting import Bin, Judged, calibration
from web.gallery import environment

ROWS = [
    ("The paste was not cooked long enough", 12, 40, ""),
    ("Held warm too long at room temperature & <b>left</b>", 0, 40, "fewer than 5 cases"),
    ("Nothing tried", 0, 0, ""),
    ("All of them", 40, 40, ""),
]


def bins(*said: tuple[float, bool]) -> tuple[Bin, ...]:
    judged = []
    for n, (chance, right) in enumerate(said):
        case = ConfirmedCase(f"case-{n}", "made-up", "now", {}, ("c",))
        judged.append(Judged(case, {"c" if right else "d": chance}, None))
    return calibration(judged)


SOME = bins(*[(0.42, n < 3) for n in range(9)], *[(0.71, n < 9) for n in range(14)], (1.0, True))


def drawn(some: tuple[Bin, ...] = SOME) -> str:
    template = environment().from_string(
        '{% from "charts.html" import calibration, bars %}'
        '{{ calibration(bins, "sure") }}{{ bars(rows, "Causes", "Cause", "Cases") }}'
    )
    return template.render(bins=some, rows=ROWS)


def page(some: tuple[Bin, ...] = SOME) -> str:
    made = environment()
    style = "".join(made.get_template(f"{name}.css").render() for name in ("style", "charts"))
    digest = b64encode(sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'"
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Charts</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<meta name="viewport" content="width=device-width"><style>{style}</style></head>'
        f"<body><main><h1>Charts</h1>{drawn(some)}</main></body></html>"
    )


def test_every_number_of_the_curve_stands_in_the_table_beside_it() -> None:
    table = drawn().split('<table class="figures">')[1].split("</table>")[0]
    rows = re.findall(r"<tr><th scope=\"row\">(.*?)</th><td>(.*?)</td><td>(.*?)</td>", table)
    assert len(rows) == 10
    assert ("40 to 50 in 100", "9", "3") in rows
    assert ("70 to 80 in 100", "14", "9") in rows
    assert ("90 to 100 in 100", "1", "1") in rows
    assert ("0 to 10 in 100", "0", "no cases") in rows


def test_the_picture_says_the_same_in_words() -> None:
    markup = drawn()
    assert "<desc" in markup
    assert "Said 42 in 100: right 3 of 9." in markup
    assert "Said 71 in 100: right 9 of 14." in markup


def test_a_dot_stands_where_its_numbers_say() -> None:
    """0.42 of 240 from the left end at 50; 3 of 9 of 240 up from the foot at 250."""
    assert f'cx="{50 + 0.42 * 240:.1f}" cy="{250 - 240 / 3:.1f}"' in drawn()


def test_a_bar_is_as_long_as_its_share_and_none_of_none_has_no_bar() -> None:
    assert re.findall(r'class="bar" width="([\d.]+)"', drawn()) == ["30.0", "0.0", "100.0"]
    assert "0 of 0" in drawn()


def test_there_is_no_curve_before_there_are_cases() -> None:
    assert "There are no confirmed cases to draw yet" in drawn(bins())
    assert "<circle" not in drawn(bins())


def test_words_from_outside_are_only_words() -> None:
    assert "<b>left</b>" not in drawn()
    assert "style=" not in drawn()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_charts_are_accessible_and_need_no_sideways_scroll(
    browser: Browser, scheme: str, width: int
) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 844},
        color_scheme=scheme,  # type: ignore[arg-type]  # light or dark
    )
    try:
        tab = context.new_page()
        tab.set_content(page())
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
        assert Axe().run(tab).response["violations"] == []
    finally:
        context.close()
