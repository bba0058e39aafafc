"""A long text read piece by piece gives what reading it in one go gives, or is read in one go."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml.error import YAMLError

from diagnose.knowledge import nodes
from diagnose.knowledge.loading import texts_of
from diagnose.knowledge.nodes import SHIPPED, Node
from diagnose.knowledge.problems import Problem

BOOK = texts_of()["milk-panade-slab.yaml"]
PART = "\n".join([*BOOK.split("\n")[:260], *BOOK.split("\n")[10860:11260]]) + "\n"
ODD = ['"', "{", "}", "[", "'", ": ", "# ", "- ", "\n", "  ", "|\n", "&a ", "---\n", "\t"]
ODD += ["\n  x: y\n"]


def at_once(text: str) -> Node | None:
    """What reading in one go gives; None if it refuses or finds something doubled."""
    doubled: list[Problem] = []
    try:
        root = nodes._build(text, "", SHIPPED, doubled)
    except (nodes._Refused, YAMLError):
        return None
    return None if doubled else root


def test_the_shipped_book_is_read_in_pieces_and_comes_out_the_same() -> None:
    assert nodes._assembled(BOOK, SHIPPED) == at_once(BOOK) is not None


@given(st.data())
@settings(max_examples=120, deadline=None)
def test_a_text_changed_anywhere_reads_the_same_in_pieces_or_is_not_read_so(
    data: st.DataObject,
) -> None:
    text = PART
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 40))
        text = text[:place] + data.draw(st.sampled_from(ODD)) + text[place + gone :]
    assembled = nodes._assembled(text, SHIPPED)
    assert assembled is None or assembled == at_once(text)


def test_a_text_with_a_name_twice_is_read_in_one_go_and_both_lines_are_named() -> None:
    first = next(line for line in PART.split("\n") if line.startswith("  smears-and-warm:"))
    text = PART + f"{first}\n    says: again\n"
    assert nodes._assembled(text, SHIPPED) is None
    _, problems = nodes.read_nodes(text, "a.yaml")
    assert any("written twice" in problem.what for problem in problems)
