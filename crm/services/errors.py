"""What a service says when it will not do what it was asked."""

from __future__ import annotations


class Refused(Exception):
    """The change cannot be made; the sentence says why and how to mend it."""

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        self.sentence = sentence
        self.field = field
        super().__init__(sentence)


class NeedsReason(Refused):
    """The change is unusual: it is made once a person gives a reason for going on."""

    def __init__(self, sentences: tuple[str, ...], *, field: str = "over_warnings") -> None:
        self.sentences = sentences
        super().__init__(" ".join(sentences), field=field)
