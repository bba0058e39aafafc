"""What an author can do about text that the grammar of YAML does not allow.

The parser's own words are for programmers; here they are turned into ours.
"""

from __future__ import annotations

import re

from ruamel.yaml.error import YAMLError

from .problems import Problem

COLON = (
    "a colon followed by a space inside a sentence starts a new entry.",
    "Put the sentence in quotation marks.",
)

# What the parser complains of, and what an author can do about it. The first part that occurs in
# the complaint decides.
_SYNTAX: tuple[tuple[str, str, str], ...] = (
    ("mapping values are not allowed", *COLON),
    (
        "'\\t'",
        "there is a tab where spaces are expected.",
        "Indent with spaces, two for each step.",
    ),
    (
        "while scanning a quoted scalar",
        "a quotation mark is opened and not closed.",
        "Close it at the end of the sentence.",
    ),
    (
        "could not find expected ':'",
        "this line is neither a list item nor a name with a colon.",
        'Write "name: value", or indent the line under the sentence that it continues.',
    ),
    (
        "while parsing a flow sequence",
        "a list in [ ] is not closed, or an item in it has to be put in quotation marks.",
        "Separate items with commas, and close the list with ].",
    ),
    (
        "while parsing a flow mapping",
        "an entry in { } is not closed, or a sentence in it has to be put in quotation marks.",
        "Separate entries with commas, quote sentences that hold commas or colons, close with }.",
    ),
    (
        "while parsing a block",
        "this line is not indented like its neighbours.",
        "Indent entries that belong together by the same number of spaces.",
    ),
    (
        "that cannot start any token",
        "a sentence or name cannot begin with this character.",
        "Put it in quotation marks.",
    ),
)

# What is wrong began where the parser began, not where it gave up.
_BEGUN_EARLIER = ("quoted scalar", "simple key", "flow mapping", "flow sequence")
_BRACE_THEN_WORDS = re.compile(r"(?:^|[:-] )\s*[{\[][^{}\[\]]*[}\]] *[^\s,}\]#]")
_BRACE = (
    "a sentence cannot begin with { or [.",
    "Put the sentence in quotation marks.",
)
_CONTINUED = (
    "this line is read as part of the line above it, and it holds a colon.",
    "Indent it like its neighbours; or, if it belongs to a sentence, put the sentence in "
    "quotation marks.",
)


def syntax_problem(error: YAMLError, text: str, file: str) -> Problem:
    """The place and cause of text that YAML does not allow, in an author's terms."""
    mark = getattr(error, "problem_mark", None)
    context = getattr(error, "context_mark", None)
    said = f"{getattr(error, 'context', '')} {getattr(error, 'problem', '')}"
    if any(part in said for part in _BEGUN_EARLIER):
        mark = context or mark
    lines = text.splitlines()
    number = min(mark.line + 1, max(len(lines), 1)) if mark is not None else 1
    written = lines[number - 1] if lines else ""
    tabbed = next((n for n, t in enumerate(lines, 1) if t.lstrip(" ").startswith("\t")), None)
    if "'\\t'" in said and tabbed:
        number = tabbed
    elif _BRACE_THEN_WORDS.search(written):
        return Problem(file, number, "", *_BRACE)
    elif _SYNTAX[0][0] in said and mark is not None and ": " not in written[: mark.column]:
        return Problem(file, number, "", *_CONTINUED)
    for part, what, advice in _SYNTAX:
        if part in said:
            return Problem(file, number, "", what, advice)
    return Problem(
        file,
        number,
        "",
        "this line cannot be read.",
        "Look for a missing quotation mark or bracket, or uneven indentation, at or above it.",
    )
