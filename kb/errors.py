"""The one base of all errors, and faults: what is wrong, and where."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec


class SpotplateError(Exception):
    """Base of every error that people can cause and mend."""


class Place(msgspec.Struct, frozen=True):
    """File and line something was read from. Two places always compare equal: where a thing stands is not what it is."""

    file: str
    line: int

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Place)

    def __hash__(self) -> int:
        return 0

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}" if self.line else self.file


MOST_FAULTS = 100  # faults of one file that are told; a file with more of them is not what it claims to be


class Fault(msgspec.Struct, frozen=True):
    """One thing that is wrong: `where` names file, line and path; `says` what was found and what is accepted."""

    where: str
    says: str

    def __post_init__(self) -> None:
        # File names and keys come from people too; none of them may drive a terminal or forge a line.
        for field in ("where", "says"):
            msgspec.structs.force_setattr(self, field, printable(getattr(self, field)))

    def __str__(self) -> str:
        return f"{self.where}: {self.says}" if self.where else self.says


class FaultyInputError(SpotplateError, ValueError):
    """Something that people brought has faults; `faults` holds all of them."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class OutOfRangeError(SpotplateError, ValueError):
    """A number lies outside the range for which it has a meaning."""


def printable(text: str) -> str:
    """`text` on one line, without control characters that could drive a terminal."""
    return text if text.isprintable() else "".join(c if c.isprintable() else " " for c in text)


def shown(found: object, longest: int = 60) -> str:
    """What was found, in quotes, on one line, shortened, without control characters."""
    text = " ".join(printable(str(found)).split())
    return repr(text if len(text) <= longest else text[: longest - 1] + "…")


def nearest(found: str, accepted: Iterable[str]) -> str | None:
    """The accepted spelling closest to `found`, or None when nothing is near."""
    by_lower = {word.casefold(): word for word in accepted}
    import difflib  # only for a message, and slow to import

    close = difflib.get_close_matches(str(found).casefold()[:80], by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def not_accepted(found: str, kind: str, accepted: Sequence[str], most: int = 12) -> str:
    """Sentence that `found` is no `kind`, with the nearest spelling and `most` of what is accepted."""
    near = nearest(found, accepted)
    meant = f"; did you mean {near!r}?" if near else "."
    if not most:
        return f"{shown(found)} is not {kind}{meant}"
    listed = ", ".join(accepted[:most]) + (f", … ({len(accepted)} in all)" if len(accepted) > most else "")
    return f"{shown(found)} is not {kind}{meant} Accepted: {listed}."
