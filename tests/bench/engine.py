"""The engine beside its peers, printed; nothing here is a test.

    .venv/bin/python tests/bench/engine.py [300] [2000] [book]

Raw experta (its own network, its own order, rules as class attributes, a fact class per sign) and
CLIPS run in the same process, turn about, on generated books of 300 and 2,000 rules (120 signs and
readings, 15 answers, chains four deep) and on the shipped book. Times are medians of processor
time; ratios carry over to another machine, milliseconds do not. Every line is

    name | ours | peer | ratio (peer / ours)
"""

from __future__ import annotations

import gc
import math
import random
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from clips_book import ClipsBook
from diagnose.consulting import open_book
from diagnose.engine import session
from diagnose.engine.compiling import CompiledRules, compile_rules, salience_of
from diagnose.engine.plain import evaluate
from diagnose.engine.session import Session, run
from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.phrases import PRESENT, Phrase, Presence, Truth, Value
from diagnose.knowledge.strata import levels
from rulebooks import (
    generated_facts,
    generated_rulebook,
    random_facts,
    random_rulebook,
)

from experta import NOT, Fact, KnowledgeEngine, P
from experta import Rule as EngineRule
from experta.matchers import ReteMatcher

QUESTIONS = 40
WEIGHT = 1.1


class OwnNetwork(session._Run):
    """Our rules and firing order on experta's own network."""

    __matcher__ = ReteMatcher


# --- raw experta -------------------------------------------------------------------------------


def raw_class(dough: Dough) -> tuple[type, dict[str, type]]:
    """A stock engine class: rules as class attributes, one fact class per sign or finding."""
    level = levels(dough.rules)
    classes: dict[str, type] = {}
    tests: dict[tuple[str, Phrase], Any] = {}

    def pattern(subject: str, phrase: Phrase) -> Any:
        if subject not in classes:
            classes[subject] = type(f"Raw_{len(classes)}", (Fact,), {})
        if isinstance(phrase, Presence):
            return classes[subject]() if phrase.present else NOT(classes[subject]())
        key = (subject, phrase)
        if key not in tests:
            tests[key] = P(lambda value: phrase.judge(value) is Truth.YES)
        return classes[subject](value=tests[key])

    def engine_rule(rule: Rule) -> Any:
        patterns = [pattern(c.subject, c.phrase) for c in rule.when]
        patterns += [NOT(pattern(c.subject, c.phrase)) for c in rule.unless]

        def act(self: Any) -> None:
            self.said.append(rule.id)
            if rule.concludes is not None and rule.concludes in classes:
                self.declare(classes[rule.concludes](value=PRESENT))

        return EngineRule(*patterns, salience=salience_of(level[rule.id]))(act)

    rules = [rule for rule in dough.rules if rule.standing != "retired"]
    body = {f"rule_{place}": engine_rule(rule) for place, rule in enumerate(rules)}
    return type("Raw", (KnowledgeEngine,), {**body, "said": []}), classes


class Raw:
    """Stock experta over a book."""

    def __init__(self, dough: Dough) -> None:
        made, self.classes = raw_class(dough)
        self.engine = made()

    def run(self, facts: Mapping[str, Value]) -> set[str]:
        engine = self.engine
        engine.said = []
        engine.reset()
        engine.declare(
            *(self.classes[name](value=value) for name, value in facts.items()
              if name in self.classes)
        )  # fmt: skip
        engine.run()
        return set(engine.said)


# --- books -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Bed:
    """A book to measure on, with situations."""

    name: str
    dough: Dough
    situations: Sequence[Mapping[str, Value]]
    choices: Mapping[str, tuple[Value, ...]]
    """Three answers for each thing that can be asked."""


def generated(size: int) -> Bed:
    dice = random.Random(size)
    choices: dict[str, tuple[Value, ...]] = {f"sign-{n}": ("a", "b", "c") for n in range(75)}
    choices |= {f"reading-{n}": (15.0, 45.0, 85.0) for n in range(45)}
    situations = [generated_facts(dice) for _ in range(60)]
    return Bed(f"{size} rules", generated_rulebook(size), situations, choices)


def shipped() -> Bed:
    dough = open_book().book.doughs[0]
    dice = random.Random(0)
    choices: dict[str, tuple[Value, ...]] = {
        sign.id: tuple(answer.id for answer in sign.answers)[:3] for sign in dough.signs
    }
    for reading in dough.readings:
        low, high = reading.likely
        choices[reading.id] = tuple(low + (high - low) * part for part in (0.2, 0.5, 0.8))
    situations = []
    for _ in range(60):
        asked = dice.sample(sorted(choices), 15)
        stage = dice.choice(dough.stages).id
        situations.append({"stage": stage, **{name: dice.choice(choices[name]) for name in asked}})
    return Bed(f"book, {len(dough.rules)} rules", dough, situations, choices)


# --- timing ------------------------------------------------------------------------------------


def turn_about(*actions: Callable[[], object], rounds: int) -> list[float]:
    """Median milliseconds of processor time of each action, run turn about."""
    taken: list[list[float]] = [[] for _ in actions]
    for action in actions:
        action()
    for _ in range(rounds):
        for times, action in zip(taken, actions, strict=True):
            start = time.process_time_ns()
            action()
            times.append((time.process_time_ns() - start) / 1e6)
    return [statistics.median(times) for times in taken]


def line(name: str, ours: float, peer: float, unit: str = "ms", note: str = "") -> None:
    print(f"{name:58} | {ours:9.3f} {unit} | {peer:10.3f} {unit} | {peer / ours:9.2f} {note}")


# --- the measures ------------------------------------------------------------------------------


def compiling(bed: Bed) -> None:
    def first() -> None:
        run(compile_rules(bed.dough), {})

    compiled = compile_rules(bed.dough)
    ours, raw, clips = turn_about(
        first, lambda: Raw(bed.dough), lambda: ClipsBook(compiled), rounds=5
    )
    line(f"B1 {bed.name}: compile + first session, raw experta", ours, raw)
    line(f"B1 {bed.name}: compile + first session, CLIPS", ours, clips)


def whole_run(bed: Bed, compiled: CompiledRules, raw: Raw, peer: ClipsBook) -> None:
    environment = peer.environment

    def clips() -> None:
        environment.reset()
        peer.fired.clear()
        peer.tell_all(facts)
        environment.run()

    ours, clipped, raws = [], [], []
    for _ in range(5):
        for place, facts in enumerate(bed.situations):
            start = time.process_time_ns()
            run(compiled, facts)
            middle = time.process_time_ns()
            clips()
            end = time.process_time_ns()
            ours.append(middle - start)
            clipped.append(end - middle)
            if place % 20 == 0:
                raw.run(facts)
                raws.append(time.process_time_ns() - end)
    mine, theirs, stock = (statistics.median(t) / 1e6 for t in (ours, clipped, raws))
    line(f"B2 {bed.name}: full run, 15 answers, raw experta", mine, stock)
    line(f"B2 {bed.name}: full run, 15 answers, CLIPS (callback)", mine, theirs)


def one_change(bed: Bed, compiled: CompiledRules) -> None:
    facts = dict(bed.situations[0])
    asked = [name for name in facts if name in bed.choices]
    live, network = Session(compiled), Session(compiled, OwnNetwork)
    peer = ClipsBook(compiled, logical=True)
    peer.environment.reset()
    told = {}
    for name, value in facts.items():
        live.answer(name, value)
        network.answer(name, value)
        told[name] = peer.tell(name, value)
    live.settle()
    network.settle()
    peer.environment.run()
    dice = random.Random(5)
    changes = [(dice.choice(asked), dice.randrange(3)) for _ in range(400)]

    def changed(target: Session, name: str, value: Value) -> None:
        target.answer(name, value)
        target.settle()

    times: list[list[int]] = [[], [], []]
    for number, (name, choice) in enumerate(changes):
        value = bed.choices[name][choice % len(bed.choices[name])]
        start = time.process_time_ns()
        changed(live, name, value)
        one = time.process_time_ns()
        told[name].retract()
        told[name] = peer.tell(name, value)
        peer.environment.run()
        two = time.process_time_ns()
        times[0].append(one - start)
        times[1].append(two - one)
        if number < 30:
            changed(network, name, value)
            times[2].append(time.process_time_ns() - two)
    ours, clips, rete = (statistics.mean(t) / 1e6 for t in times)
    said = {fact[0] for fact in peer.environment.find_template("said").facts()}
    if said != {rule.id for rule in live.settle().spoke}:
        raise SystemExit("CLIPS and the session differ after the changes")
    line(f"B3 {bed.name}: one answer changed (mean), experta's network", ours, rete)
    line(f"B3 {bed.name}: one answer changed (mean), CLIPS logical", ours, clips)


Shift = dict[str, float]
Worlds = list[tuple[str, Value]]


def about(rule: Rule) -> tuple[str, float] | None:
    """The cause a rule bears on and its weight, the same for every contender."""
    if rule.points_to is not None:
        return rule.points_to, WEIGHT
    if rule.points_away_from is not None:
        return rule.points_away_from, -WEIGHT
    return None


def gains(causes: Sequence[str], base: Shift, worlds: Worlds, shifts: list[Shift]) -> list[float]:
    """Coherent expected fall of entropy for each question: P(answer | cause) adds up to one.

    A cause that no answer to the question moves keeps its share under each of them, so only the
    causes that move are gone through. Every contender is scored by this function.
    """
    weights = {cause: math.exp(base.get(cause, 0.0)) for cause in causes}
    whole = math.fsum(weights.values())
    prior = {cause: weight / whole for cause, weight in weights.items()}
    terms = {cause: p * math.log(p) for cause, p in prior.items()}
    before = sum(terms.values())
    found = []
    start = 0
    while start < len(worlds):
        end = start
        while end < len(worlds) and worlds[end][0] == worlds[start][0]:
            end += 1
        answers = shifts[start:end]
        moved = {cause for shift in answers for cause in shift}
        start = end
        if not moved:
            found.append(0.0)
            continue
        count = len(answers)
        still = 1.0 - sum(prior[cause] for cause in moved)
        after = before - sum(terms[cause] for cause in moved) - still * math.log(count)
        chances = [still / count] * count
        for cause in moved:
            moves = [shift.get(cause, 0.0) for shift in answers]
            grown = [math.exp(move) for move in moves]
            share = prior[cause] / sum(grown)
            # the sum of j log j over the answers, with j = share x exp(move)
            after += prior[cause] * math.log(share)
            for place, growth in enumerate(grown):
                joint = share * growth
                chances[place] += joint
                after += joint * moves[place]
        after -= sum(chance * math.log(chance) for chance in chances)
        found.append(after - before)
    return found


def ours_ahead(
    compiled: CompiledRules, evidence: list[tuple[int, str, float]], causes: Sequence[str],
    facts: Mapping[str, Value], worlds: Worlds,
) -> list[float]:  # fmt: skip
    spoken = evaluate_worlds(compiled.net, facts, [{name: value} for name, value in worlds])
    everywhere = (1 << len(worlds) + 1) - 1
    base: Shift = {}
    shifts: list[Shift] = [{} for _ in worlds]
    for place, cause, weight in evidence:
        bits = spoken.rules[place]
        if not bits:
            continue
        if bits & 1:
            base[cause] = base.get(cause, 0.0) + weight
            bits ^= everywhere
            weight = -weight
        while bits:
            low = bits & -bits
            shift = shifts[low.bit_length() - 2]
            shift[cause] = shift.get(cause, 0.0) + weight
            bits ^= low
    return gains(causes, base, worlds, shifts)


class ClipsAhead:
    """The question step in CLIPS: each answer asserted, run, read, retracted."""

    def __init__(self, compiled: CompiledRules, causes: Sequence[str]) -> None:
        self.peer = ClipsBook(compiled, logical=True)
        self.about = {rule.id: about(rule) for rule in compiled.rules}
        self.causes = causes

    def start(self, facts: Mapping[str, Value]) -> None:
        self.peer.environment.reset()
        for name, value in facts.items():
            self.peer.tell(name, value)
        self.peer.environment.run()
        self.read()

    def read(self) -> None:
        template = self.peer.environment.find_template("said")
        self.said = {fact[0]: fact for fact in template.facts()}

    def step(self, worlds: Worlds) -> list[float]:
        base: Shift = {}
        for name in self.said:
            if (bearing := self.about[name]) is not None:
                base[bearing[0]] = base.get(bearing[0], 0.0) + bearing[1]
        shifts = []
        for name, value in worlds:
            self.peer.fired.clear()
            told = self.peer.tell(name, value)
            self.peer.environment.run()
            shift: Shift = {}
            gone = [rule for rule, fact in self.said.items() if not fact.exists]
            for rules, sign in ((self.peer.fired, 1), (gone, -1)):
                for rule in rules:
                    if (bearing := self.about[rule]) is not None:
                        shift[bearing[0]] = shift.get(bearing[0], 0.0) + sign * bearing[1]
            shifts.append(shift)
            told.retract()
            self.peer.environment.run()
            if gone:
                self.read()
        return gains(self.causes, base, worlds, shifts)


def question_step(bed: Bed, compiled: CompiledRules, raw: Raw) -> None:
    bearing = [(place, about(rule)) for place, rule in enumerate(compiled.rules)]
    evidence = [(place, found[0], found[1]) for place, found in bearing if found is not None]
    causes = sorted({cause for _, cause, _ in evidence})
    ahead = ClipsAhead(compiled, causes)
    mine, theirs, reruns, apart = [], [], [], 0.0
    for facts in bed.situations[:8]:
        open_ = [name for name in sorted(bed.choices) if name not in facts][:QUESTIONS]
        worlds = [(name, value) for name in open_ for value in bed.choices[name]]
        ahead.start(facts)
        for _ in range(3):
            start = time.process_time_ns()
            ours = ours_ahead(compiled, evidence, causes, facts, worlds)
            middle = time.process_time_ns()
            peers = ahead.step(worlds)
            end = time.process_time_ns()
            mine.append((middle - start) / 1e6)
            theirs.append((end - middle) / 1e6)
            apart = max(apart, *(abs(a - b) for a, b in zip(ours, peers, strict=True)))
        name, value = worlds[len(worlds) // 2]
        start = time.process_time_ns()
        raw.run({**facts, name: value})
        reruns.append((time.process_time_ns() - start) / 1e6)
    ours_ms = statistics.median(mine)
    p95 = sorted(mine)[int(len(mine) * 0.95)]
    each = statistics.median(reruns)
    count = len(worlds) + 1
    size = f"{len(open_)} questions, {len(worlds)} answers"
    line(
        f"B4 {bed.name}: {size}, raw experta run again",
        ours_ms,
        each * count,
        note=f"({len(reruns)} worlds timed, x {count})",
    )
    line(f"B4 {bed.name}: {size}, CLIPS incremental", ours_ms, statistics.median(theirs))
    print(f"   p95 of ours {p95:.3f} ms; largest difference of a gain from CLIPS {apart:.1e}")


def memory(bed: Bed, compiled: CompiledRules) -> None:
    facts = bed.situations[0]

    def per_session(make: Callable[[], object], count: int) -> float:
        make()
        gc.collect()
        tracemalloc.start()
        kept = [make() for _ in range(count)]
        gc.collect()
        taken, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return taken / count / 1024 if kept else 0.0

    def ours() -> Session:
        live = Session(compiled)
        for name, value in facts.items():
            live.answer(name, value)
        live.settle()
        return live

    def raw() -> Any:
        engine = made()
        engine.said = []
        engine.reset()
        engine.declare(*(classes[n](value=v) for n, v in facts.items() if n in classes))
        engine.run()
        return engine

    made, classes = raw_class(bed.dough)
    mine = per_session(ours, 40)
    line(f"B5 {bed.name}: memory a session, raw experta", mine, per_session(raw, 2), "KiB")
    peer = ClipsBook(compiled)
    peer.run(facts)
    used = float(peer.environment.eval("(mem-used)")) / 1024
    line(f"B5 {bed.name}: memory a session, CLIPS environment", mine, used, "KiB")


def correctness(bed: Bed, compiled: CompiledRules, raw: Raw, peer: ClipsBook) -> None:
    ours = stock = 0
    for facts in bed.situations:
        expected = evaluate(compiled.rules, facts)
        if peer.run(facts) != expected:
            raise SystemExit("CLIPS and the plain evaluator differ")
        ours += run(compiled, facts) != expected
    some = bed.situations[:20]
    for facts in some:
        stock += raw.run(facts) != {rule.id for rule in evaluate(compiled.rules, facts).spoke}
    print(
        f"B6 {bed.name}: wrong of {len(bed.situations)} situations, judged by CLIPS: "
        f"ours {ours}; raw experta {stock} of {len(some)}"
    )


def small_books() -> None:
    """B6 on small books of every form."""
    wrong = dict.fromkeys(("ours", "network", "stock"), 0)
    pairs = 0
    for seed in range(100):
        dough = random_rulebook(seed)
        compiled = compile_rules(dough)
        peer, raw = ClipsBook(compiled), Raw(dough)
        dice = random.Random(seed)
        for _ in range(5):
            facts = random_facts(dice)
            expected = peer.run(facts)
            pairs += 1
            wrong["ours"] += run(compiled, facts) != expected
            wrong["network"] += run(compiled, facts, OwnNetwork) != expected
            wrong["stock"] += raw.run(facts) != {rule.id for rule in expected.spoke}
    print(
        f"B6 small books: {pairs} books and facts, wrong by CLIPS: ours {wrong['ours']}, "
        f"experta's network in our order {wrong['network']}, raw experta {wrong['stock']}"
    )


def main(wanted: Sequence[str]) -> None:
    print(f"{'name':58} | {'ours':12} | {'peer':13} | ratio")
    for name in wanted:
        bed = shipped() if name == "book" else generated(int(name))
        compiled = compile_rules(bed.dough)
        speaking = statistics.mean(len(evaluate(compiled.rules, f).spoke) for f in bed.situations)
        print(f"-- {bed.name}; {speaking:.1f} rules speak on average")
        compiling(bed)
        raw, peer = Raw(bed.dough), ClipsBook(compiled)
        gc.collect()
        gc.freeze()  # what stands is not looked through again while anyone is timed
        whole_run(bed, compiled, raw, peer)
        one_change(bed, compiled)
        question_step(bed, compiled, raw)
        correctness(bed, compiled, raw, peer)
        memory(bed, compiled)
        gc.unfreeze()
    small_books()


if __name__ == "__main__":
    main(sys.argv[1:] or ["300", "2000", "book"])
