"""The dialogue of a quiz: it asks, marks and keeps each answer, and replies. Lines only, no redrawing."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Marked, Question
from spotplate.engine.quiz.quiz import Quiz
from spotplate.kb import FaultyInputError

from .dialogue import Dialogue, StoppedError
from .quiz_answers import certainty_of, letter, place_of
from .quiz_memory import QuizMemory, answered_now, tell
from .views import quiz as screens
from .views.page import Block

# Word → what it does; typed at any prompt.
COMMANDS = {
    "skip": "leave this question out; it does not count",
    "back": "choose another answer, as long as you are asked how sure you are",
    "question": "the question once more",
    "why": "the last reply once more",
    "score": "how it stands so far",
    "help": "these words",
    "stop": "end the quiz, with the score; every answer is kept",
}
_ALSO = {"quit": "stop", "exit": "stop", "end": "stop", "pass": "skip", "?": "help", "undo": "back", "again": "question"}
_YES, _NO = ("", "yes", "y"), ("no", "n")
CERTAINTY_PROMPT = "How sure are you, in %? (Enter to leave it out) "
FOLLOW_UP_PROMPT = "A question to see whether that is cured? (Enter = yes) "


class _SkippedError(Exception):
    """The person leaves a question out."""


class _TakenBackError(Exception):
    """The person chooses another answer."""


class QuizDialogue(Dialogue):
    """One quiz with a person; `run` ends with its last question, or when they stop."""

    def __init__(
        self,
        quiz: Quiz,
        material: Material,
        memory: QuizMemory,
        follow_up: Callable[[str], Question | None],
        *,
        plain: bool,
    ) -> None:
        self.quiz = quiz
        self.material = material
        self.memory = memory
        self.follow_up = follow_up  # item of a mix-up → a question that tests whether it is cured
        super().__init__(plain=plain)
        self.answers: list[Answered] = []
        self.skipped = 0
        self.follow_ups = 0  # answers to questions that test whether a mix-up is cured
        self._offered: set[str] = set()  # mix-ups whose follow-up was offered
        self._cures: list[Question] = []  # the follow-ups that were asked
        self._page: list[Block] = []  # the question that was asked last
        self._last: tuple[Question, Marked] | None = None  # what `why` tells again
        self._pending: tuple[Question, int] | None = None  # a guess that is made, and not yet marked and kept

    def run(self) -> None:
        """Ask every question, then tell the score."""
        self._tell_trouble()
        try:
            for number, question in enumerate(self.quiz.questions, 1):
                self._ask(question, f"Question {number} of {len(self.quiz.questions)}")
        except StoppedError:
            if self._pending:
                self._reply(*self._settled(None))
        self.memory.finish()
        standing = self.memory.standing(self.answers, told=self.material.secrecy is not Secrecy.NOTHING)
        self._show_score(standing)
        self._tell_trouble()

    def interrupted(self) -> str:
        """Keep a guess that was made when the quiz was broken off; what is kept, in words."""
        if self._pending:
            self._settled(None)
        self.memory.finish()
        self._tell_trouble()
        return self.memory.kept(len(self.answers))

    # --- one question ---

    def _ask(self, question: Question, title: str) -> None:
        """Ask, reply, and offer the question that tests whether the mix-up is cured."""
        self._page = screens.question_page(question, title)
        self._show(self._page)
        try:
            sure = self._guess(question)
        except _SkippedError:
            self.skipped += 1
            self._say("Skipped. It does not count.")
            return
        question, marked = self._settled(sure)
        self._reply(question, marked)
        self._offer_follow_up(question, marked)

    def _guess(self, question: Question) -> float | None:
        """Take the answer, which may be taken back until it is told how sure the person is; how sure, from 0 to 1 [-]."""
        while True:
            place = self._answer(question)
            self._pending = question, place
            try:
                return self._certainty(question, place)
            except _TakenBackError:
                self._pending = None
                self._say("Taken back.")

    def _answer(self, question: Question) -> int:
        while True:
            text = self._line("Your answer: ")
            if not text:
                self._say("Please answer, or type “skip” or “help”.")
            elif not self._command(text):
                try:
                    return place_of(text, question)
                except FaultyInputError as error:
                    self._say(str(error))

    def _certainty(self, question: Question, place: int) -> float | None:
        self._say(f"{letter(place)}) {question.options[place].says}")
        while True:
            text = self._line(CERTAINTY_PROMPT)
            try:
                if not self._command(text):
                    return certainty_of(text)
            except _SkippedError:
                return None  # the certainty is left out; the answer is given
            except FaultyInputError as error:
                self._say(str(error))

    def _settled(self, sure: float | None) -> tuple[Question, Marked]:
        """Mark and keep the guess that was made; once begun, this is not broken off."""
        assert self._pending
        with held_back():
            question, place = self._pending
            marked = mark(question, place, self.material)
            self._pending = None
            self._last = question, marked
            answered = answered_now(self.memory.learner, question, marked, sure, self.material)
            self.answers.append(answered)
            self.follow_ups += any(question is cure for cure in self._cures)
            self.memory.keep(answered)
        self._tell_trouble()
        return question, marked

    def _reply(self, question: Question, marked: Marked) -> None:
        self._show(screens.reply_page(marked, question))

    def _offer_follow_up(self, question: Question, marked: Marked) -> None:
        mix_up = marked.reply.mix_up
        if mix_up is None or mix_up.id in self._offered or mix_up.follow_up == question.item.key:
            return
        cure = self.follow_up(mix_up.follow_up) if mix_up.follow_up else None
        if cure is None:
            return
        self._offered.add(mix_up.id)
        print()
        if self._wanted():
            self._cures.append(cure)
            self._ask(cure, "Follow-up")

    def _wanted(self) -> bool:
        while True:
            text = self._line(FOLLOW_UP_PROMPT)
            if text.casefold() in _YES:
                return True
            if text.casefold() in _NO:
                return False
            try:
                if not self._command(text):
                    self._say("Press Enter for yes, or type no.")
            except _SkippedError:
                return False

    # --- words that are no answers ---

    def _command(self, text: str) -> bool:
        """Carry out a word such as `why`; False when `text` is none."""
        word = _ALSO.get(text.casefold(), text.casefold())
        if word not in COMMANDS:
            return False
        getattr(self, f"_do_{word}")()
        return True

    def _do_help(self) -> None:
        self._show(screens.help_page(list(COMMANDS.items())))

    def _do_stop(self) -> None:
        raise StoppedError

    def _do_skip(self) -> None:
        raise _SkippedError

    def _do_back(self) -> None:
        if self._pending is None:
            self._say("There is no answer to take back; one that was replied to is kept.")
        else:
            raise _TakenBackError

    def _do_question(self) -> None:
        self._show(self._page)

    def _do_why(self) -> None:
        if self._last is None:
            self._say("There is no reply yet; it comes after the first answer.")
        else:
            self._reply(*self._last)

    def _do_score(self) -> None:
        self._show_score()

    # --- small things ---

    def _show_score(self, standing: screens.Standing | None = None) -> None:
        says = {name: mix_up.says for name, mix_up in self.material.quiz.mix_ups.items()}
        self._show(screens.score_page(self.answers, screens.Beside(self.follow_ups, self.skipped), says, standing))

    def _tell_trouble(self) -> None:
        """Trouble with the progress file, which is no part of the quiz."""
        tell(self.memory.trouble)
        self.memory.trouble.clear()


@contextmanager
def held_back() -> Iterator[None]:
    """Hold Ctrl-C back until what was begun is done, so that an answer is kept once; a second one does not wait."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def note(number: int, _: object) -> None:
        if came:
            raise KeyboardInterrupt
        came.append(number)

    before = signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt
