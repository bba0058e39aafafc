"""Every key of the knowledge file, section by section, and what belongs there.

One table serves the reader (what is required, what is unknown), its advice for a missing key, and
the check that the guide for authors describes every key.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """What a key holds, as a hint to an author; whether an entry may do without it."""

    hint: str
    required: bool = True


def _may(hint: str) -> Key:
    return Key(hint, required=False)


Section = Mapping[str, Key]

FILE: Section = {
    "format": Key("1"),
    "dough": Key("the dough's name, like milk-panade-slab"),
    "title": Key("what a cook calls the dough"),
    "covers": Key("one sentence: what this file knows about"),
    "does not cover": Key("one sentence: what it knows nothing about"),
    "house batch": Key("the amounts that stand in when none are told"),
    "nothing wrong": Key("the name of the cause that means nothing is wrong"),
    "stages": Key("the steps of the dough, in order"),
    "signs": Key("what a cook sees, touches, tastes or remembers"),
    "readings": _may("what is measured"),
    "computed readings": _may("values worked out from the batch"),
    "findings": _may("what rules may conclude"),
    "causes": Key("what can go wrong"),
    "remedies": Key("what to do about it"),
    "cautions": _may("warnings that remedies refer to"),
    "evidence": _may("the table of causes and answers"),
    "rules": _may("conditions, and what follows from them"),
    "whole cases": _may("consultations with a known answer"),
    "failure modes": _may("the ways it goes wrong, each with the whole case that shows it"),
    "retired": _may("rules that were taken out, so that their names are not used again"),
}

HOUSE_BATCH: Section = {
    "milk": Key("grams, like 500 g"),
    "flour": Key("grams, like 100 g"),
    "salt": Key("grams, like 4 g"),
    "yolks": Key("a number, like 2"),
    "cheese": Key("grams, like 45 g"),
    "butter": Key("grams, like 40 g"),
}

STAGE: Section = {
    "title": Key("what the step is called, like Cook the paste"),
    "do": _may("a list of sentences: the step itself, with {milk}, {flour} and so on filled in"),
    "timers": _may("a list of what runs for how long, like {say: The milk simmers, minutes: 6}"),
    "right": Key("a list of sentences: what right looks, feels and measures like"),
    "minutes from scratch": Key("minutes from starting over until back at this step"),
    "minutes to the plate": Key("minutes from this step to the plate"),
    "meanwhile": Key("a list: what to do with the pan while reading; the last holds always"),
    "complaints": Key("what a cook says is wrong at this step"),
}

STAGE_TIMER: Section = {
    "say": Key("what runs, like The milk simmers"),
    "minutes": Key("a number of minutes, like 6"),
}

MEANWHILE: Section = {
    "say": Key("one sentence to the cook"),
    "not under": _may("causes under which it is not safe, like [scorched]"),
}

COMPLAINT: Section = {
    "say": Key("the complaint in the cook's words"),
    "told": Key("the first answers it stands for, like {paste-body: slumps}"),
}

SIGN: Section = {
    "ask": Key("the question, in the cook's words"),
    "how": _may("how to look"),
    "stages": Key("the steps at which it may be asked, or all"),
    "effort": Key("how much trouble the look is"),
    "given by": _may("what on the batch form already tells it"),
    "answers": Key("names, each with what the cook would say"),
    "how common": _may("how often an answer is met otherwise, like {direct: very common}"),
}

READING: Section = {
    "ask": Key("the question, in the cook's words"),
    "how": _may("how to measure it"),
    "unit": Key("the unit it is kept in"),
    "likely": Key("the range in which nobody is surprised, like 55 to 99"),
    "possible": Key("the range outside which a number is refused, like 0 to 110"),
    "good to": Key("how well a kitchen can measure it, like 1.5"),
    "tool": _may("the tool it needs"),
    "stages": Key("the steps at which it may be asked, or all"),
    "effort": Key("how much trouble it is"),
    "given by": _may("what on the batch form already tells it"),
    "bands": _may("names for stretches of it, to be used in the evidence"),
    "judged by": _may("the computed reading whose bands say what it means for this batch"),
}

COMPUTED: Section = {
    "means": Key("what the value is, in words"),
    "formula": Key("the name of a computation"),
    "unit": Key("the unit of the computation"),
    "say": _may("a sentence with {value} for the cook; left out, the number is not shown"),
    "from": _may("what the computation needs, as a check"),
    "bands": _may("names for stretches of it, to be used in the evidence"),
}

BAND: Section = {
    "say": Key("the stretch in words"),
    "is": Key("the stretch, like below 75 °C"),
}

FINDING: Section = {
    "means": Key("what it means when it is present"),
    "calls for": _may("a remedy that it makes the only one, whatever else is likely"),
}

CAUSE: Section = {
    "say": Key("what went wrong, in one sentence"),
    "how common": Key("how often it is met"),
    "shows at": Key("the steps at which it can be noticed, or all"),
    "try": Key("remedies, easiest first, like {cook-on-hotter: usually}"),
    "next time": Key("one sentence: how to avoid it"),
    "known gaps": _may("what is not known about it"),
}

REMEDY: Section = {
    "kind": Key("what kind of remedy it is"),
    "first": Key("the headline: one verb, one amount"),
    "do": Key("a list of steps"),
    "amounts": _may("what it adds, like [{of: flour, by: flour-by-the-spoon}]"),
    "minutes": Key("how long it takes"),
    "minutes by": _may("the name of a computation of minutes"),
    "look for": Key("how the cook will know that it works"),
    "give up when": Key("when to stop trying"),
    "cautions": _may("names of cautions, like [hot-paste]"),
    "harm under": _may("causes under which it does harm, like {over-reduced: makes it worse}"),
    "only after": _may("findings that must be present before it is advised"),
    "may repeat": _may("how often it may be tried, like 3"),
    "establishes": _may("findings that hold once it has been done, whatever it changed"),
    "changes": _may("signs and readings that are out of date once it has been tried"),
    "uses": _may("ingredients it needs without a worked-out amount, like [milk, yolks]"),
    "stages": Key("the steps at which it can be done, or all"),
    "label": Key("what kind of knowledge it is"),
    "source": Key("where it is from, like {see: common-practice}"),
}

AMOUNT: Section = {
    "of": Key("what is added, like flour"),
    "by": Key("the name of a dose"),
}

CAUTION: Section = {
    "say": Key("the warning, in one or two sentences"),
    "source": Key("where it is from, like {see: common-practice}"),
}

SOURCE: Section = {
    "see": Key("a key of sources.yaml"),
    "at": _may("the page, table or section"),
}

EVIDENCE: Section = {
    "of": Key("a sign, or a reading with bands"),
    "about": Key("a cause"),
    "answers": Key("what each answer says, like {slumps: strong for, one-mass: strong against}"),
    "why": Key("the mechanism, in one sentence"),
    "source": Key("where it is from, like {see: common-practice}"),
    "group": _may("a name shared by rows that see the same thing twice"),
}

RULE: Section = {
    "says": Key("the claim, in one sentence that can be read aloud"),
    "when": Key("what must be so, all of it, like {paste-body: slumps}"),
    "unless": _may("what keeps the rule silent if it is known to be so"),
    "concludes": _may("a finding"),
    "points to": _may("a cause"),
    "points away from": _may("a cause"),
    "rules out": _may("a cause"),
    "strength": _may("how strongly it points"),
    "group": _may("a name shared by rules that see the same thing twice"),
    "why": Key("the mechanism, in one sentence"),
    "source": Key("where it is from, like {see: common-practice}"),
    "standing": Key("what cases it has earned"),
    "known gaps": _may("what is not known about it"),
    "cases": Key("what was told, and whether the rule speaks"),
}

CASE: Section = {
    "told": Key("what was told, like {paste-body: slumps, paste-temperature: 78 °C}"),
    "rule": Key("speaks, or silent"),
}

WHOLE_CASE: Section = {
    "story": Key("one or two sentences in plain words"),
    "situation": Key("what was told, as the machine face takes it, without the dough"),
    "first cause": _may("the cause that must come first"),
    "first remedy": _may("the remedy that must come first"),
    "never": _may("causes and remedies that must not be put forward"),
    "source": Key("where the case is from, like {see: common-practice}"),
}

FAILURE_MODE: Section = {
    "says": Key("what goes wrong, in one sentence"),
    "case": _may("the whole case that shows it"),
    "why not": _may("one sentence: why the book does not cover it"),
}

RETIRED: Section = {
    "when": Key("the date, like 2025-01-31"),
    "why": Key("the reason"),
    "replaced by": _may("the rule that took its place"),
}

SOURCE_ENTRY: Section = {
    "kind": Key("what kind of source it is"),
    "by": Key("who wrote or keeps it"),
    "title": Key("its title"),
    "year": _may("the year"),
    "where": _may("edition, number or address"),
    "mark": Key("how it was looked at"),
    "checked": _may("who held it open, and when"),
}

SECTIONS: Mapping[str, Section] = {
    "file": FILE,
    "house batch": HOUSE_BATCH,
    "stage": STAGE,
    "stage timer": STAGE_TIMER,
    "meanwhile": MEANWHILE,
    "complaint": COMPLAINT,
    "sign": SIGN,
    "reading": READING,
    "computed reading": COMPUTED,
    "band": BAND,
    "finding": FINDING,
    "cause": CAUSE,
    "remedy": REMEDY,
    "amount": AMOUNT,
    "caution": CAUTION,
    "source": SOURCE,
    "evidence row": EVIDENCE,
    "rule": RULE,
    "case": CASE,
    "whole case": WHOLE_CASE,
    "failure mode": FAILURE_MODE,
    "retired rule": RETIRED,
    "entry of sources.yaml": SOURCE_ENTRY,
}
