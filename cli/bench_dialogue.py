"""The dialogue of a bench session: it asks, writes each answer down, and tells what came of it. Lines only, no redrawing."""

from __future__ import annotations

from collections.abc import Callable

from spotplate.engine import Identification, Record
from spotplate.engine.bench.changes import changes
from spotplate.engine.bench.session import Question, Session
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.engine.record import AIR_PRESSURE, NOT_TESTED, UNCLEAR, find_reading, make_record, read_value
from spotplate.kb import (
    BenchTest,
    Fault,
    FaultyInputError,
    KnowledgeBase,
    QuantityError,
    ReadingKind,
    not_accepted,
    printable,
    shown,
)

from .bench_summary import write_summary
from .dialogue import Dialogue, StoppedError
from .views import bench as screens
from .views.identification import identification_page

# Word → what it does; typed at any question. Words that answer a question are told with it.
COMMANDS = {
    "back": "take back the last step, or a reading named after it (back lustre), and answer it again",
    "ranking": "the classes, how probable each is",
    "reasons": "the whole identification as it stands, with its reasons",
    "tests": "all bench tests; choose another one",
    "skip": "put this test aside",
    "note": "write a note into the record (note a few crystals left)",
    "pressure": "write down the air pressure of the day, for a boiling point (pressure 98.2 kPa)",
    "vial": "take another vial in hand (vial B), or begin a new one",
    "rack": "all vials: what is read and what is settled",
    "summary": "write the lab summary (summary html, summary markdown, summary text)",
    "help": "these words",
    "stop": "end the session; everything is kept",
}
_ALSO = {"quit": "stop", "exit": "stop", "end": "stop", "undo": "back", "overview": "rack", "why": "reasons"}
_LONGEST_NOTE = 2000  # characters
_HELD_BACK = "This is an assessment: ranking, verdict and reasons are held back."
_WHICH_SUBSTANCE = "The class is settled. What follows would tell which substance of the set it is."
_TO_CONFIRM = (
    "What follows would confirm it: reference substances that this record resembles are of other classes, too. You may leave "
    "it at that."
)
_YES, _NO = ("yes", "y"), ("no", "n")


UNWRITTEN = "All but your last answer is kept"


class BenchDialogue(Dialogue):
    """One session with a person; `run` ends when they stop."""

    def __init__(self, files: BenchFiles, session: Session, knowledge: KnowledgeBase, *, plain: bool) -> None:
        self.files = files
        self.session = session
        self.knowledge = knowledge
        super().__init__(plain=plain)
        self.unwritten = False  # whether something typed still waits until it can be written down
        self._test_told = ("", "")  # the vial and test whose procedure and cautions were shown last
        # Of what the verdict has been told: the vial, its record, and whether a test was still proposed.
        self._told: tuple[str, object, bool] = ("", None, True)

    def run(self) -> bool:
        """Ask until the person stops; False when the vial turns out to be no case for this program."""
        try:
            self._show(screens.cautions_page(self.knowledge))
            self._tell_missing()
            if not self._is_prepared():
                self._show(screens.not_a_case_page())
                return False
            self._show_vial()
            while True:
                question = self.session.question()
                if question is None:
                    self._choose()
                else:
                    self._ask(question)
        except StoppedError:
            print()
            self._say(f"{UNWRITTEN if self.unwritten else 'Everything is kept'} in {printable(str(self.files.path))}.")
            return True

    # --- before the first test ---

    def _tell_missing(self) -> None:
        if self.session.memory.missing:
            print()
            self._say(f"Not proposed, since not on this bench: {', '.join(self.session.memory.missing)}.")

    def _is_prepared(self) -> bool:
        """Whether the vial at hand was prepared as an exercise; asked once for each vial."""
        if self.session.of_vial.prepared:
            return True
        prepared = self._yes_or_no(f"Did your teacher prepare vial {self.session.vial} as an exercise?")
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
                if self.session.settled():
                    self._say(_WHICH_SUBSTANCE if self.session.memory.among else _TO_CONFIRM)
                self._show(screens.proposal_page(proposals, self.knowledge))
                self._say("Press Enter to begin it, or name another test; “help” tells all words.")
        text = self._line("> ")
        if not text and proposals:
            self._begin(self.knowledge.tests[proposals[0].test])
        elif text:
            self._command_or_test(text)

    def _tell_verdict(self, more: bool) -> None:
        vial, record, proposed = self._told
        if vial == self.session.vial and record is self.session.record and proposed == more:
            return
        self._told = self.session.vial, self.session.record, more
        result = self.session.result()
        if self.session.settled() or not more:
            self._show(screens.standing_verdict_page(result))
            if not self.session.settled():
                left_out = [*self.session.of_vial.left_out, *self.session.of_vial.refused]
                self._say("No other test on this bench is expected to tell much more of it.")
                if left_out:
                    self._say(f"Put aside or not agreed to: {', '.join(left_out)}.")
            self._say("“summary” writes the lab summary, “tests” lists what is still open, “vial” takes another, “stop” ends.")
        self._show(screens.doubts_page(result))

    def _begin_named(self, text: str) -> None:
        standings = self.session.standings()
        names = {standing.test.id: standing for standing in standings}
        wanted = " ".join(text.casefold().split())
        if number := _counted(wanted, len(standings)):
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
        self._tell_test(test)
        if test.teacher and test.id not in self.session.of_vial.agreed:
            if not self._yes_or_no("Has the responsible teacher agreed to this test on this vial?"):
                self.session.decline(test.id)
                self._remember()
                self._say("Then leave it out.")
                return
            self.session.agree(test.id)
        self.session.begin(test.id)
        self._remember()

    def _tell_test(self, test: BenchTest) -> None:
        self._test_told = self.session.vial, test.id
        self._show(screens.test_page(test, self.knowledge))

    def _list_tests(self) -> None:
        self._show(screens.standings_page(self.session.standings(), self.session.proposals()))
        text = self._line("Number or name of a test, or Enter to go back: ")
        if text:
            self._command_or_test(text)

    def _command_or_test(self, text: str) -> None:
        if not self._command(text):
            self._begin_named(text)

    # --- asking for a reading ---

    def _ask(self, question: Question) -> None:
        if self._test_told != (self.session.vial, question.test.id):
            self._tell_test(question.test)  # gone on with after an interruption, or after another vial
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
        # The order first: a reading in it that is not in the record does not count, one that lacks there would be taken
        # for an old one by `back` when the session is cut off between the two.
        self.session.answered(kind.id)
        self._remember()
        if not self._write(kind.id, written):
            return True
        print()
        self._say(f"Written down: {kind.id}: {written}.")
        if before is not None:
            self._show(screens.moved_page(changes(before, self.session.result())), space=False)
        return True

    def _understood(self, kind: ReadingKind, text: str) -> str:
        if kind.values and text.isdecimal():
            number = _counted(text, len(kind.values))
            if not number:
                raise FaultyInputError([Fault("", f"{shown(text)} is not among the answers; 1 to {len(kind.values)} are.")])
            return kind.values[number - 1].is_
        return str(read_value(kind, " ".join(text.split())))

    def _write(self, reading: str, value: str) -> bool:
        """Write a reading into its file, or take it out; False when somebody else has written one there in the meantime."""
        vial, known = self.session.vial, self.session.record

        def change() -> None:
            self._reload()
            found = self.files.records[vial]
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

    def _reload(self) -> None:
        """Read the files again; a record that somebody has removed is written anew, with all that was read."""
        self.files.reload()
        if self.session.vial not in self.files.records:
            self._say("Somebody has removed the record; it is written anew.")
            self.files.put_back(self.session.record)

    def _insist(self, change: Callable[[], None]) -> None:
        """Make a change to the files; while that is not possible, let the person mend what is in the way."""
        while True:
            try:
                change()
                self.unwritten = False
                return
            except FaultyInputError as error:
                self.unwritten = True
                for fault in error.faults:
                    self._say(str(fault))
                self._say("Nothing is lost. Mend that, then press Enter to try again (or type stop).")
                if self._line("> ").casefold() == "stop":
                    raise StoppedError from None

    def _take_over(self, written: str = "") -> None:
        """Take the records as they are on disk; what somebody else changed there on the vial at hand is told."""
        before = self.session.record
        if self.session.vial not in self.files.records:
            self._insist(self._reload)
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
        word = _ALSO.get(word.casefold(), word.casefold())
        if word not in COMMANDS:
            return False
        getattr(self, f"_do_{word}")(" ".join(rest.split()))
        return True

    def _do_help(self, _: str) -> None:
        self._show(screens.help_page(list(COMMANDS.items())))

    def _do_stop(self, _: str) -> None:
        raise StoppedError

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
        text = " ".join(printable(text).split())  # an arrow key that was hit among the letters leaves control characters
        if not text:
            self._say("Write the note after the word: note a few crystals left")
            return
        if len(text) > _LONGEST_NOTE:
            self._say(f"That is too long for a note: {len(text):,} characters; {_LONGEST_NOTE:,} are kept at most.")
            return
        vial = self.session.vial
        self._insist(lambda: self.files.set_notes(vial, "; ".join(part for part in (self._fresh_notes(), text) if part)))
        self._take_over()
        self._say("Noted.")

    def _do_pressure(self, text: str) -> None:
        if not text:
            self._say(f"Air pressure: {self.session.record.air_pressure or 'not written down'}. To write it: pressure 98.2 kPa")
            return
        try:
            pressure = make_record({AIR_PRESSURE[0]: text}, self.knowledge).air_pressure
        except FaultyInputError as error:
            self._say(str(error))
            return
        vial = self.session.vial

        def change() -> None:
            self._reload()
            self.files.set_reading(vial, AIR_PRESSURE[0], str(pressure or ""))

        self._insist(change)
        self._take_over()
        self._say(f"Written down: {AIR_PRESSURE[0]}: {pressure or 'not noted'}.")

    def _fresh_notes(self) -> str:
        self._reload()
        return self.files.records[self.session.vial].notes

    def _do_vial(self, label: str) -> None:
        if not label:
            self._say(f"Vial {self.session.vial} is at hand. Vials: {', '.join(self.session.records)}.")
            return
        label = next((name for name in self.session.records if name.casefold() == label.casefold()), label)
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
        before = self.session.vial
        self.session.switch(label)
        if not self._is_prepared():
            self._show(screens.not_a_case_page())
            self.session.switch(before)
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
        if resting := self.session.resting_on(reading):
            self._say(f"Still in the record, though it could be read only after that: {', '.join(resting)}. Check it, too.")

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
        self._say(question)
        while True:
            text = self._line("Yes or no: ").casefold()
            if text in _YES:
                return True
            if text in _NO:
                return False
            if text == "stop":
                raise StoppedError
            self._say("Please answer yes or no, or type stop.")


class _WrittenMeanwhileError(Exception):
    """The reading stands otherwise in the file than it did when it was asked for."""


def _counted(text: str, most: int) -> int:
    """The number from 1 to `most` that was typed, or 0."""
    number = int(text) if text.isdecimal() and len(text) < 10 else 0
    return number if number <= most else 0


def _written(record: Record, reading: str) -> str:
    """What a record says of a reading; empty where it was not tested."""
    return str(record.readings.get(reading, "unclear" if reading in record.unclear else ""))
