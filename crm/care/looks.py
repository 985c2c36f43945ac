"""What one sees of a car, held against the words that somebody typed: "blue halden", "marram van 2019"."""

from __future__ import annotations

from dataclasses import dataclass

from crm.care.finding import look_words, word_closeness, words_of


@dataclass(frozen=True, slots=True)
class Looks:
    """Colour, make, model and model year, as they are on file."""

    colour: str
    make: str
    model: str
    year: int | None

    def marks(self) -> dict[str, str]:
        """Each by its name, in the order in which one says them."""
        year = str(self.year) if self.year else ""
        return {"colour": self.colour, "make": self.make, "model": self.model, f"year {year}": year}


def likeness(typed: str, looks: Looks) -> tuple[float, str]:
    """How well a car answers what was typed (0 not at all, 1 in every word), and by what of it: "colour and make"."""
    words = look_words(typed)
    near = 0.0
    answers = set()
    for word in words:
        mark, share = _nearest(word, looks)
        near += share
        if share:
            answers.add(mark)
    told = [mark for mark in looks.marks() if mark in answers]
    return (near / len(words) if words else 0.0), " and ".join(
        filter(None, (", ".join(told[:-1]), *told[-1:]))
    )


def _nearest(word: str, looks: Looks) -> tuple[str, float]:
    shares = {
        mark: max((word_closeness(word, other) for other in words_of(text)), default=0.0)
        for mark, text in looks.marks().items()
    }
    nearest = max(shares, key=lambda mark: shares[mark])
    return nearest, shares[nearest]
