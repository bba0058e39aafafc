"""Changes of the rules of the shipped book, made up for the tests, with fixed seeds."""

from __future__ import annotations

import random
from collections.abc import Iterable

from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough, Rule

STRENGTHS = ("decisive", "strong", "moderate", "slight")
STANDINGS = ("draft", "tried", "trusted", "retired")


def with_dough(opened: OpenBook, dough: Dough) -> OpenBook:
    """The open book with this dough in the place of the one of that name."""
    doughs = tuple(dough if one.id == dough.id else one for one in opened.book.doughs)
    return OpenBook(opened.book.model_copy(update={"doughs": doughs}))


def with_rules(opened: OpenBook, rules: Iterable[Rule]) -> OpenBook:
    """The open book with these rules in the place of its own."""
    dough = opened.book.doughs[0]
    return with_dough(opened, dough.model_copy(update={"rules": tuple(rules)}))


def without(opened: OpenBook, name: str) -> OpenBook:
    """The open book without one rule."""
    return with_rules(opened, (r for r in opened.book.doughs[0].rules if r.id != name))


def pointing(rule: Rule, dice: random.Random, dough: Dough) -> Rule:
    """The same conditions, or most of them, bearing on some cause; or left as they conclude."""
    some = rule.when if len(rule.when) == 1 or dice.random() < 0.4 else rule.when[1:]
    if rule.concludes is not None and dice.random() < 0.5:
        return rule.model_copy(update={"when": some})
    bears: dict[str, str | None] = {
        "concludes": None,
        "points_to": None,
        "points_away_from": None,
        "rules_out": None,
    }
    way = dice.choice(("points_to", "points_to", "points_away_from", "rules_out"))
    bears[way] = dice.choice(dough.causes).id
    strength = None if way == "rules_out" else dice.choice(STRENGTHS)
    group = dice.choice((rule.group, None))
    return rule.model_copy(update={"when": some, "strength": strength, "group": group, **bears})


def changed_rules(dough: Dough, dice: random.Random) -> list[Rule]:
    """One to three rules added, taken out, made to say something else, or of another standing."""
    rules = list(dough.rules)
    for number in range(dice.choice((1, 1, 1, 2, 3))):
        place = dice.randrange(len(rules))
        rule = rules[place]
        kind = dice.choice(("add", "add", "drop", "say", "stand"))
        if kind == "add":
            new = pointing(rule, dice, dough)
            standing = dice.choice(("draft", "tried"))
            rules.append(new.model_copy(update={"id": f"added-{number}", "standing": standing}))
        elif kind == "drop":
            del rules[place]
        elif kind == "say":
            rules[place] = pointing(rule, dice, dough)
        else:
            rules[place] = rule.model_copy(update={"standing": dice.choice(STANDINGS)})
    return rules
