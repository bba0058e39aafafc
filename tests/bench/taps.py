"""Taps to the first remedy and how often it is right, beside two other ways of asking; no test.

    .venv/bin/python tests/bench/taps.py [--each 60] [--seed 1] [--causes]

A situation is drawn from the book's own tables. A cause is drawn by how common it is among those
that can show at the stage; every look at the batch is drawn from P(answer | cause); the cook comes
if a chief complaint of the stage is among these looks (of several the likelier one, sampled), else
the draw is made again; so it is if a rule of the book rules the cause out on these looks. The
kitchen's elevation is told at the start, and half of the cooks tell
the amounts. The cook then follows the tool: answers what is asked until told what to do.

Mistakes and "I did not look" are drawn once per situation and question, so that every way of
asking, and every rate of mistakes, meets the same cooks.

The figures say how well the asking fits the book. They are no evidence that the advice is right:
the cooks and the advice share one set of beliefs.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from diagnose.consulting import OpenBook, open_book
from diagnose.deciding import Ready, infer
from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Band, Cause, Reading, Remedy, Sign, Stage, Works
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.phrases import PRESENT, Interval, Value
from diagnose.knowledge.situation import Batch, Kitchen, Situation
from diagnose.reasoning.asking import Ahead, Loss
from diagnose.reasoning.known import middle_of
from diagnose.reasoning.posterior import in_play
from diagnose.reasoning.words import EFFORT_MINUTES, PRIOR, WORKS

LABEL = (
    "On situations sampled from the book's own likelihoods; not evidence that the advice is right."
)
MOST_TAPS = 80
"""No stage has so many questions; a walk that comes here is a mistake of the tool."""


@dataclass(frozen=True, slots=True)
class Noise:
    """The share of questions answered wrongly, and of those not answered at all."""

    wrong: float = 0.0
    missing: float = 0.0

    def __str__(self) -> str:
        return f"{self.wrong:.0%} wrong, {self.missing:.0%} missing"


HONEST = Noise()
NOISES = (
    HONEST,
    Noise(wrong=0.10),
    Noise(wrong=0.25),
    Noise(missing=0.10),
    Noise(missing=0.25),
    Noise(0.10, 0.10),
    Noise(0.25, 0.25),
)


@dataclass(frozen=True, slots=True)
class Look:
    """What one question would find, what a mistaken cook would say, and the luck of the draw."""

    true: str | float
    mistaken: str | float
    luck_wrong: float
    luck_missing: float

    def under(self, noise: Noise) -> str | float | None:
        """The answer given; None is "I did not look"."""
        if self.luck_missing < noise.missing:
            return None
        return self.mistaken if self.luck_wrong < noise.wrong else self.true


@dataclass(frozen=True, slots=True)
class Cook:
    """One drawn situation: what is wrong, what the cook says first, and what a look would find."""

    cause: str
    complaint: str
    start: Situation
    looks: Mapping[str, Look]


@dataclass(frozen=True, slots=True)
class Walk:
    """One consultation up to the first remedy."""

    cook: Cook
    asked: tuple[str, ...]
    """The questions in order, without the complaint: one tap each."""
    first: str
    """The first remedy."""
    end: Situation


@dataclass(frozen=True, slots=True)
class Verdict:
    """Three measures of the first remedy, each stricter than the one before but for gates.

    ``listed``: the true cause lists it under ``try``. ``right``: that, or it must come before one
    that is listed: it opens a gate that is closed on what was told, or what is truly in the pan
    is unsafe and it is to throw it away. ``best``: as ``right``, but of the listed remedies that
    can be done at the stage only one with the highest word counts.
    """

    listed: bool
    right: bool
    best: bool


Choose = Callable[["House", Situation, Diagnosis], str]
"""Which question is asked next, when the tool itself would ask on."""


class House:
    """An open book that remembers what it said, since many cooks come the same way."""

    def __init__(self, opened: OpenBook) -> None:
        self.opened = opened
        self.dough = opened.book.doughs[0]
        self.ready: Ready = opened.ready(self.dough.id)
        self._said: dict[object, Diagnosis] = {}
        self._wondered: dict[object, str] = {}

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The answer, by the front door."""
        key = _key(situation)
        if key not in self._said:
            self._said[key] = self.opened.diagnose(situation)
        return self._said[key]

    def most_telling(self, situation: Situation) -> str:
        """The question expected to take the most uncertainty out of the causes."""
        key = _key(situation)
        if key not in self._wondered:
            curious = _Curious(infer(self.ready, situation).known)
            worths = curious.questions()
            best = max(worths, key=lambda w: round(w.saves + EFFORT_MINUTES[w.part.effort], 9))
            self._wondered[key] = best.part.id
        return self._wondered[key]

    def open_in_order(self, situation: Situation) -> list[str]:
        """The questions of the stage still open, in the book's order."""
        facts = facts_of(situation, self.dough)
        return [
            part.id
            for part in asked_at(self.ready, situation.stage)
            if part.id not in facts and part.id not in situation.not_looked
        ]


class _Curious(Ahead):
    """The same worlds and chances, with uncertainty (in nats) in the place of minutes."""

    def _loss(self, weights: Sequence[float], world: int) -> Loss:
        return -math.fsum(c * math.log(c) for c in weights if c > 0), ""


def _key(situation: Situation) -> object:
    return (
        situation.stage,
        situation.kitchen.elevation_m,
        situation.batch.milk_g,
        tuple(sorted(situation.signs.items())),
        tuple(sorted(situation.readings.items())),
        tuple(sorted(situation.not_looked)),
    )


def asked_at(ready: Ready, stage: str) -> list[Sign | Reading]:
    """Everything that may be asked at a stage and on which the tables have a word, in order."""
    parts = (table.asked.part for table in ready.tables.values())
    return [p for p in parts if isinstance(p, Sign | Reading) and stage in p.stages]


def tools_choice(house: House, situation: Situation, said: Diagnosis) -> str:
    """The tool's own question."""
    assert said.question is not None, "asked only while it asks"
    return said.question.id


def next_in_book(house: House, situation: Situation, said: Diagnosis) -> str:
    """A fixed questionnaire: the same questions in the book's order, stopped by the same rule."""
    return house.open_in_order(situation)[0]


def most_telling(house: House, situation: Situation, said: Diagnosis) -> str:
    """The question with the most information about the causes, whatever it is good for."""
    return house.most_telling(situation)


WAYS: Mapping[str, Choose] = {
    "tool": tools_choice,
    "book's order": next_in_book,
    "entropy": most_telling,
}


# Drawing situations


def draw_cooks(house: House, stage: str, count: int, seed: int) -> list[Cook]:
    """``count`` situations at a stage; the n-th is the same however many are drawn."""
    place = next(s for s in house.dough.stages if s.id == stage)
    return [_cook(house.ready, place, random.Random(f"{seed} {stage} {n}")) for n in range(count)]


def _cook(ready: Ready, stage: Stage, luck: random.Random) -> Cook:
    causes = in_play(ready.dough, stage.id)
    amounts = ready.dough.house_batch
    told = Batch(milk_g=amounts.milk_g, flour_g=amounts.flour_g) if luck.random() < 0.5 else Batch()
    while True:
        cause = luck.choices(causes, [PRIOR[c.how_common] for c in causes])[0]
        looks = {part.id: _look(ready, part, cause.id, luck) for part in asked_at(ready, stage.id)}
        seen = [
            c
            for c in stage.complaints
            if all(name in looks and looks[name].true == answer for name, answer in c.told.items())
        ]
        if not seen:
            continue
        likely = [
            math.exp(sum(ready.tables[n].log_for(cause.id, a) for n, a in c.told.items()))
            for c in seen
        ]
        complaint = luck.choices(seen, likely)[0]
        elevation = looks["elevation"].true
        assert isinstance(elevation, float)
        start = Situation(
            dough=ready.dough.id,
            stage=stage.id,
            kitchen=Kitchen(elevation_m=elevation),
            batch=told,
            signs=dict(complaint.told),
        )
        cook = Cook(cause.id, complaint.id, start, looks)
        if not _ruled_out(ready, cook):
            return cook


def _ruled_out(ready: Ready, cook: Cook) -> bool:
    """Whether the book says that this cause cannot look like this."""
    outcome = evaluate(ready.rules.rules, facts_of(all_told(cook), ready.dough))
    return any(rule.rules_out == cook.cause for rule in outcome.spoke)


def _look(ready: Ready, part: Sign | Reading, cause: str, luck: random.Random) -> Look:
    judged = part.judged_by if isinstance(part, Reading) else None
    table = ready.tables[judged or part.id]
    answers = list(table.asked.answers)
    true = luck.choices(answers, [math.exp(table.log_for(cause, a)) for a in answers])[0]
    others = [a for a in answers if a != true]
    mistaken = luck.choice(others)
    where = luck.uniform(0.05, 0.95)
    said = [_as_told(ready, part, answer, where) for answer in (true, mistaken)]
    return Look(said[0], said[1], luck.random(), luck.random())


def _as_told(ready: Ready, part: Sign | Reading, answer: str, where: float) -> str | float:
    if isinstance(part, Sign):
        return answer
    if part.judged_by is not None:
        return _grams_judged(ready, part, answer, where)
    return number_in(next(b for b in part.bands if b.id == answer), part.likely, where)


def number_in(band: Band, likely: tuple[float, float], where: float) -> float:
    """A number so far into a band, within the likely range."""
    phrase = band.phrase
    assert isinstance(phrase, Interval)
    low = max(likely[0], likely[0] if phrase.low is None else phrase.low)
    high = min(likely[1], likely[1] if phrase.high is None else phrase.high)
    return low + where * (high - low) if low < high else middle_of(phrase, likely)


def _grams_judged(ready: Ready, part: Reading, answer: str, where: float) -> float:
    """A weight of the house batch in the pan that means this answer."""
    dough, judge = ready.dough, part.judged_by
    table = ready.tables[judge or part.id]
    batch = Batch(milk_g=dough.house_batch.milk_g, flour_g=dough.house_batch.flour_g)
    fitting = []
    for grams in range(300, 640, 2):
        told = Situation(
            dough=dough.id, stage=part.stages[0], batch=batch, readings={part.id: float(grams)}
        )
        if table.asked.answer_for(facts_of(told, dough).get(table.asked.id)) == answer:
            fitting.append(float(grams))
    return fitting[int(where * len(fitting))]


# Walking and judging


def walk(house: House, cook: Cook, noise: Noise, choose: Choose) -> Walk:
    """One consultation from the complaint to the first remedy."""
    now = cook.start
    asked: list[str] = []
    while len(asked) < MOST_TAPS:
        said = house.diagnose(now)
        if said.question is None:
            return Walk(cook, tuple(asked), said.plan[0].remedy, now)
        name = choose(house, now, said)
        if name in asked:
            raise SystemExit(f"{name} was asked twice: {now}")
        asked.append(name)
        now = answered(now, name, cook.looks[name].under(noise))
    raise SystemExit(f"no end of asking: {now}")


def answered(now: Situation, name: str, answer: str | float | None) -> Situation:
    """The situation with one more answer; None is "I did not look"."""
    if answer is None:
        return now.model_copy(update={"not_looked": now.not_looked | {name}})
    if isinstance(answer, str):
        return now.model_copy(update={"signs": {**now.signs, name: answer}})
    return now.model_copy(update={"readings": {**now.readings, name: answer}})


def all_told(cook: Cook) -> Situation:
    """Every look told truly: what more asking could at best lead to."""
    now = cook.start
    for name, look in cook.looks.items():
        if name != "elevation":
            now = answered(now, name, look.true)
    return now


def judge(house: House, cook: Cook, first: str, end: Situation) -> Verdict:
    """How right a first remedy is for what is truly wrong."""
    remedies, stage = house.ready.remedies, cook.start.stage
    cause: Cause = next(c for c in house.dough.causes if c.id == cook.cause)
    words: dict[str, Works] = {
        t.remedy: t.works for t in cause.tries if stage in remedies[t.remedy].stages
    }
    gate = must_come_first(house, remedies[first], [remedies[r] for r in words], end) or (
        remedies[first].kind == "discard" and house.diagnose(all_told(cook)).situation == "discard"
    )
    listed = first in words
    best = max((WORKS[w] for w in words.values()), default=0.0)
    return Verdict(listed, listed or gate, gate or (listed and WORKS[words[first]] >= best))


def must_come_first(house: House, first: Remedy, listed: Iterable[Remedy], end: Situation) -> bool:
    """Whether doing ``first`` opens a gate that keeps a listed remedy back on what was told."""
    if not first.establishes:
        return False
    rules = house.ready.rules.rules
    facts: dict[str, Value] = facts_of(end, house.dough)
    now = evaluate(rules, facts).findings
    done: dict[str, Value] = {n: v for n, v in facts.items() if n not in first.changes}
    done.update(dict.fromkeys(first.establishes, PRESENT))
    then = evaluate(rules, done).findings
    return any((set(r.only_after) - now) & then for r in listed)


# Reporting


@dataclass(frozen=True, slots=True)
class Score:
    """Taps and rightness over many walks."""

    count: int
    median: int
    ninetieth: int
    listed: float
    right: float
    best: float

    def __str__(self) -> str:
        return f"{self.median:3d} {self.ninetieth:3d}  {self.right:.2f} {self.best:.2f}"


def score(house: House, walks: Sequence[Walk]) -> Score:
    """The figures of a set of walks; the median of an even number is the lower of the two."""
    taps = sorted(len(w.asked) for w in walks)
    verdicts = [judge(house, w.cook, w.first, w.end) for w in walks]

    def share(of: Iterable[bool]) -> float:
        return sum(of) / len(walks)

    return Score(
        count=len(walks),
        median=taps[(len(taps) - 1) // 2],
        ninetieth=taps[math.ceil(0.9 * len(taps)) - 1],
        listed=share(v.listed for v in verdicts),
        right=share(v.right for v in verdicts),
        best=share(v.best for v in verdicts),
    )


def by_stage(house: House, cooks: Mapping[str, Sequence[Cook]]) -> None:
    """Complete honest answers, stage by stage and overall."""
    print(f"\n{HONEST}. Taps after the complaint (add 1 for it): median, 90th percentile;")
    print('share of first remedies right, and best. "All told": right if every look is told.\n')
    print(f"{'stage':12}    n | " + " | ".join(f"{w:16}" for w in WAYS) + " | all told")
    whole: dict[str, list[Walk]] = {way: [] for way in WAYS}
    everything: list[Verdict] = []
    for stage, there in cooks.items():
        cells = []
        for way, choose in WAYS.items():
            walks = [walk(house, cook, HONEST, choose) for cook in there]
            whole[way] += walks
            cells.append(f"{score(house, walks)!s:16}")
        told = [_judged_all_told(house, cook) for cook in there]
        everything += told
        print(f"{stage:12} {len(there):4} | {' | '.join(cells)} | {_right(told):.2f}", flush=True)
    cells = [f"{score(house, walks)!s:16}" for walks in whole.values()]
    print(f"{'all':12} {len(everything):4} | {' | '.join(cells)} | {_right(everything):.2f}")
    fine = house.dough.carry_on
    faulty = {way: [w for w in walks if w.cook.cause != fine] for way, walks in whole.items()}
    cells = [f"{score(house, walks)!s:16}" for walks in faulty.values()]
    print(f"{'(not fine)':12} {len(faulty['tool']):4} | {' | '.join(cells)} |")
    print('"not fine": without the cooks who complain although nothing is wrong')
    listed = ", ".join(f"{way} {score(house, w).listed:.2f}" for way, w in whole.items())
    print(f"share whose first remedy the true cause lists, gates not counted: {listed}")


def _judged_all_told(house: House, cook: Cook) -> Verdict:
    end = all_told(cook)
    return judge(house, cook, house.diagnose(end).plan[0].remedy, end)


def _right(verdicts: Sequence[Verdict]) -> float:
    return sum(v.right for v in verdicts) / len(verdicts)


def by_noise(house: House, cooks: Mapping[str, Sequence[Cook]]) -> None:
    """How it degrades, over all stages."""
    print("\nAll stages, by the share of answers that are wrong or missing\n")
    print(f"{'answers':24} | " + " | ".join(f"{w:16}" for w in WAYS))
    for noise in NOISES:
        cells = []
        for choose in WAYS.values():
            walks = [walk(house, c, noise, choose) for there in cooks.values() for c in there]
            cells.append(f"{score(house, walks)!s:16}")
        print(f"{noise!s:24} | {' | '.join(cells)}", flush=True)


def by_cause(house: House, cooks: Mapping[str, Sequence[Cook]]) -> None:
    """Where the tool's first remedy is not right although every answer was."""
    print("\nBy true cause, honest answers: n, right, right if all told; wrong first remedies\n")
    for stage, there in cooks.items():
        for cause in dict.fromkeys(sorted(c.cause for c in there)):
            walks = [walk(house, c, HONEST, tools_choice) for c in there if c.cause == cause]
            told = [_judged_all_told(house, w.cook) for w in walks]
            wrong = Counter(
                f"{w.first} (said {w.cook.complaint})"
                for w in walks
                if not judge(house, w.cook, w.first, w.end).right
            )
            said = ", ".join(f"{n} x {what}" for what, n in wrong.most_common(4))
            here = score(house, walks)
            print(
                f"{stage:10} {cause:32} {here.count:3} {here.right:.2f} {_right(told):.2f}  {said}"
            )
        asked = Counter(name for c in there for name in walk(house, c, HONEST, tools_choice).asked)
        print(f"{stage:10} asked: {', '.join(f'{n} x {q}' for q, n in asked.most_common())}\n")


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--each", type=int, default=60, help="situations at each stage")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--stage", action="append", help="only this stage; may be repeated")
    options.add_argument("--causes", action="store_true", help="only the table by true cause")
    given = options.parse_args(arguments)
    house = House(open_book())
    stages = [s.id for s in house.dough.stages if not given.stage or s.id in given.stage]
    print(LABEL)
    cooks = {stage: draw_cooks(house, stage, given.each, given.seed) for stage in stages}
    if given.causes:
        by_cause(house, cooks)
        return
    by_stage(house, cooks)
    by_noise(house, cooks)


if __name__ == "__main__":
    main()
