"""
The reply to a guessed class: what speaks against it, what it would have shown, and why it is something else.

Nothing here is written by hand for a substance: readings, rules and the reference table give all of it. A reading is told
to speak against a guess only where the table bears that out: clearly fewer substances of the guessed class show it than of the
true one, or hardly any do.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Sequence

import msgspec

from spotplate.engine.expected import expected_records
from spotplate.engine.identification import Identification, identify
from spotplate.engine.reasoning import Ranked, Reason, VerdictKind, contrast, readings_that_meet
from spotplate.engine.record import ReadValue, Record, make_record
from spotplate.engine.resemblance import fits, number_unit
from spotplate.kb import BenchTest, Condition, Interval, When

from .material import Material, Secrecy
from .question import Kind, Objection, Question, Reply
from .wording import capitalised, listed, may_be_said, quoted, special_of, substance_of, with_article

_SELDOM = 0.2  # [-] a reading that fewer of the guessed class show speaks against it, whatever the true class shows
_HALF = 0.5  # [-] what at least this share of the guessed class shows never speaks against it
_CLEARLY = 1.3  # [-] so much oftener, at least, must the true class show what is told to speak against the guess
_MOSTLY = 0.6  # [-] share of a class from which on "most" of it shows something
_OFTEN = 0.25  # [-] share of a class from which on a value is named among those it shows
_MOST_OBJECTIONS = 4
_MOST_EXPECTED = 3
_MOST_REASONS = 2
_TELLS = 1.5  # [-] how much oftener the true class shows a reading than the guessed one, for it to be named without a rule
_FEW = 3  # substances; a share of fewer says nothing of a class
_KNOWN = 0.3  # [-] share of a class of which a reading must be known; that of a few odd ones tells nothing of the others
_AS_TELLING = 0.5  # [-] so much of the most telling reading of a reason another must tell, to be named instead of it
_MOST_BESIDE = 3  # readings that are named beside a reason
_LOOKING = "look"
_LONG, _ASKING = 40.0, 0.25  # [min], [-]: so many minutes halve what a test is worth, and so much does asking for it count
_NO_SINGLE_TEST = "No single test of this bench settles it; only several of them together do."
_SMALL = 0.02  # [-] added to shares, so that none is nothing; and what hardly any of a class show


class Case(msgspec.Struct, frozen=True):
    """
    A guessed class beside what is known: the readings (those to be expected, where none were shown), and what is true.

    `shown` tells whether the readings were on the question.
    """

    record: Record
    found: Identification
    guess: str
    truth: str
    shown: bool


def case_of(question: Question, guess: str, material: Material) -> Case:
    """The case that a guess at a question makes."""
    if question.readings:
        record = make_record(question.readings, material.knowledge)
    else:
        record = next(expected_records(material.substances[question.substance], material.knowledge))
    found = identify(record, material.knowledge, advise=False)
    return Case(record, found, guess, _nearest_truth(question.truth, found), bool(question.readings))


def _nearest_truth(truth: Sequence[str], found: Identification) -> str:
    """Of several classes that are defended, the one that the readings fit best."""
    return next(item.class_ for item in found.ranking if item.class_ in truth)


def reply_to_class(question: Question, guess: str, material: Material) -> Reply:
    """The reply to a wrong class, part by part, without the mix-up."""
    case = case_of(question, guess, material)
    against, rules = objections(case, material)
    contrasts = parting_reasons(case, [rule.because for rule in rules], material)
    return Reply(
        opening=_opening(case, question, against, material),
        against=against,
        expected=expected_of_guess(case, question, material, [item.reading for item in against]),
        particles=particles(question, material),
        contrast=contrasts,
        decisive=decisive_test(case, question, material),
        sources=tuple(dict.fromkeys(rule.source for rule in rules)),
    )


# --- what the reference table says of a class ------------------------------------------------------


def share(class_: str, reading: str, value: ReadValue, material: Material) -> float | None:
    """How many substances of a class may honestly show a value [-]; None where the table tells of too few."""
    told = fits(reading, value, material.reference, material.knowledge).told
    of_class = [fit for fit, name in zip(told, material.reference.classes, strict=True) if name == class_]
    known = [fit for fit in of_class if fit is not None]
    return sum(known) / len(known) if len(known) >= max(_FEW, _KNOWN * len(of_class)) else None


def usual_values(class_: str, reading: str, material: Material) -> tuple[str, ...]:
    """The values that a class often shows, commonest first; empty for numbers, and where the table tells of few substances."""
    shares = {word: share(class_, reading, word, material) or 0.0 for word in material.knowledge.readings[reading].words()}
    return tuple(sorted((word for word in shares if shares[word] >= _OFTEN), key=lambda word: -shares[word]))


# --- the parts of the reply ------------------------------------------------------------------------


def objections(case: Case, material: Material) -> tuple[tuple[Objection, ...], tuple[Reason, ...]]:
    """
    The readings that speak against the guess, in order of weight, and the reasons behind them.

    First what the rules weigh against the guess, then what they weigh for the truth alone, then what the table shows
    without any rule. Each reading is named once, and each reason given once.
    """
    found: dict[str, Objection] = {}
    rules: list[Reason] = []
    reasons = (*_against(case), *_for_truth_alone(case))
    alone = {reason.readings[0] for reason in reasons if len(reason.readings) == 1}
    for reason in reasons:
        reading = _telling_reading(reason, case, material, alone)
        if reading is None or reading in found or any(reason.because == other.because for other in rules):
            continue
        found[reading] = _objection(reading, reason, case, material)
        rules.append(reason)
        if len(found) == _MOST_OBJECTIONS:
            break
    if not found and (reading := _by_table_alone(case, material)):
        found[reading] = _objection(reading, None, case, material)
    return tuple(found.values()), tuple(rules)


def _against(case: Case) -> list[Reason]:
    return sorted((item for item in case.found.reasons[case.guess] if item.decibans < 0), key=lambda item: item.decibans)


def _for_truth_alone(case: Case) -> list[Reason]:
    """Reasons for the true class that are none for the guessed one."""
    also = {item.rule for item in case.found.reasons[case.guess] if item.decibans > 0}
    own = [item for item in case.found.reasons[case.truth] if item.decibans > 0 and item.rule not in also]
    return sorted(own, key=lambda item: -item.decibans)


def _telling_reading(reason: Reason, case: Case, material: Material, alone: Collection[str]) -> str | None:
    """
    Of the readings behind a reason, the one that the guessed class shows most seldom beside the true one.

    Those that are a reason `alone` are left to it, where another tells nearly as much.
    """
    oftener = {name: much for name in reason.readings if (much := _how_much_oftener(name, reason, case, material)) is not None}
    most = max(oftener.values(), default=0.0)
    free = {name: much for name, much in oftener.items() if name not in alone and much >= _AS_TELLING * most}
    telling = free or oftener
    return max(telling, key=lambda name: telling[name], default=None)


def _how_much_oftener(reading: str, reason: Reason, case: Case, material: Material) -> float | None:
    """How much oftener the true class than the guessed one shows what a reason goes by [-]; None where the table denies it."""
    value = case.record.readings.get(reading)
    if isinstance(value, Interval):
        bound = _bound(reading, reason, case, material)
        shares = [share_within(name, bound, material) if bound else None for name in (case.truth, case.guess)]
    else:
        shares = [share(name, reading, value, material) if value else None for name in (case.truth, case.guess)]
    of_truth, of_guess = shares
    if of_guess is None or not (of_guess < _SELDOM or (of_guess < _HALF and _CLEARLY * of_guess <= (of_truth or 0.0))):
        return None
    return ((of_truth or 0.0) + _SMALL) / (of_guess + _SMALL)


def _bound(reading: str, reason: Reason, case: Case, material: Material) -> Condition | None:
    """The bounds on a number by which a reason, or a step towards it, goes."""
    rules = {rule.id: rule for rule in material.knowledge.rules}
    conditions = [
        condition
        for rule in (reason.rule, *(step.rule for step in reason.steps))
        for condition in (*rules[rule].when.all, *rules[rule].when.any)
        if condition.reading == reading
    ]
    holding = (each for each in conditions if readings_that_meet(When(all=(each,)), case.record.readings, material.knowledge))
    return next(holding, None)


def share_within(class_: str, bound: Condition, material: Material) -> float | None:
    """How many substances of a class have a number within bounds [-]; None where the table tells of too few."""
    knowledge, reading = material.knowledge, bound.reading or ""
    unit = number_unit(reading, knowledge)
    known = [row.numbers[reading] for row in material.reference.rows if row.class_ == class_ and reading in row.numbers]
    within = [bool(readings_that_meet(When(all=(bound,)), {reading: each.interval(unit)}, knowledge)) for each in known]
    return sum(within) / len(within) if len(within) >= _FEW else None  # many melt at no temperature that is known


def _by_table_alone(case: Case, material: Material) -> str | None:
    """The reading from a closed list that the true class shows much oftener than the guessed one; none where none does."""
    oftener = {}
    for name, value in case.record.readings.items():
        of_guess, of_truth = (share(class_, name, value, material) for class_ in (case.guess, case.truth))
        if isinstance(value, str) and of_guess is not None and of_truth is not None and of_guess < min(_HALF, of_truth):
            oftener[name] = (of_truth + _SMALL) / (of_guess + _SMALL)
    best = max(oftener, key=lambda name: oftener[name], default=None)
    return best if best and oftener[best] >= _TELLS else None


def _objection(reading: str, reason: Reason | None, case: Case, material: Material) -> Objection:
    value = case.record.readings[reading]
    because = _with_those_beside(reading, reason, case) if reason else _counted(reading, str(value), case, material)
    if isinstance(value, Interval):
        bound = _bound(reading, reason, case, material) if reason else None
        return Objection(reading, str(value), _beyond(bound, case.guess, material) if bound else "", because)
    usual = tuple(word for word in usual_values(case.guess, reading, material) if word != value)
    return Objection(reading, str(value), quoted(usual[:2]) if usual else "", because)


def _counted(reading: str, value: str, case: Case, material: Material) -> str:
    """What the reference table counts, where no rule says anything."""
    of_truth, of_guess = (share(name, reading, value, material) or 0.0 for name in (case.truth, case.guess))
    return (
        f"No rule goes by this alone, but {100 * of_truth:.0f} % of the {case.truth} substances of the reference table show it, "
        f"and {100 * of_guess:.0f} % of the {case.guess} ones."
    )


def _with_those_beside(reading: str, reason: Reason, case: Case) -> str:
    """A reason, and which other readings it rests on; that something is a solid goes without saying."""
    beside = [f"“{name}: {value}”" for name, value in _readings_of(reason, case).items() if name != reading]
    return f"{reason.because} This rests on {listed(beside)}, too." if beside else reason.because


def _readings_of(reason: Reason, case: Case) -> dict[str, str]:
    """The readings that a reason rests on, those that tell most of it; that something is a solid goes without saying."""
    found = {name: str(case.record.readings[name]) for name in reason.readings if name in case.record.readings}
    found = {name: value for name, value in found.items() if (name, value) != ("state", "solid")}
    return dict(itertools.islice(found.items(), _MOST_BESIDE))


def _beyond(bound: Condition, class_: str, material: Material) -> str:
    """What lies beyond bounds, in words, on the side where many substances of a class lie."""
    low = Condition(reading=bound.reading, at_most=bound.above, below=bound.at_least)
    high = Condition(reading=bound.reading, at_least=bound.below, above=bound.at_most)
    sides = (
        (low, f"{bound.above} or less" if bound.above else f"less than {bound.at_least}"),
        (high, f"{bound.below} or more" if bound.below else f"more than {bound.at_most}"),
    )
    told = [
        says
        for side, says in sides
        if any((side.above, side.below, side.at_least, side.at_most)) and (share_within(class_, side, material) or 0.0) >= _OFTEN
    ]
    return " or ".join(told)


def expected_of_guess(case: Case, question: Question, material: Material, told: Sequence[str]) -> tuple[str, ...]:
    """What most substances of the guessed class would have shown in other readings, and this one does not."""
    found = []
    row = material.rows.get(question.substance)
    for name, shows in _shows(case, question, material).items():
        usual = usual_values(case.guess, name, material)
        honest = {*shows, *row.words.get(name, ())} if row else set(shows)
        if name in told or not usual or set(usual) & honest:
            continue
        if (share(case.guess, name, usual[0], material) or 0.0) >= _MOSTLY:
            found.append((_certainty(case.guess, name, shows, material), f"{name}: {usual[0]}"))
    return tuple(says for _, says in sorted(found, key=lambda item: item[0])[:_MOST_EXPECTED])


def _certainty(class_: str, reading: str, shows: Sequence[str], material: Material) -> float:
    """How many of a class show what the substance shows [-]."""
    return max((share(class_, reading, value, material) or 0.0 for value in shows), default=0.0)


def _shows(case: Case, question: Question, material: Material) -> dict[str, tuple[str, ...]]:
    """Reading → what the unknown was seen to show, or would honestly show, of the closed lists."""
    row = material.rows.get(question.substance)
    expected = dict(row.words) if row else {}
    seen = {name: (value,) for name, value in case.record.readings.items() if isinstance(value, str)}
    tests = set(material.tests)
    return {name: words for name, words in (expected | seen).items() if material.knowledge.test_of[name].id in tests}


def decisive_test(case: Case, question: Question, material: Material) -> str:
    """The single test that parts truth and guess best, made already or still to be made, in a sentence."""
    shows = _shows(case, question, material)
    scores = {name: _decides(name, shows[name], case, material) for name in shows}
    telling = {name: score for name, score in scores.items() if score is not None and score > 0}
    # A look settles nothing by itself, so it is named only where nothing else tells.
    tests = {name: score for name, score in telling.items() if material.knowledge.test_of[name].id != _LOOKING} or telling
    if not tests:
        return _by_number(case, material) or _NO_SINGLE_TEST
    best = max(tests, key=lambda name: tests[name])
    test = material.knowledge.test_of[best]
    usual = usual_values(case.guess, best, material)[:1]
    often = "would mostly" if (share(case.guess, best, usual[0], material) or 0.0) >= _MOSTLY else "often"
    made = best in case.record.readings and case.shown
    settled = f"it was made, and shows {quoted(shows[best])}" if made else f"it would show {quoted(shows[best])}"
    return f"“{best}” ({_done(test)}): {settled}, while {plural(case.guess)} {often} show {quoted(usual)}."


def _done(test: BenchTest) -> str:
    """How a test is done, in brackets behind its reading."""
    return f"{test.does[0].lower()}{test.does[1:]}{', if your teacher agrees' if test.teacher else ''}"


def _by_number(case: Case, material: Material) -> str:
    """The number that parts truth and guess, in a sentence, where one does that hardly any of the guessed class have."""
    numbers = ((reason, name) for reason in _against(case) for name in reason.readings)
    for reason, name in numbers:
        value = case.record.readings.get(name)
        bound = _bound(name, reason, case, material) if isinstance(value, Interval) else None
        of_guess = share_within(case.guess, bound, material) if bound else None
        if bound is None or of_guess is None or of_guess > _SMALL:
            continue
        beyond = _beyond(bound, case.guess, material)
        made = case.shown and name in case.record.readings
        settled = f"it was made, and gives {value}" if made else f"it would give {value}"
        does = _done(material.knowledge.test_of[name])
        return f"“{name}” ({does}): {settled}, while {plural(case.guess)} would mostly give {beyond}." if beyond else ""
    return ""


def _decides(reading: str, shows: Sequence[str], case: Case, material: Material) -> float | None:
    """How well a reading parts truth and guess, its minutes taken into account [-]; None where the table tells too little."""
    of_truth = [share(case.truth, reading, word, material) for word in shows]
    usual = usual_values(case.guess, reading, material)
    if None in of_truth or not usual or usual[0] in shows:
        return None
    least = min(each for each in of_truth if each is not None)
    of_guess = _certainty(case.guess, reading, shows, material)
    if least <= of_guess:
        return None
    # The substance shows it for certain, however seldom its class does; so what counts most is how seldom the guessed one does,
    # and how seldom the reading is misread.
    misread = material.knowledge.readings[reading].misread.rate
    parts = math.log(math.sqrt(least + misread) / (of_guess + misread))
    if case.shown and reading in case.record.readings:
        return parts
    test = material.knowledge.test_of[reading]
    return parts / (1 + test.minutes / _LONG + (_ASKING if test.teacher else 0.0))


def plural(class_: str) -> str:
    """`metallic substances`."""
    return f"{class_} substances"


def _opening(case: Case, question: Question, against: Sequence[Objection], material: Material) -> str:
    truth = substance_of(listed(question.truth, "or"))
    says = f"No. {capitalised(what_is_asked_of(question, material))} is {truth}, not {with_article(case.guess)} one."
    if not case.shown:
        return says
    if not against:
        return f"{says} Nothing that was read rules out {substance_of(case.guess)}, though; that takes a further test."
    if case.found.verdict.kind is not VerdictKind.CONCLUSIVE:
        return f"{says} The readings shown do not settle it by themselves, but they speak against {substance_of(case.guess)}."
    return says


def what_is_asked_of(question: Question, material: Material) -> str:
    """The substance of a question, in words."""
    if question.substance and material.secrecy is Secrecy.NAMES:
        return question.substance
    return "it" if question.kind is Kind.PUBLISHED else "the unknown"


def particles(question: Question, material: Material) -> str:
    """
    What the particles are and what holds them together, and what is special of this substance.

    The model is that of the foremost class, of which the special sentence speaks, too.
    """
    model = " ".join(material.knowledge.classes[question.truth[0]].model.split())
    return question.because or " ".join(filter(None, (model, special(question, material))))


def special(question: Question, material: Material) -> str:
    """
    The sentence on what is awkward about the substance, or else about its finer kind; empty where there is neither.

    What is true of a finer kind at large need not hold for a substance that has a sentence of its own.
    """
    row = material.substances.get(question.substance)
    return special_of(row, material.knowledge, named=material.secrecy is Secrecy.NAMES) if row else ""


def parting_reasons(case: Case, told: Sequence[str], material: Material) -> str:
    """Why the truth and not the guess, in the reasons that part them, were not given yet, and are borne out by the table."""
    ranked: dict[str, Ranked] = {item.class_: item for item in case.found.ranking}
    parted = contrast((ranked[case.truth], ranked[case.guess])).parted_by
    reasons = {item.because: item for name in (case.truth, case.guess) for item in case.found.reasons[name]}
    left = [reasons[item.because] for item in parted if item.because not in told]
    telling = [reason for reason in left if _telling_reading(reason, case, material, ())]
    return " ".join(with_readings(reason, case) for reason in telling[:_MOST_REASONS])


def with_readings(reason: Reason, case: Case) -> str:
    """A reason, with the readings that it rests on in brackets behind it."""
    readings = "; ".join(f"{name}: {value}" for name, value in _readings_of(reason, case).items())
    return f"{reason.because.rstrip('.')} ({readings})." if readings else reason.because


# --- secrecy ---------------------------------------------------------------------------------------


def kept_secret(reply: Reply, material: Material) -> Reply:
    """The reply without what would tell of a set: names of its substances, or even classes."""
    if material.secrecy is Secrecy.NAMES:
        return reply

    def kept(text: str) -> str:
        return text if may_be_said(text, material) else ""

    against = tuple(msgspec.structs.replace(item, because=kept(item.because)) for item in reply.against)
    mix_up = reply.mix_up
    if mix_up and not may_be_said(f"{mix_up.says} {mix_up.reply}", material, supposed=True):
        mix_up = None
    return msgspec.structs.replace(
        reply,
        against=against,
        expected=tuple(filter(None, map(kept, reply.expected))),
        particles=kept(reply.particles),
        contrast=kept(reply.contrast),
        decisive=kept(reply.decisive),
        mix_up=mix_up,
    )
