"""A rule's text and the fields of a page are two forms of one thing: nothing is lost."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.editions import PartName, part_text
from diagnose.knowledge.loading import texts_of
from diagnose.knowledge.nodes import Mapping, read_nodes
from diagnose.knowledge.problems import BrokenBook
from diagnose.knowledge.ruletext import CaseFields, RuleFields, fields_of, new_text, with_fields

TEXTS = texts_of()
DOUGH = "milk-panade-slab"


def shipped() -> dict[str, str]:
    root, _ = read_nodes(TEXTS[f"{DOUGH}.yaml"], "")
    assert isinstance(root, Mapping)
    rules = root.get("rules")
    assert isinstance(rules, Mapping)
    found = {}
    for entry in rules.entries:
        text = part_text(TEXTS, PartName(DOUGH, "rules", entry.key))
        assert text is not None
        found[entry.key] = text
    return found


RULES = shipped()

COMMENTED = """\
# Seen on a Monday
smears-though-chilled:
  # why it was written
  says: "It smears: though chilled"  # as students say
  when:
    slab-after-chill: soft-cold   # with a finger
    # two hours and more
    chill-minutes: at least 120 min
    stage: [cut, chill]  # either
  points to: chilled-too-short  # the usual one
  strength: moderate
  why: >-  # folded
    The middle is still warm,
    and nobody sees it.
  source: {see: house-rule, at: "p. 3 # not a comment"}  # to be checked
  standing: draft

  # its cases
  cases:
    # the usual
    - {told: {stage: cut, slab-after-chill: soft-cold}, rule: speaks}  # Monday
    - told: {stage: cut}   # nobody looked
      rule: silent
# the end
"""


def comments(text: str) -> list[str]:
    return sorted(re.findall(r"#[^\n\"]*(?=\n)", text.replace("# not a comment", "")))


SENTENCES = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Co", "Cn")), max_size=30
).map(lambda text: " ".join(text.split())).filter(
    lambda text: not re.search("[\x00-\x08\ufeff\ufffe\uffff]", text)
)  # fmt: skip
FILLED = SENTENCES.filter(bool)
NAMES = st.sampled_from(["paste-body", "stage", "slab-after-chill", "chill-minutes", "bubbling"])
PAIRS = st.dictionaries(NAMES, FILLED, max_size=4).map(lambda d: tuple(d.items()))
CASES = st.lists(
    st.builds(CaseFields, told=PAIRS, rule=st.sampled_from(["speaks", "silent"])), max_size=4
).map(tuple)


@st.composite
def changed(draw: st.DrawFn, fields: RuleFields) -> RuleFields:
    """The fields with some of them changed, as a hand on a form would."""
    for what in draw(st.lists(st.sampled_from("swuotgyrakc"), min_size=1, max_size=4)):
        match what:
            case "s":
                fields = replace(fields, says=draw(SENTENCES))
            case "w":
                kept = [pair for pair in fields.when if draw(st.booleans())]
                more = {**dict(kept), **dict(draw(PAIRS))}
                fields = replace(fields, when=tuple(more.items()))
            case "u":
                fields = replace(fields, unless=draw(PAIRS))
            case "o":
                outcome = draw(st.sampled_from(["points to", "rules out", "concludes"]))
                fields = replace(fields, outcome=outcome, target=draw(FILLED))
            case "t":
                fields = replace(fields, strength=draw(st.sampled_from(["", "strong", "slight"])))
            case "g":
                fields = replace(fields, group=draw(st.sampled_from(["", "look-of-slab"])))
            case "y":
                fields = replace(fields, why=draw(SENTENCES))
            case "r":
                fields = replace(fields, see=draw(FILLED), at=draw(SENTENCES))
            case "a":
                fields = replace(fields, standing=draw(st.sampled_from(["draft", "tried"])))
            case "k":
                fields = replace(fields, known_gaps=draw(SENTENCES))
            case "c":
                kept_cases = [case for case in fields.cases if draw(st.booleans())]
                fields = replace(fields, cases=(*kept_cases, *draw(CASES)))
    return fields


@given(st.data(), st.sampled_from([COMMENTED, *RULES.values()]))
@settings(max_examples=1000, deadline=None)
def test_a_changed_form_reads_back_exactly_and_every_comment_stays(
    data: st.DataObject, text: str
) -> None:
    before = fields_of(text)
    after = data.draw(changed(before))
    written = with_fields(text, after)
    # An outcome without a target is no outcome: the form then shows the first kind again.
    assert fields_of(written) == after
    assert [c for c in comments(text) if c not in comments(written)] == []
    if after == before:
        assert written == text


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_a_new_rule_reads_back_exactly(data: st.DataObject) -> None:
    fields = data.draw(changed(RuleFields(name="smears-though-chilled")))
    fields = replace(fields, says=fields.says or "It smears")
    assert fields_of(new_text(fields)) == fields


def test_fields_that_did_not_change_leave_every_letter_of_every_shipped_rule() -> None:
    for text in (COMMENTED, *RULES.values()):
        assert with_fields(text, fields_of(text)) == text


def test_a_form_put_back_gives_fields_as_they_were() -> None:
    draw = random.Random(5)
    for text in draw.sample(list(RULES.values()), 60):
        before = fields_of(text)
        there = with_fields(text, replace(before, says="Something else", why="For another reason"))
        assert fields_of(with_fields(there, before)) == before


def test_one_changed_condition_leaves_the_lines_and_comments_beside_it() -> None:
    before = fields_of(COMMENTED)
    when = tuple(
        (name, "at least 90 min" if name == "chill-minutes" else text) for name, text in before.when
    )
    written = with_fields(COMMENTED, replace(before, when=when)).splitlines()
    old = COMMENTED.splitlines()
    assert [(a, b) for a, b in zip(old, written, strict=True) if a != b] == [
        ("    chill-minutes: at least 120 min", "    chill-minutes: at least 90 min")
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a-rule: &x\n  says: b\n", "marks a place"),
        ("a-rule:\n  says: *x\n", "stands for another place"),
        ("a-rule: !!python/object:os.system\n  says: b\n", "tags are not read"),
        ("a-rule:\n  says: b\nanother:\n  says: c\n", "not the text of a rule"),
        ("a-rule:\n  says: b\n  says: c\n", "written twice"),
        ("a-rule:\n  points to: b\n  rules out: c\n", "more than one outcome"),
        ("- a\n", "not the text of a rule"),
        ("", "nothing in this file"),
        ("a-rule:\n" + "  says: b\n" * 3000, "at most"),
        ("a-rule:\n  says: " + "x" * 20_000, "bytes"),
        ("a-rule: " + "[" * 60 + "]" * 60, "nested"),
        ("a-rule: " + "{a: " * 60 + "}" * 60, "nested"),
    ],
)
def test_text_that_is_not_a_rule_is_refused_in_a_sentence(text: str, words: str) -> None:
    with pytest.raises(BrokenBook, match=words):
        fields_of(text)
