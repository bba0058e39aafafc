"""Which unit a cook reads first. Pages say both where both are known; this puts them in order.

Two kinds of text are touched. A pair, such as "85 °C (185 °F)" or "1 tablespoon (8 g)", is turned
round so that the cook's own unit comes first: that happens to everything a page prints. A single
metric number in a sentence of the book, such as "15 mm deep", gets its other unit for a cook who
reads US units: that happens only to sentences, never to what stands in a box.
"""

from __future__ import annotations

import re
from typing import Literal, cast, get_args

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from diagnose.kitchen.quantities import convert

from .wording import full_stop

System = Literal["metric", "us"]
SYSTEMS: tuple[System, ...] = get_args(System)

_NUMBER = r"(?:about )?[0-9][0-9,.]*(?:(?: to | and | or )[0-9][0-9,.]*)?"
_METRIC = r"(?:°C|kg|ml|mm|cm|km|g|l|m)(?![A-Za-z])"
_SPOON = r"(?:[0-9]+(?: |(?=[¼½¾⅓⅔⅛])))?[¼½¾⅓⅔⅛]? ?(?:cups?|tablespoons?|teaspoons?)"
_US = (
    rf"(?:{_NUMBER} ?(?:°F|oz|lb|in|ft)(?![A-Za-z])"
    rf"|(?:about )?{_SPOON}(?:(?: and | to ){_SPOON})?|a pinch"
    r"|[0-9]+ to [0-9]+ (?:table|tea)spoons)"
)
_METRIC_FIRST = re.compile(rf"(?<![0-9.,])({_NUMBER} ?{_METRIC}) \(({_US})\)")
_US_FIRST = re.compile(rf"(?<![0-9.,¼½¾⅓⅔⅛])({_US}) \(({_NUMBER} ?{_METRIC})\)")
_SINGLE = re.compile(rf"(?<![0-9.,(])({_NUMBER}) ?(°C|mm|cm|g|kg)(?![A-Za-z])(?! \()(?![^(]*\))")
_OTHER = {"°C": ("degC", "degF", "°F"), "mm": ("mm", "in", "in"), "cm": ("cm", "in", "in"),
          "g": ("g", "oz", "oz"), "kg": ("kg", "lb", "lb")}  # fmt: skip


def in_order(text: str, system: System) -> str:
    """A text with every pair of units turned so that this system comes first.

    >>> in_order("Hold it at 85 °C (185 °F)", "us")
    'Hold it at 185 °F (85 °C)'
    >>> in_order("Beat in 1 tablespoon (8 g) of flour", "metric")
    'Beat in 8 g (1 tablespoon) of flour'
    """
    if "(" not in text:
        return text
    pattern = _METRIC_FIRST if system == "us" else _US_FIRST
    return pattern.sub(r"\2 (\1)", text)


def sentence_in(text: str, system: System) -> str:
    """A sentence of the book with pairs in order and, for US units, single numbers paired.

    >>> sentence_in("It lies 15 mm deep", "us"), sentence_in("It lies 15 mm deep", "metric")
    ('It lies 0.6 in (15 mm) deep', 'It lies 15 mm deep')
    """
    if system == "us":
        text = _SINGLE.sub(_paired, text)
    return in_order(text, system)


def _paired(found: re.Match[str]) -> str:
    number, unit = found[1], found[2]
    have, want, said = _OTHER[unit]
    values = [float(n.replace(",", "")) for n in re.findall(r"[0-9][0-9,]*(?:\.[0-9]+)?", number)]
    other = [_short(convert(value, have, want), want) for value in values]
    words = re.sub(r"[0-9][0-9,]*(?:\.[0-9]+)?", lambda _: other.pop(0), number)
    return f"{number} {unit} ({words} {said})"


def _short(value: float, unit: str) -> str:
    """No more digits than a kitchen has: whole degrees, tenths of everything else."""
    return f"{value:.0f}" if unit == "degF" or value >= 20 else f"{value:.1f}".removesuffix(".0")


def system_of(word: object) -> System:
    """The system a cookie or an entry names; metric for anything else."""
    return "us" if word == "us" else "metric"


@pass_context
def finalize(context: Context, value: object) -> object:
    """Puts the pairs in order in whatever a page prints; keeps marked-up text marked up.

    A page that says ``as_written`` is left alone: an author's text goes out as it came in.
    """
    if not isinstance(value, str) or "(" not in value or "as_written" in context:
        return value
    turned = in_order(str(value), cast(System, context.get("units", "metric")))
    return Markup(turned) if isinstance(value, Markup) else turned


@pass_context
def said(context: Context, text: str) -> str:
    """A sentence or a part of one, in the cook's units."""
    return sentence_in(text, cast(System, context.get("units", "metric")))


@pass_context
def with_full_stop(context: Context, text: str) -> str:
    """A sentence that ends as one, in the cook's units."""
    return full_stop(said(context, text))


FOR_TEMPLATES = {"said": said, "full_stop": with_full_stop}
"""What templates may call."""
