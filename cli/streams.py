"""Standard streams of old terminals, of pipes that are not UTF-8, and of programs that closed them."""

from __future__ import annotations

import codecs
import os
import sys

# What a sign becomes where the encoding lacks it; a minus sign lost would turn evidence round.
_STAND_INS = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "°": "deg ", "“": '"', "”": '"', "’": "'", "·": ".", "…": "...",
    "≥": ">=", "≤": "<=", "≈": "~", "→": "->", "½": "1/2", "³": "3", "²": "2", "⁻": "-",
}  # fmt: skip


def prepare_streams() -> None:
    """Make printing possible whatever stdout and stderr are."""
    codecs.register_error("stand-ins", _with_stand_ins)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115  (open as long as the program)
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="stand-ins")
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")  # what a terminal of another encoding sends must not end a bench session


def speaks_unicode() -> bool:
    """Whether stdout can show every character."""
    return (sys.stdout.encoding or "").lower().startswith("utf")


def _with_stand_ins(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    plain = "".join(_STAND_INS.get(sign, "?") for sign in lost)
    return plain, error.end
