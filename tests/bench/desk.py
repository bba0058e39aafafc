"""What an instructor waits for at the rule desk, printed; nothing here is a test.

    .venv/bin/python tests/bench/desk.py

One new rule against a generated book of 2,000, against the shipped book, and a replay of 5,000
cases drawn from the shipped book, beside a naive one. Times are processor time.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.checking.beside import audit_around, beside
from diagnose.consulting import OpenBook, open_book
from diagnose.judging import neighbours, questions, what_it_does
from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.teaching import read_teaching_cases
from diagnose.replaying import Past, PastCase, from_teaching, from_whole, naive_replay
from rulebooks import generated_rulebook
from rulechanges import pointing, with_rules


def seconds(action: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time of one run, and what it gave."""
    start = time.process_time()
    result = action()
    return time.process_time() - start, result


def spread(times: list[float]) -> str:
    """Median, 95th of 100, and the longest, in milliseconds."""
    ordered = sorted(times)
    p95 = ordered[min(len(ordered) - 1, int(len(ordered) * 0.95))]
    return (
        f"median {statistics.median(ordered) * 1e3:.1f} ms, p95 {p95 * 1e3:.1f} ms,"
        f" longest {ordered[-1] * 1e3:.1f} ms"
    )


def checks(label: str, dough: Dough, new: list[Rule]) -> None:
    """One new rule against all others: an audit set up for each, and its relations."""
    whole, setting_up, relations, found = [], [], [], Counter[str]()
    for rule in new:
        taken, audit = seconds(lambda rule=rule: audit_around(added(dough, rule), rule))
        told, some = seconds(lambda audit=audit, rule=rule: list(beside(audit, rule)))
        setting_up.append(taken)
        relations.append(told)
        whole.append(taken + told)
        found.update(one.relation for one in some)
    print(f"{label}, one new rule, {len(new)} times: {spread(whole)}")
    print(f"   of that setting up: {spread(setting_up)}; asking: {spread(relations)}")
    print(f"   found: {dict(found)}")


def added(dough: Dough, rule: Rule) -> Dough:
    """The dough with one more rule; made-up doughs are no models."""
    if isinstance(dough, Dough):
        return dough.model_copy(update={"rules": (*dough.rules, rule)})
    made: Any = type(dough)(**{**dough.__dict__, "rules": (*dough.rules, rule)})
    return made  # type: ignore[no-any-return]  # a made-up dough


def generated(size: int) -> Dough:
    dough: Any = generated_rulebook(size)
    dough.remedies = dough.stages = ()
    return dough  # type: ignore[no-any-return]  # a made-up dough


def drawn(dough: Dough, some: list[PastCase], count: int) -> list[PastCase]:
    """So many cases like some known ones: of each a few looks left out, others told otherwise."""
    dice = random.Random(7)
    signs = {sign.id: [answer.id for answer in sign.answers] for sign in dough.signs}
    made = []
    for number in range(count):
        like = dice.choice(some)
        told = {n: a for n, a in like.situation.signs.items() if dice.random() < 0.8}
        for sign in dough.signs:
            if like.situation.stage in sign.stages and dice.random() < 0.2:
                told[sign.id] = dice.choice(signs[sign.id])
        situation: Situation = like.situation.model_copy(update={"signs": told})
        made.append(
            PastCase(
                f"case-{number}", "confirmed case", like.title, situation, like.causes,
                like.remedies,
            )
        )  # fmt: skip
    return made


def replays(opened: OpenBook, dough: Dough, cases: list[PastCase]) -> None:
    dice = random.Random(2)
    past = Past(opened, cases)
    first, again, looked, naive = [], [], [], []
    for number in range(12):
        rule = pointing(dice.choice(dough.rules), dice, dough)
        rule = rule.model_copy(update={"id": "added", "standing": "draft"})
        after = with_rules(opened, (*dough.rules, rule))
        taken, found = seconds(lambda after=after: Past(opened, cases).replay(after))
        first.append(taken)
        kept, _ = seconds(lambda after=after: past.replay(after))
        again.append(kept)
        looked.append(found.looked_at)
        slow, plain = None, None
        if number % 6 == 0:
            slow, plain = seconds(lambda after=after: naive_replay(opened, after, cases))
            if plain != list(found.differences):
                raise SystemExit("the naive replay differs")
            naive.append(slow)
        said = Counter(one.verdict for one in found.differences)
        print(
            f"   {rule.id} {'concludes' if rule.concludes else 'bears on a cause'}: reached"
            f" {found.looked_at:,}, {dict(said)}; {taken:.2f} s at first, {kept:.2f} s when kept"
            + ("" if slow is None else f", naive {slow:.1f} s"),
            flush=True,
        )
    print(f"{len(cases):,} cases, nothing kept: {spread(first)}")
    print(f"{len(cases):,} cases, the book before kept: {spread(again)}")
    mean, ratio = statistics.fmean(naive), statistics.fmean(naive) / statistics.fmean(first)
    print(f"naive {mean:.1f} s, {ratio:.0f} times as long")


def preview(opened: OpenBook, dough: Dough, cases: list[PastCase]) -> None:
    dice = random.Random(4)
    past = Past(opened, cases)
    whole, opening, near, asked = [], [], [], []
    for _ in range(12):
        rule = pointing(dice.choice(dough.rules), dice, dough)
        rule = rule.model_copy(update={"id": "added", "standing": "draft"})
        taken, after = seconds(lambda rule=rule: with_rules(opened, (*dough.rules, rule)))
        opening.append(taken)
        ready = after.ready(dough.id)
        near.append(seconds(partial(neighbours, ready.speaker, ready.dough, rule))[0])
        asked.append(seconds(partial(questions, opened, after, dough.id, rule))[0])
        whole.append(seconds(partial(what_it_does, past, after, dough.id, rule.id))[0])
    print(f"shipped cases ({len(cases)}): what one rule does: {spread(whole)}")
    print(f"   opening the changed book: {spread(opening)}")
    print(f"   beside the others: {spread(near)}")
    print(f"   questions counted: {spread(asked)}")


def main() -> None:
    dice = random.Random(3)
    for size in (300, 2_000):
        dough = generated(size)
        new = [
            rule.model_copy(update={"id": f"new-{n}"})
            for n, rule in enumerate(generated_rulebook(100, 99).rules)
        ]
        checks(f"generated book of {size}", dough, new)
    opened = open_book()
    dough = opened.book.doughs[0]
    new = [
        pointing(dice.choice(dough.rules), dice, dough).model_copy(update={"id": f"new-{n}"})
        for n in range(100)
    ]
    checks(f"shipped book of {len(dough.rules)}", dough, new)
    shipped = [from_teaching(case) for case in read_teaching_cases(opened.book)[0]]
    shipped += [from_whole(dough, case) for case in dough.whole_cases]
    preview(opened, dough, shipped)
    replays(opened, dough, drawn(dough, shipped, 5_000))


if __name__ == "__main__":
    main()
