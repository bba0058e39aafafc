"""One sheet with every picture and every component of the pages, to be looked at by a person.

``python -m web.gallery FILE.html`` writes it; ``--sheet FILE.html`` writes the pictures alone, the
answers of a sign side by side. They are for whoever changes a drawing or the style:
open it at 390 pixels wide, in light and in dark, and compare the answers of one sign.
"""

import sys
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from .pictures import PICTURE_GLOBALS, PICTURES, STAGE_PICTURES

TEMPLATES = Path(__file__).parent / "templates"

_SHEET = """\
{% from "pictures.html" import picture, symbols -%}
<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Pictures and components</title>
<meta name="viewport" content="width=device-width"><style>{% include "style.css" %}
{% include "pictures.css" %}</style></head>
<body>{{ symbols() }}
<main>
<h1>Pictures, by sign</h1>
{% for sign, answers in signs %}<h2>{{ sign }}</h2>
{% for answer in answers %}<button type="button" class="answer">{{ picture(sign, answer) }}\
<span>{{ answer }}</span></button>
{% endfor %}{% endfor %}
<h1>A question</h1>
<p class="meanwhile">Lowest heat, and keep the paste moving while you answer.</p>
<p class="crumb"><a href="#x">Change an earlier answer</a> <a href="#x">Why do you ask?</a></p>
<button type="button" class="answer"><span>Yes, it bubbles</span></button>
<button type="button" class="unsure">I did not look</button>
<h1>A form</h1>
<div class="problem" role="alert" tabindex="-1"><h2>There is a problem</h2>
<ul><li><a href="#milk">Milk: enter an amount, like 500 g or 2 cups</a></li></ul></div>
<form><div class="field"><label for="milk">Milk</label>
<p class="hint" id="milk-hint">As you measured it: 500 g, 2 cups, 1 1/2 cups</p>
<p class="wrong" id="milk-wrong">Enter an amount, like 500 g or 2 cups</p>
<input id="milk" name="milk" aria-invalid="true" aria-describedby="milk-hint milk-wrong"></div>
<div class="field"><label for="flour">Flour</label><input id="flour" name="flour" value="100 g">
<select name="how" aria-label="How the flour was measured"><option>weighed</option></select></div>
<button type="submit">Set up this batch</button></form>
<h1>A remedy</h1>
<p class="first">Cook the paste 3 minutes on medium heat</p>
<div class="see"><h2>What you should see</h2><p>Slow, fat bubbles.</p></div>
<div class="giveup"><h2>Give up if</h2><p>It is still loose after 6 minutes.</p></div>
<div class="caution"><h2>Careful</h2><p>Hot paste sticks and burns.</p></div>
<p class="timer" role="timer">Look again at 14:35</p>
<div class="outcome"><button type="button">It worked</button><button type="button">No change\
</button><button type="button">Worse</button><button type="button">I cannot</button></div>
<details class="fold" open><summary>Why I think so</summary>
<p>The paste is undercooked <span class="words">very likely</span>
<span class="draft">draft rule</span></p>
<dl class="facts"><dt>Paste temperature</dt><dd>78 °C</dd><dt>Bubbling</dt><dd>none</dd></dl>
</details>
<h1>The first page</h1>
<a class="door" href="#x"><span><b>Something is wrong</b> Tell me what you see</span></a>
<a class="door" href="#x"><span><b>Is it right so far?</b> What each stage looks like</span></a>
</main>
<p class="status" role="status">Not saved yet. Trying again.</p>
<footer class="foot"><a href="#x">Start again</a> <a class="quiet" href="#x">Rule desk</a></footer>
</body></html>
"""


def environment() -> Environment:
    """Templates as the pages see them: escaped, and an unknown name is an error."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined
    )
    made.globals.update(PICTURE_GLOBALS)
    return made


_CONTACT = """\
{% from "pictures.html" import picture, drawing, symbols -%}
<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Contact sheet</title>
<style>{% include "style.css" %}
{% include "pictures.css" %}
body{max-width:none}.row{display:flex;gap:8px;padding:12px 0}
.row>*{width:100px;flex:none;font-size:11px;line-height:12px}
.row .answer,.row .look{display:block;margin:0;padding:0;width:100px}</style></head>
<body>{{ symbols() }}
{% for sign, answers in signs %}<div class="row"><b>{{ sign }}</b>
{% for answer in answers %}<div class="answer">{{ picture(sign, answer) }}{{ answer }}</div>
{% endfor %}</div>
{% endfor %}<div class="row"><b>stages</b>
{% for stage, shown in stages.items() %}<div class="look">{{ drawing(shown) }}{{ stage }}</div>
{% endfor %}</div></body></html>
"""


def contact_sheet() -> str:
    """Every picture at 96 pixels, one row for each sign and one for the stages, as a page."""
    template = environment().from_string(_CONTACT)
    return template.render(signs=_signs(), stages=STAGE_PICTURES)


def _signs() -> list[tuple[str, list[str]]]:
    return [
        (sign, [answer for _, answer in keys])
        for sign, keys in groupby(PICTURES, key=lambda key: key[0])
    ]


def gallery() -> str:
    """The whole sheet as one HTML page with no outside parts."""
    return environment().from_string(_SHEET).render(signs=_signs())


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["--sheet", name]:
            Path(name).write_text(contact_sheet(), encoding="utf-8")
        case [name] if not name.startswith("-"):
            Path(name).write_text(gallery(), encoding="utf-8")
        case _:
            sys.exit("Name one file to write to: python -m web.gallery [--sheet] FILE.html")
