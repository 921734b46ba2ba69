"""What every dialogue with a person shares: lines read, lines said, pages shown. Nothing is redrawn."""

from __future__ import annotations

from collections.abc import Sequence

from .views.page import Block, Paragraph, show


class StoppedError(Exception):
    """The person ended the dialogue."""


class Dialogue:
    """Reads lines from stdin and shows pages on stdout; `plain` ones for a screen reader."""

    def __init__(self, *, plain: bool) -> None:
        self.plain = plain

    def _line(self, prompt: str) -> str:
        """A line that the person typed; the end of the input ends the dialogue."""
        try:
            return input(prompt).strip()
        except EOFError:
            print()
            raise StoppedError from None

    def _say(self, text: str) -> None:
        self._show([Paragraph(text)], space=False)

    def _show(self, page: Sequence[Block], *, space: bool = True) -> None:
        if page:
            if space:
                print()
            show(page, plain=self.plain)
