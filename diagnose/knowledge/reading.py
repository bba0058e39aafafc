"""Reading one dough: YAML text to a checked part of a book, with every mistake named.

``read_dough`` reads the head itself and hands each section to the module that knows it. What the
whole file must satisfy beyond single entries (no circles of findings, whole cases that could be
told) is checked at the end, once everything else could be read.
"""

from __future__ import annotations

from collections.abc import Iterable

from . import keys
from .book import Dough, EvidenceRow, Rule, SourceEntry
from .fields import NAME, Fields, Report
from .modes import read_failure_mode
from .names import Names, collect
from .nodes import SHIPPED, Limits, Mapping, read_nodes
from .problems import Problem, quoted
from .reading_advice import read_cause, read_remedy
from .reading_cases import read_whole_case
from .reading_rules import read_evidence_row, read_retired, read_rule
from .reading_stages import read_house_batch, read_stage
from .reading_vocabulary import (
    read_caution,
    read_computed,
    read_each,
    read_finding,
    read_reading,
    read_sign,
)
from .strata import Circular, circle_in_words, levels

FORMAT = "1"
"""The format of knowledge files that this program reads."""


def read_dough(
    text: str, file: str, sources: Iterable[SourceEntry] | None, limits: Limits = SHIPPED
) -> tuple[Dough | None, list[Problem]]:
    """One dough, or None and what is wrong; the two are never both empty.

    ``sources`` are the entries that a ``see`` may name; None leaves that unchecked, for when the
    sources themselves could not be read. Any text at all gives a dough or problems.
    """
    root, problems = read_nodes(text, file, limits)
    if root is None:
        return None, problems
    report = Report(file)
    report.problems.extend(problems)
    if not isinstance(root, Mapping):
        report.add(
            root.line, "", "this is not a knowledge file.", 'It begins with "format: 1" and names.'
        )
        return None, report.problems
    if not _format_fits(root, report):
        return None, report.problems
    source_keys = None if sources is None else [entry.key for entry in sources]
    dough = _dough(root, collect(root, source_keys, report), report)
    return dough, sorted(report.problems)


def _format_fits(root: Mapping, report: Report) -> bool:
    written = next((entry for entry in root.entries if entry.key == "format"), None)
    if written is None:
        return True  # reported as a missing key, together with everything else
    text = str(getattr(written.value, "text", "")).strip()
    if text == FORMAT:
        return True
    report.add(
        written.line,
        "",
        f"this file says it is written in format {quoted(text)}, and this program reads format "
        f"{FORMAT}.",
        f"Use the program that belongs to the file, or write format: {FORMAT} if that is what "
        "it is.",
    )
    return False


def _dough(root: Mapping, names: Names, report: Report) -> Dough | None:
    head = Fields(root, "", keys.FILE, report)
    name = head.text("dough")
    if name and not NAME.fullmatch(name):
        head.wrong(
            head.line_of("dough"),
            f"{quoted(name)} cannot be a name.",
            "Use 2 to 41 small letters, digits and hyphens, like milk-panade-slab.",
        )
    house_batch = read_house_batch(head)
    dough_parts = {
        "title": head.text("title"),
        "covers": head.text("covers"),
        "does_not_cover": head.text("does not cover"),
        "carry_on": head.name("nothing wrong", "cause", names.causes),
    }
    stages = read_each(head, "stages", "stage", read_stage, names)
    signs = read_each(head, "signs", "sign", read_sign, names)
    readings = read_each(head, "readings", "reading", read_reading, names)
    computed = read_each(head, "computed readings", "computed reading", read_computed, names)
    findings = read_each(head, "findings", "finding", read_finding, names)
    causes = read_each(head, "causes", "cause", read_cause, names)
    remedies = read_each(head, "remedies", "remedy", read_remedy, names)
    cautions = read_each(head, "cautions", "caution", read_caution, names)
    evidence = _evidence(head, names)
    rules = read_each(head, "rules", "rule", read_rule, names)
    retired = read_each(head, "retired", "retired rule", read_retired, names)
    modes = read_each(head, "failure modes", "failure mode", read_failure_mode, names)
    _check_circles(rules, report)
    if house_batch is None or report.problems:
        _whole_case_keys(head, names)
        return None
    dough = Dough(
        id=name,
        house_batch=house_batch,
        stages=stages,
        signs=signs,
        readings=readings,
        computed=computed,
        findings=findings,
        causes=causes,
        remedies=remedies,
        evidence=evidence,
        rules=rules,
        cautions=cautions,
        whole_cases=(),
        failure_modes=modes,
        retired=retired,
        file=report.file,
        **dough_parts,
    )
    whole_cases = read_each(
        head, "whole cases", "whole case", lambda e, n, r: read_whole_case(e, n, r, dough), names
    )
    if report.problems:
        return None
    return dough.model_copy(update={"whole_cases": whole_cases})


def _whole_case_keys(head: Fields, names: Names) -> None:
    """Without a dough a situation cannot be read, but the rest of a whole case can."""
    read_each(
        head, "whole cases", "whole case", lambda e, n, r: read_whole_case(e, n, r, None), names
    )


def _evidence(head: Fields, names: Names) -> tuple[EvidenceRow, ...]:
    rows: list[EvidenceRow] = []
    if not head.has("evidence"):
        return ()
    seen: dict[str, int] = {}
    for node in head.items("evidence"):
        row = read_evidence_row(node, names, head.report)
        if row is None:
            continue
        if row.id in seen:
            head.report.add(
                row.line,
                f"evidence of {row.of} about {row.about}",
                f"there is another such row in line {seen[row.id]}.",
                "Put all answers of one sign about one cause into one row.",
            )
        seen.setdefault(row.id, row.line)
        rows.append(row)
    return tuple(rows)


def _check_circles(rules: Iterable[Rule], report: Report) -> None:
    rules = tuple(rules)
    try:
        levels(rules)
    except Circular as circular:
        lines = {rule.id: rule.line for rule in rules}
        for circle in circular.circles:
            report.add(
                lines[circle[0]],
                f"rule {circle[0]}",
                f"{circle_in_words(circle)}.",
                "Let one of them use what a cook can be asked instead of a finding.",
            )
