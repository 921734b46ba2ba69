"""The elements of an HTML page, for tests of what is printed."""

from __future__ import annotations

from html.parser import HTMLParser


class Outline(HTMLParser):
    """Checks that every element is closed in its turn; collects them with their attributes."""

    VOID = frozenset({"meta", "br", "col"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    @property
    def tags(self) -> list[str]:
        return [tag for tag, _ in self.seen]
