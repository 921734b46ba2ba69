"""A quiz on paper: the question papers and the answer sheet, each with the place it is written to."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Question
from spotplate.engine.quiz.quiz import Quiz
from spotplate.engine.quiz.versions import PaperVersion, paper_versions
from spotplate.engine.sets import UnknownsSet
from spotplate.kb import FaultyInputError

from .answer_sheet import AnswerContents, answer_sheet, names_substance
from .printed import FOR_STUDENTS, FOR_TEACHER, Printed, one_line, program_version
from .question_paper import Paper, Posed, question_paper
from .secrecy import texts_that_tell

TITLE = "Bonding at the bench"


class QuizPrinting(msgspec.Struct, frozen=True):
    """
    How a quiz is printed: in how many `versions` [-], under which title and date.

    `again` is the command that asks the same questions on the screen.
    """

    versions: int = 1
    title: str = ""
    date: str = ""
    again: str = ""


def quiz_pages(
    quiz: Quiz, printing: QuizPrinting, material: Material, unknowns_set: UnknownsSet | None = None
) -> tuple[Printed, ...]:
    """
    A question paper for each version, and one answer sheet for all of them.

    Raises
    ------
    FaultyInputError
        If title or date tell of a substance that the questions leave to be found out
    """
    return (*papers_for_students(quiz, printing, material), _answers(quiz, printing, material, unknowns_set))


def papers_for_students(quiz: Quiz, printing: QuizPrinting, material: Material) -> Iterator[Printed]:
    """What may be given out."""
    title, date = _title(printing), one_line(printing.date)
    _check_kept_secret({"option --title": title, "option --date": date}, quiz, material)
    for version in _versions(quiz, printing):
        questions = tuple(posed(quiz.questions[place], version.options[place]) for place in version.questions)
        name = f"quiz-paper-{version.letter.lower()}" if version.letter else "quiz"
        yield Printed(FOR_STUDENTS, name, question_paper(Paper(title, date, version.letter, questions), program_version()))


def posed(question: Question, order: tuple[int, ...]) -> Posed:
    """What a paper tells of a question; this is where everything that gives the answer away is left behind."""
    options = tuple(question.options[place].says for place in order)
    return Posed(question.says, tuple(question.readings.items()), options, question.difficulty.level.value)


def _answers(quiz: Quiz, printing: QuizPrinting, material: Material, unknowns_set: UnknownsSet | None) -> Printed:
    marked = tuple(
        tuple(mark(question, place, material) for place in range(len(question.options))) for question in quiz.questions
    )
    contents = AnswerContents(
        title=_title(printing),
        date=one_line(printing.date),
        questions=quiz.questions,
        marked=marked,
        versions=_versions(quiz, printing),
        source=f"from the unknowns set “{one_line(unknowns_set.name)}”" if unknowns_set else "from the reference table",
        seed=quiz.seed,
        again=printing.again,
        notes=quiz.notes,
        labels=_labels(unknowns_set) if unknowns_set else {},
    )
    foot = f"spotplate {program_version()}, rule base {material.knowledge.checksum}"
    return Printed(FOR_TEACHER, "quiz-answers", answer_sheet(contents, foot))


def _title(printing: QuizPrinting) -> str:
    return one_line(printing.title) or TITLE


def _versions(quiz: Quiz, printing: QuizPrinting) -> tuple[PaperVersion, ...]:
    """The versions; a single one has no letter."""
    found = paper_versions([len(question.options) for question in quiz.questions], printing.versions, quiz.seed)
    return found if len(found) > 1 else (msgspec.structs.replace(found[0], letter=""),)


def _labels(unknowns_set: UnknownsSet) -> dict[str, str]:
    """Substance → its vials in words."""
    labels: dict[str, list[str]] = {}
    for vial in unknowns_set.vials:
        labels.setdefault(vial.substance, []).append(vial.label)
    return {name: f"vial{'s' if len(found) > 1 else ''} {', '.join(found)}" for name, found in labels.items()}


def _check_kept_secret(written: dict[str, str], quiz: Quiz, material: Material) -> None:
    """Refuse texts that name what a question, or the whole set, leaves to be found out."""
    from_set = material.secrecy is not Secrecy.NAMES
    hidden = (
        set(material.substances)
        if from_set
        else {name for each in quiz.questions if (name := each.substance) and not names_substance(each)}
    )
    inside = [substance for name, substance in material.substances.items() if name in hidden]
    place = "in the set" if from_set else "behind a question"
    if faults := texts_that_tell(written, inside, place):
        raise FaultyInputError(faults)
