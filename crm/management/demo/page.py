"""Plain text for a terminal: 80 columns, headings, wrapped sentences, tables, and nothing that needs colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Protocol

WIDTH = 80
INDENT = "   "


class Out(Protocol):
    """What can be written to: a stream, or a command's own output."""

    def write(self, words: str, /) -> object: ...
    def flush(self) -> None: ...


class Page:
    """Writes to a terminal, in signs that its encoding knows."""

    def __init__(self, out: Out) -> None:
        self.out = out
        self._chapters = 0

    def line(self, words: str = "") -> None:
        """One line as it is."""
        encoding = getattr(self.out, "encoding", None) or "utf-8"
        plain = words.encode(encoding, "replace").decode(encoding)
        self.out.write(plain.rstrip() + "\n")
        self.out.flush()

    def title(self, words: str) -> None:
        """What all of it is."""
        self.line()
        self.line(words)
        self.line("=" * len(words))

    def chapter(self, words: str) -> None:
        """The next numbered part."""
        self._chapters += 1
        self.line()
        self.line(f"{self._chapters}  {words}")
        self.line("-" * min(len(words) + 3, WIDTH))

    def say(self, words: str, *, hang: str = "") -> None:
        """A sentence, wrapped; `hang` stands before its first line."""
        start = INDENT + hang
        for line in textwrap.wrap(
            words, WIDTH, initial_indent=start, subsequent_indent=" " * len(start), break_long_words=False,
            break_on_hyphens=False,
        ):  # fmt: skip
            self.line(line)

    def table(self, rows: Iterable[Sequence[str]]) -> None:
        """Columns as wide as what is in them; the last one is wrapped into the room that is left."""
        rows = [tuple(row) for row in rows]
        if not rows:
            return
        widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]) - 1)]
        for row in rows:
            head = "  ".join(cell.ljust(width) for cell, width in zip(row[:-1], widths, strict=True))
            self.say(row[-1], hang=head + "  ") if row[-1] else self.line(INDENT + head)

    def path(self, what: str, path: object) -> None:
        """Where something lies; a path is never broken, so that it can be copied."""
        line = f"{INDENT}{what:<13}{path}"
        if len(line) <= WIDTH:
            self.line(line)
        else:
            self.line(f"{INDENT}{what}")
            self.line(f"{INDENT}{path}")
