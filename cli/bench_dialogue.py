"""The dialogue of a bench session: it asks, writes each answer down, and tells what came of it. Lines only, no redrawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from spotplate.engine import Identification, Record
from spotplate.engine.bench.changes import changes
from spotplate.engine.bench.session import Question, Session
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.engine.record import NOT_TESTED, UNCLEAR, find_reading, read_value
from spotplate.kb import BenchTest, Fault, FaultyInputError, KnowledgeBase, QuantityError, ReadingKind, not_accepted, printable

from .bench_summary import write_summary
from .views import bench as screens
from .views.identification import identification_page
from .views.page import Block, Paragraph, show

# Word → what it does; typed at any question. Words that answer a question are told with it.
COMMANDS = {
    "back": "take back the last step, or a reading named after it (back lustre), and answer it again",
    "ranking": "the classes, how probable each is",
    "reasons": "the whole identification as it stands, with its reasons",
    "tests": "all bench tests; choose another one",
    "skip": "put this test aside",
    "note": "write a note into the record (note a few crystals left)",
    "vial": "take another vial in hand (vial B), or begin a new one",
    "rack": "all vials: what is read and what is settled",
    "summary": "write the lab summary (summary html, summary markdown, summary text)",
    "help": "these words",
    "stop": "end the session; everything is kept",
}
_HELD_BACK = "This is an assessment: ranking, verdict and reasons are held back."
_YES, _NO = ("yes", "y"), ("no", "n")


class _StoppedError(Exception):
    """The person ended the session."""


class BenchDialogue:
    """One session with a person; `run` ends when they stop."""

    def __init__(self, files: BenchFiles, session: Session, knowledge: KnowledgeBase, *, plain: bool) -> None:
        self.files = files
        self.session = session
        self.knowledge = knowledge
        self.plain = plain
        self._told: tuple[str, object, bool] = ("", None, True)  # of which vial, record and prospect the verdict has been told

    def run(self) -> bool:
        """Ask until the person stops; False when the vial turns out to be no case for this program."""
        try:
            self._show(screens.cautions_page(self.knowledge))
            if not self.session.memory.prepared and not self._is_prepared():
                self._show(screens.not_a_case_page())
                return False
            self._show_vial()
            while True:
                question = self.session.question()
                if question is None:
                    self._choose()
                else:
                    self._ask(question)
        except _StoppedError:
            print()
            self._say(f"Everything is kept in {printable(str(self.files.path))}.")
            return True

    # --- before the first test ---

    def _is_prepared(self) -> bool:
        prepared = self._yes_or_no("Did your teacher prepare this vial as an exercise, and have you read the cautions?")
        if prepared:
            self.session.confirm_prepared()
            self._remember()
        return prepared

    # --- choosing a test ---

    def _choose(self) -> None:
        """Propose the next test, and begin it or another."""
        proposals = self.session.proposals()
        if self.session.memory.assessment:
            print()
            self._say("Choose a test: its name, or “tests” for all of them.")
        else:
            self._tell_verdict(bool(proposals))
            if proposals:
                self._show(screens.proposal_page(proposals, self.knowledge))
                self._say("Press Enter to begin it, or name another test; “help” tells all words.")
        text = self._line("> ")
        if not text and proposals:
            self._begin(self.knowledge.tests[proposals[0].test])
        elif text and not self._command(text):
            self._begin_named(text)

    def _tell_verdict(self, more: bool) -> None:
        at = self.session.vial, self.session.record, more
        if self._told == at:
            return
        self._told = at
        result = self.session.result()
        if self.session.settled() or not more:
            self._show(screens.standing_verdict_page(result))
            if not self.session.settled():
                left_out = self.session.of_vial.left_out
                self._say(f"No {'other ' if left_out else ''}test left on this bench promises to settle it.")
                if left_out:
                    self._say(f"Left out for now: {', '.join(left_out)}.")
            self._say(
                "“summary” writes the lab summary, “tests” lists what else could be done, “vial” takes another, “stop” ends."
            )
        self._show(screens.doubts_page(result))

    def _begin_named(self, text: str) -> None:
        standings = self.session.standings()
        names = {standing.test.id: standing for standing in standings}
        wanted = " ".join(text.casefold().split())
        number = _number(wanted)
        if number is not None and 1 <= number <= len(standings):
            standing = standings[number - 1]
        elif wanted in names:
            standing = names[wanted]
        elif kind := find_reading(wanted, self.knowledge):
            standing = names[self.knowledge.test_of[kind.id].id]
        else:
            self._say(not_accepted(text, "a test or a word of this session", [*COMMANDS, *names], most=0))
            return
        if standing.ready:
            self._begin(standing.test)
        elif standing.done:
            readings = ", ".join(kind.id for kind in standing.test.readings)
            self._say(f"“{standing.test.id}” is done. To make a reading again: back READING (of {readings}).")
        else:
            self._say(f"“{standing.test.id}” cannot be done now: {standing.why}.")

    def _begin(self, test: BenchTest) -> None:
        self._show(screens.test_page(test, self.knowledge))
        if test.teacher and test.id not in self.session.of_vial.agreed:
            if not self._yes_or_no("Has the responsible teacher agreed to this test on this vial?"):
                self.session.decline(test.id)
                self._remember()
                self._say("Then leave it out.")
                return
            self.session.agree(test.id)
        self.session.begin(test.id)
        self._remember()

    def _list_tests(self) -> None:
        self._show(screens.standings_page(self.session.standings(), self.session.proposals()))
        text = self._line("Number or name of a test, or Enter to go back: ")
        if text:
            self._begin_named(text)

    # --- asking for a reading ---

    def _ask(self, question: Question) -> None:
        self._show(screens.question_page(question))
        while True:
            text = self._line("Your answer: ")
            if not text:
                self._say("Please answer, or type “not tested”, “unclear” or “help”.")
                continue
            if self._command(text) or self._answered(question.reading, text):
                return

    def _answered(self, kind: ReadingKind, text: str) -> bool:
        """Write an answer down; False when it is not understood, and is asked for again."""
        folded = " ".join(text.casefold().split())
        if folded in NOT_TESTED:
            self.session.pass_over(kind.id)
            self._remember()
            self._say(f"{kind.id}: not tested. That counts neither way.")
            return True
        try:
            written = "unclear" if folded in UNCLEAR else self._understood(kind, text)
        except (FaultyInputError, QuantityError) as error:
            self._say(str(error))
            return False
        before = None if self.session.memory.assessment else self.session.result()
        if not self._write(kind.id, written):
            return True
        self.session.answered(kind.id)
        self._remember()
        print()
        self._say(f"Written down: {kind.id}: {written}.")
        if before is not None:
            self._show(screens.moved_page(changes(before, self.session.result())), space=False)
        return True

    def _understood(self, kind: ReadingKind, text: str) -> str:
        number = _number(text) if kind.values else None
        if number is not None:
            if not 1 <= number <= len(kind.values):
                raise FaultyInputError([Fault("", f"{number} is not among the answers; 1 to {len(kind.values)} are.")])
            return kind.values[number - 1].is_
        return str(read_value(kind, " ".join(text.split())))

    def _write(self, reading: str, value: str) -> bool:
        """Write a reading into its file, or take it out; False when somebody else has written one there in the meantime."""
        vial, known = self.session.vial, self.session.record

        def change() -> None:
            self.files.reload()
            found = self.files.records.get(vial, known)
            if _written(found, reading) != _written(known, reading):
                raise _WrittenMeanwhileError
            self.files.set_reading(vial, reading, value)

        try:
            self._insist(change)
        except _WrittenMeanwhileError:
            self._say("Somebody has edited the file in the meantime; what they wrote is kept.")
            self._take_over()
            return False
        self._take_over(reading)
        return True

    def _insist(self, change: Callable[[], None]) -> None:
        """Make a change to the files; while that is not possible, let the person mend what is in the way."""
        while True:
            try:
                change()
                return
            except FaultyInputError as error:
                for fault in error.faults:
                    self._say(str(fault))
                self._say("Nothing is lost. Mend that, then press Enter to try again (or type stop).")
                if self._line("> ").casefold() == "stop":
                    raise _StoppedError from None

    def _take_over(self, written: str = "") -> None:
        """Take the records as they are on disk; what somebody else changed there on the vial at hand is told."""
        before = self.session.record
        self.session.records = dict(self.files.records)
        after = self.session.records.get(self.session.vial)
        if after is None:
            self._say(f"Vial {self.session.vial} is no longer in the file.")
            return
        for reading in self.knowledge.readings:
            if reading != written and _written(before, reading) != _written(after, reading):
                self._say(f"In the file now, by another hand: {reading}: {_written(after, reading) or 'not tested'}.")

    # --- words that are no answers ---

    def _command(self, text: str) -> bool:
        """Carry out a word such as `back`; False when `text` is none."""
        word, _, rest = text.partition(" ")
        word = word.casefold()
        if word not in COMMANDS:
            return False
        getattr(self, f"_do_{word}")(" ".join(rest.split()))
        return True

    def _do_help(self, _: str) -> None:
        self._show(screens.help_page(list(COMMANDS.items())))

    def _do_stop(self, _: str) -> None:
        raise _StoppedError

    def _do_tests(self, _: str) -> None:
        self._list_tests()

    def _do_ranking(self, _: str) -> None:
        result = self._unless_held_back()
        if result:
            self._show(screens.ranking_page(result))

    def _do_reasons(self, _: str) -> None:
        result = self._unless_held_back()
        if result:
            self._show(identification_page(result, self.knowledge))

    def _do_rack(self, _: str) -> None:
        hidden = self.session.memory.assessment
        results = {} if hidden else {label: self.session.result(label) for label in self.session.records}
        self._show(screens.rack_page(self.session.records, results, self.session.vial))

    def _do_skip(self, _: str) -> None:
        if self.session.question() is None:
            self._say("No test is under way.")
            return
        self._say(f"Put aside: {self.session.of_vial.doing}. “tests” brings it back.")
        self.session.leave()
        self._remember()

    def _do_note(self, text: str) -> None:
        if not text:
            self._say("Write the note after the word: note a few crystals left")
            return
        vial = self.session.vial
        self._insist(lambda: self.files.set_notes(vial, "; ".join(part for part in (self._fresh_notes(), text) if part)))
        self._take_over()
        self._say("Noted.")

    def _fresh_notes(self) -> str:
        self.files.reload()
        found = self.files.records.get(self.session.vial)
        return found.notes if found else ""  # writing tells that it is gone

    def _do_vial(self, label: str) -> None:
        if not label:
            self._say(f"Vial {self.session.vial} is at hand. Vials: {', '.join(self.session.records)}.")
            return
        if label not in self.session.records:
            self._say(f"There is no vial {label!r} yet. Vials: {', '.join(self.session.records)}.")
            if not self._yes_or_no("Begin a record for it?"):
                return
            try:
                self.files.add_vial(label)
            except FaultyInputError as error:
                self._say(str(error))
                return
            self._take_over()
        self.session.switch(label)
        self._remember()
        self._show_vial()

    def _do_summary(self, form: str) -> None:
        try:
            path = write_summary(self.session, self.files, form or "html", self.knowledge)
        except FaultyInputError as error:
            self._say(str(error))
            return
        self._say(f"The lab summary is in {printable(str(path))}.")

    def _do_back(self, name: str) -> None:
        """Take a reading back, and tell what rested on it."""
        if name:
            kind = find_reading(name, self.knowledge)
            if kind is None:
                self._say(not_accepted(name, "a reading", list(self.session.order()), most=30))
                return
            reading: str | None = kind.id
        else:
            reading = self.session.last()
        if reading is None:
            self._say("There is nothing to take back.")
            return
        record = self.session.record
        if reading not in record.readings and reading not in record.unclear and reading not in self.session.of_vial.passed:
            self._say(f"“{reading}” was not read yet.")
            return
        value = str(record.readings.get(reading, "unclear" if reading in record.unclear else "not tested"))
        before = None if self.session.memory.assessment else self.session.result()
        if value != "not tested" and not self._write(reading, ""):
            return
        self.session.taken_back(reading)
        self._remember()
        if before is None:
            self._say(f"Taken back: “{reading}: {value}”.")
        else:
            self._show(screens.taken_back_page(reading, value, changes(before, self.session.result())))

    # --- small things ---

    def _unless_held_back(self) -> Identification | None:
        if self.session.memory.assessment:
            self._say(_HELD_BACK)
            return None
        return self.session.result()

    def _show_vial(self) -> None:
        hidden = self.session.memory.assessment
        result = None if hidden else self.session.result()
        self._show(screens.vial_page(self.session.vial, self.session.record, result))
        if hidden:
            self._say(_HELD_BACK)

    def _remember(self) -> None:
        self._insist(lambda: self.files.remember(self.session.memory))

    def _yes_or_no(self, question: str) -> bool:
        while True:
            text = self._line(f"{question} (yes or no) ").casefold()
            if text in _YES:
                return True
            if text in _NO:
                return False
            if text == "stop":
                raise _StoppedError
            self._say("Please answer yes or no, or type stop.")

    def _line(self, prompt: str) -> str:
        """A line that the person typed; the end of the input ends the session."""
        try:
            return input(prompt).strip()
        except EOFError:
            print()
            raise _StoppedError from None

    def _say(self, text: str) -> None:
        self._show([Paragraph(text)], space=False)

    def _show(self, page: Sequence[Block], *, space: bool = True) -> None:
        if page:
            if space:
                print()
            show(page, plain=self.plain)


class _WrittenMeanwhileError(Exception):
    """The reading stands otherwise in the file than it did when it was asked for."""


def _number(text: str) -> int | None:
    """The number that was typed, if it is one that could stand before an answer or a test."""
    return int(text) if text.isdecimal() and len(text) <= 3 else None


def _written(record: Record, reading: str) -> str:
    """What a record says of a reading; empty where it was not tested."""
    return str(record.readings.get(reading, "unclear" if reading in record.unclear else ""))
