"""The part of a lab summary that the program argues: claim, evidence, reasoning, contrast, and what others say of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from spotplate.cli.views.identification import finer_kinds, settling
from spotplate.cli.views.words import count, listed, percent, signed
from spotplate.engine import Identification, VerdictKind
from spotplate.engine.reasoning import Reason
from spotplate.engine.second_opinion import Agreement, Suspect
from spotplate.kb import KnowledgeBase

from .model import Likelihood, Section, Statement

_VERDICTS = {
    VerdictKind.INCONCLUSIVE: "The verdict is inconclusive: the readings do not decide, so no bonding class is claimed.",
    VerdictKind.CONTRADICTORY: "The verdict is contradictory: the readings cannot all be right, so no bonding class is claimed.",
}
_MOST_CANDIDATES = 3
_MOST_CAUSES = 3  # that part the first two classes, told on either side
# Title, question and lines to write on, in the order of the page. The questions give nothing away.
_TO_WRITE = (
    ("Claim", "Which bonding class does the substance belong to, or why can it not be told?", 2),
    ("Evidence", "Which readings speak for this, and which against it?", 4),
    ("Reasoning", "What do these readings tell of the particles, and of what holds them together?", 5),
    ("Contrast", "Which class comes second, and which readings speak against it?", 3),
)


class Sources:
    """The sources cited so far, each with one number and with the rules that cite it."""

    def __init__(self) -> None:
        self._rules: dict[str, list[str]] = {}

    def number(self, source: str, rule: str) -> int:
        """Number of a source in the list, from 1 on."""
        rules = self._rules.setdefault(source, [])
        if rule not in rules:
            rules.append(rule)
        return list(self._rules).index(source) + 1

    def listed(self) -> tuple[str, ...]:
        """The sources in the order of their numbers."""
        return tuple(f"{source}; {_rules_named(rules)}" for source, rules in self._rules.items())


def _rules_named(rules: Sequence[str]) -> str:
    return f"{'rule' if len(rules) == 1 else 'rules'} {', '.join(rules)}"


def ranking(result: Identification) -> tuple[Likelihood, ...]:
    """The classes, likeliest first."""
    return tuple(
        Likelihood(item.class_, percent(item.probability), signed(item.decibans), item.probability) for item in result.ranking
    )


def ranked_by(result: Identification) -> str:
    """What the figures of the ranking mean."""
    vials = result.candidates.set_size
    of_set = f" It starts from the make-up of the unknowns set of {count(vials, 'vial')}." if vials else ""
    return (
        "How probable each bonding class is on these readings. Ten decibans of evidence make its odds about ten times as great."
        + of_set
    )


def proposed_tests(result: Identification) -> set[str]:
    """The tests that the argument proposes, whose cautions it owes."""
    parts = result.cross_check.parts_company
    settled_by = {parts.settled_by.test} if parts and parts.settled_by else set()
    return settled_by | {test.test for test in result.next_tests}


def empty_sections() -> tuple[Section, ...]:
    """The parts of the argument for the student to write."""
    return tuple(Section(title, asks, lines=lines) for title, asks, lines in _TO_WRITE)


def filled_sections(result: Identification, knowledge: KnowledgeBase) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """The argument in the program's sentences, and the sources that they cite."""
    sources = Sources()
    written = (
        tuple(_claim(result, knowledge)),
        tuple(_evidence(result)),
        tuple(_reasoning(result, knowledge, sources)),
        tuple(_contrast(result, knowledge)),
    )
    argument = [Section(title, asks, program, lines) for (title, asks, lines), program in zip(_TO_WRITE, written, strict=True)]
    doubts = tuple(statement for suspect in result.suspects for statement in _doubt(suspect, result))
    if doubts:
        argument.insert(0, Section("Readings that do not go with the rest", "Which readings are worth repeating?", doubts))
    if result.record.readings:
        others = (*_cross_check(result, knowledge), *_candidates(result))
        argument.append(Section("Second opinions", "What else judges this record?", others))
    return tuple(argument), sources.listed()


def _speaks(result: Identification) -> bool:
    """Whether any reading speaks for or against any class."""
    return any(result.reasons.values())


# --- claim ---------------------------------------------------------------------------------------


def _claim(result: Identification, knowledge: KnowledgeBase) -> Iterator[Statement]:
    verdict = result.verdict
    if verdict.class_:
        yield Statement(f"The substance in this vial belongs to the bonding class {verdict.class_}; the verdict is conclusive.")
    else:
        yield Statement(_VERDICTS[verdict.kind])
    yield from map(Statement, verdict.reasons)
    if kinds := finer_kinds(result, knowledge):
        yield Statement(f"The readings point to this finer kind: {listed(kinds)}.")
    if result.next_tests:
        told = [f"{test.test}{' (the teacher must agree first)' if test.teacher else ''}" for test in result.next_tests]
        yield Statement(f"What would help most: {'; '.join(told)}.")


# --- evidence ------------------------------------------------------------------------------------


def _evidence(result: Identification) -> Iterator[Statement]:
    if not _speaks(result):
        yield Statement("No reading speaks for or against any bonding class yet.")
        return
    first = result.ranking[0].class_
    counted = _counted(result)
    if not counted:
        yield Statement(f"No reading speaks for or against {first}, the first class of the ranking.")
    for reason in counted:
        speaks = "speaks" if len(reason.readings) == 1 else "speak"
        side = "for" if reason.decibans > 0 else "against"
        weight = f"{reason.word}, {signed(reason.decibans)} decibans; {reason.cause}"
        yield Statement(f"{_seen(reason.readings, result)} {speaks} {side} {first} ({weight}).")
    for dependence in result.rests_on:
        then = f"{dependence.first_without} would be first, with {percent(dependence.probability_without)}"
        yield Statement(f"Without {_seen((dependence.reading,), result)} {then}.")
    if not result.rests_on:
        yield Statement("Leaving out any single reading changes next to nothing.")


def _counted(result: Identification) -> list[Reason]:
    """What speaks for and against the first class, without further signs of one cause."""
    return [reason for reason in result.reasons[result.ranking[0].class_] if reason.counted]


def _seen(readings: Sequence[str], result: Identification) -> str:
    return listed([f"“{name}: {result.record.readings[name]}”" for name in readings])


# --- reasoning -----------------------------------------------------------------------------------


def _reasoning(result: Identification, knowledge: KnowledgeBase, sources: Sources) -> Iterator[Statement]:
    """From readings to particles, and from these to the class; a step that several reasons share is told once."""
    if not _speaks(result):
        yield Statement("Without such a reading nothing can be said of the particles.")
        return
    first = result.ranking[0].class_
    yield Statement(f"What {first} means: {_model(first, knowledge)}")
    told: set[str] = set()
    for reason in _counted(result):
        for step in reason.steps:
            if step.rule not in told and step.rule != reason.rule:
                told.add(step.rule)
                after = _seen(step.readings, result) if step.readings else "what was said above"
                yield Statement(f"From {after}: {step.because}", sources.number(step.source, step.rule))
        side = "For" if reason.decibans > 0 else "Against"
        yield Statement(f"{side} {first}: {reason.because}", sources.number(reason.source, reason.rule))
    for kind in finer_kinds(result, knowledge):
        yield Statement(f"The finer kind {kind}: {knowledge.subtypes[kind].because}")


def _model(class_: str, knowledge: KnowledgeBase) -> str:
    return " ".join(knowledge.classes[class_].model.split())


# --- contrast ------------------------------------------------------------------------------------


def _contrast(result: Identification, knowledge: KnowledgeBase) -> Iterator[Statement]:
    if not _speaks(result):
        yield Statement("No reading parts one bonding class from another yet.")
        return
    contrast = result.contrast
    first, second = contrast.first, contrast.second
    yield Statement(f"The runner-up is {second}{_behind(contrast.lead, first)}. It means: {_model(second, knowledge)}")
    for difference in contrast.parted_by[:_MOST_CAUSES]:
        cause, weight = difference.cause.capitalize(), signed(difference.decibans)
        yield Statement(f"{cause}, {weight} decibans for {first} and not {second}: {difference.because}")
    if not contrast.parted_by:
        yield Statement(f"Nothing in the record speaks more for {first} than for {second}.")
    for difference in contrast.other_way[:_MOST_CAUSES]:
        cause, weight = difference.cause.capitalize(), signed(-difference.decibans)
        yield Statement(f"{cause}, the other way, {weight} decibans for {second} and not {first}: {difference.because}")


def _behind(lead: float, first: str) -> str:
    if lead > 0:
        return f", {lead:.0f} decibans behind {first}"
    # With the make-up of a set as prior, the first class need not be the one that the readings favour.
    return f"; the readings put it level with {first}" if lead == 0 else f", though the readings put it before {first}"


# --- doubts and second opinions ------------------------------------------------------------------


def _doubt(suspect: Suspect, result: Identification) -> Iterator[Statement]:
    seen = _seen((suspect.reading,), result)
    if suspect.explained_by:
        yield Statement(f"{seen} is unusual, but it is what {suspect.explained_by} shows; it is not called misread.")
        return
    expected = f"; the other readings lead one to expect “{suspect.predicted[0].value}”" if suspect.predicted else ""
    yield Statement(f"{seen} was misread with a probability of {percent(suspect.probability)}{expected}.")
    yield Statement(f"To repeat it: {suspect.repeat.strip()}")


def _cross_check(result: Identification, knowledge: KnowledgeBase) -> Iterator[Statement]:
    second, of_rules = result.cross_check, result.ranking[0].class_
    whole = sum(second.makeup.values())
    own = f"{second.makeup.get(second.class_, 0)} of the {count(whole, 'reference substance')} that such a record leads to"
    tree = "The decision tree, which was grown on the reference table,"
    if second.agreement is Agreement.SILENT:
        why = "few" if whole < knowledge.second_opinion.tree.substances else "mixed"
        yield Statement(
            f"{tree} is silent: the {count(whole, 'reference substance')} that such a record leads to are too {why} to tell."
        )
    elif second.agreement is Agreement.AGREES:
        yield Statement(f"{tree} agrees: {own} are {second.class_}.")
    else:
        yield Statement(f"{tree} disagrees: {own} are {second.class_}, not {of_rules}.")
    if parts := second.parts_company:
        yield Statement(f"Rules and tree part company at {parts.says}")
        yield Statement(settling(parts.settled_by, parts.reading))


def _candidates(result: Identification) -> Iterator[Statement]:
    found = result.candidates
    best = [f"{item.name} ({percent(item.probability)})" for item in found.best[:_MOST_CANDIDATES]]
    of = "the unknowns set" if found.set_size else "the reference table"
    none = f"none of these, {percent(found.none_of_these)}"
    if not best:
        yield Statement(f"No substance of {of} stands out; {none}.")
        return
    further = "Take these as substances to test further, not as an identification."
    yield Statement(f"Of {of} the record fits best: {'; '.join(best)}; {none}. {further}")
