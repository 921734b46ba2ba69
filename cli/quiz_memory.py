"""What a quiz remembers of a learner, and how it goes on when that cannot be kept."""

from __future__ import annotations

import datetime
import shutil
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from spotplate.engine.files.progress import ProgressFile, learner_name
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.practice import Answered, Due, Weakness, due_items, schedule, weaknesses
from spotplate.engine.quiz.question import Item, Marked, Question
from spotplate.kb import Fault, FaultyInputError, printable

from .views.page import wrapped
from .views.quiz import Standing
from .views.words import count

USUAL_LEARNER = "me"  # where one person uses the machine, and needs no name
_MOST_WEAK = 5
_SOON, _LATER = datetime.timedelta(days=1, hours=2), datetime.timedelta(days=7)  # the first as what is due is rounded


class QuizMemory:
    """
    The answers of one learner: those kept from before, and those of this quiz.

    Without a file nothing is kept. Trouble with the file never ends a quiz: it is told once (`trouble`, which is
    emptied by whoever tells it), and what could not be kept is tried once more at the end.
    """

    def __init__(self, learner: str, file: ProgressFile | None) -> None:
        self.learner = learner
        self.trouble: list[str] = []
        self._file = file
        self._told_aside = 0
        self._waiting: list[Answered] = []  # answers that could not be kept yet
        self._failed = False
        self._past = self._read()

    def due(self) -> tuple[str, ...]:
        """Keys of the items to practise now, most pressing first."""
        return tuple(item.key for item in due_items(self._past, _now()))

    def weak(self) -> frozenset[str]:
        """Keys of items that were answered wrongly more often than rightly."""
        return frozenset(key for key, due in schedule(self._past).items() if due.answered and due.right * 2 < due.answered)

    def keep(self, answer: Answered) -> None:
        """Keep an answer; when this returns it is on disk, or waits for another try."""
        if self._file is None:
            return
        self._waiting.append(answer)
        if not self._failed:
            self._write()

    def finish(self) -> None:
        """Try once more to keep what could not be kept."""
        if self._waiting:
            self._write()

    @property
    def keeps(self) -> bool:
        """Whether answers are to be kept at all."""
        return self._file is not None

    @property
    def waiting(self) -> int:
        """How many answers could not be kept so far."""
        return len(self._waiting)

    def told(self) -> str:
        """What is kept, and where, before the quiz."""
        if self._file is None:
            return "Nothing is kept of this quiz."
        return f"Your answers are kept on this machine only, for the learner “{self.learner}”."

    def standing(self, answers: Sequence[Answered], *, told: bool = True) -> Standing:
        """Where the learner stands after these answers; only what is kept where weaknesses must not be `told`."""
        every = [*self._read(), *self._waiting] if self._file is not None else list(answers)
        due = None if self._file is None or not every else _counted(schedule(every).values())
        return Standing(_weakest(every) if told else (), due, self.kept(len(answers)))

    def kept(self, answered: int) -> str:
        """What is kept of so many answers."""
        if self._file is None or not answered:
            return ""
        if self._waiting:
            return f"{count(len(self._waiting), 'answer')} of this quiz could not be kept."
        return f"Every answer is kept for the learner “{self.learner}”."

    def _read(self) -> tuple[Answered, ...]:
        if self._file is None:
            return ()
        try:
            return self._file.answers(self.learner)
        except FaultyInputError as error:
            self._tell(error)
            return ()
        finally:
            self._tell_aside()

    def _write(self) -> None:
        assert self._file is not None
        try:
            while self._waiting:
                self._file.add(self._waiting[0])
                del self._waiting[0]
            self._failed = False
        except FaultyInputError as error:
            self._tell(error)
        finally:
            self._tell_aside()

    def _tell(self, error: FaultyInputError) -> None:
        """Trouble is told once, however often it comes."""
        if not self._failed:
            self.trouble += [f"{fault} The quiz goes on." for fault in error.faults]
        self._failed = True

    def _tell_aside(self) -> None:
        assert self._file is not None
        self.trouble += [str(aside) for aside in self._file.set_aside[self._told_aside :]]
        self._told_aside = len(self._file.set_aside)


def chosen_progress(learner: str | None, path: Path | None) -> tuple[str, ProgressFile]:
    """The learner's name and the progress file that the options give; both are looked at before either is refused."""
    faults: list[Fault] = []
    name, file = USUAL_LEARNER, None
    try:
        name = learner_name(learner) if learner is not None else USUAL_LEARNER
    except FaultyInputError as error:
        faults += [Fault("option --learner", fault.says) for fault in error.faults]
    try:
        file = ProgressFile(path)
    except FaultyInputError as error:
        faults += [Fault("option --progress", fault.says) for fault in error.faults]
    if file is None or faults:
        raise FaultyInputError(faults)
    return name, file


def memory_for(learner: str | None, path: Path | None, *, keep: bool) -> QuizMemory:
    """
    The memory that the options ask for.

    Raises
    ------
    FaultyInputError
        If the learner's name or the file's name cannot be used
    """
    name, file = chosen_progress(learner, path)
    return QuizMemory(name, file if keep else None)


def kept_item(item: Item, material: Material) -> Item:
    """
    The item under which an answer is kept.

    Of a set, only the class is: whoever reads their own progress must not find there which finer kinds are in it.
    """
    if material.secrecy is Secrecy.NAMES or not item.subtype:
        return item
    topic = item.class_ if item.subtype in item.topic else item.topic
    return Item(item.kind, topic, item.class_, "", item.mix_up)


def answered_now(learner: str, question: Question, marked: Marked, sure: float | None, material: Material) -> Answered:
    """A marked answer as it is kept; `sure` is how sure the learner was, from 0 to 1 [-]."""
    mix_up = marked.reply.mix_up.id if marked.reply.mix_up else ""
    item = kept_item(question.item, material)
    return Answered(learner, _now(), item, marked.outcome, mix_up, sure, question.difficulty.number)


def tell(trouble: Iterable[str]) -> None:
    """Say on stderr what is the matter with the progress file, within the width of a terminal."""
    for says in trouble:
        width = shutil.get_terminal_size().columns if sys.stderr.isatty() else 10**6
        print("\n".join(wrapped(printable(says), max(width, 30), "", "")), file=sys.stderr)


def _weakest(answers: Sequence[Answered]) -> tuple[tuple[str, Weakness], ...]:
    """The points that need practice most, in words."""
    found = weaknesses(answers)
    named = [
        *((weak.name, weak) for weak in found.classes),
        *((f"the finer kind {weak.name}", weak) for weak in found.exceptions),
    ]
    failed = [(what, weak) for what, weak in named if weak.right < weak.answered]
    return tuple(sorted(failed, key=lambda each: (each[1].estimate, -each[1].answered, each[0]))[:_MOST_WEAK])


def _counted(due: Iterable[Due]) -> tuple[int, int, int, int]:
    """How many items are due now, within a day, within a week, and later."""
    now = _now()
    counted = [0, 0, 0, 0]
    for each in due:
        ahead = each.due - now
        counted[0 if each.is_due(now) else 1 if ahead <= _SOON else 2 if ahead <= _LATER else 3] += 1
    return counted[0], counted[1], counted[2], counted[3]


def _now() -> datetime.datetime:
    return datetime.datetime.now(datetime.UTC)
