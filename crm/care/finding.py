"""Search keys for type-ahead: what is stored for a car or a person, and what a typed scrap looks for.

Every key is letters and digits only, at most `KEY_LENGTH` long, so that a search is a plain prefix
scan of an indexed column, the same on every database: no wildcard can hide in a key. A key holds only
what compares alike under byte order (case, accents and look-alikes are folded beforehand).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from crm.care.plates import LONGEST_MARK, folded
from crm.care.telephone import national_digits

KEY_LENGTH = 32
_SHORTEST_SCRAP = 2
_SHORTEST_DIGITS = 4
_SHORTEST_LOOK = 3
_LONGEST_LETTERS_ONLY = 8
_CHASSIS_TAILS = range(4, 9)
_CHASSIS_LENGTH = 17
_TYPO_LENGTH = 4
_MOST_WORDS = 6

_PLAIN = {
    "ß": "ss",
    "ø": "o",
    "æ": "ae",
    "œ": "oe",
    "ł": "l",
    "đ": "d",
    "ð": "d",
    "þ": "th",
    "ħ": "h",
    "\u0131": "i",
}
_JOINED = re.compile(r"['`.\u2018\u2019\u00b4\u02bc]")
_TELEPHONE = re.compile(r"\+?[\d\s()/.\-\u2010-\u2015]+")


class KeyKind(StrEnum):
    """What a key was made from; a search only compares keys of one kind."""

    PLATE = "plate"
    CHASSIS = "chassis"
    NAME = "name"
    PHONE = "phone"
    LOOK = "look"


@dataclass(frozen=True, slots=True)
class QueryKey:
    """One thing that a typed scrap may mean.

    `exact`: compare for equality, otherwise as a prefix. `word` numbers the typed word of a name, so
    that "jo har" can be asked to match both words.
    """

    kind: KeyKind
    key: str
    exact: bool = False
    word: int = 0


def plate_keys(normal: str) -> set[str]:
    """Every end of the folded mark with two characters or more: a piece of a mark starts one of them."""
    return _endings(folded(normal)[:KEY_LENGTH], _SHORTEST_SCRAP)


def chassis_keys(chassis: str) -> set[str]:
    """The folded number and its last four to eight characters, which is what people read out."""
    whole = _folded_chassis(chassis)[:KEY_LENGTH]
    return {whole} | {whole[-length:] for length in _CHASSIS_TAILS if length < len(whole)}


def name_keys(name: str) -> set[str]:
    """Each word of the name, folded, and from four letters on each word with one letter left out.

    A typed word is looked up the same way (`query_keys`), so one wrong, missing, doubled or swapped
    letter is still found, also before the word is finished.
    """
    return {key[:KEY_LENGTH] for word in words_of(name) for key in _with_one_left_out(word)}


def look_keys(*seen: str) -> set[str]:
    """Each word of what one sees of a car (colour, make, model, year), as in a name; a number only whole."""
    words = words_of(" ".join(seen))
    return {
        key[:KEY_LENGTH]
        for word in words
        for key in ({word} if _has_digit(word) else _with_one_left_out(word))
    }


def phone_keys(e164: str) -> set[str]:
    """Every end of the number with four digits or more, and the number as dialled in its country."""
    digits = e164.removeprefix("+")
    return _endings(digits, _SHORTEST_DIGITS) | {national_digits(e164)}


def query_keys(text: str) -> tuple[QueryKey, ...]:
    """Everything that a typed scrap could be, several kinds at once; empty where it is too short."""
    keys = [
        *_plate_query(text),
        *_chassis_query(text),
        *_phone_query(text),
        *_name_query(text),
        *_look_query(text),
    ]
    return tuple(dict.fromkeys(keys))


def look_words(text: str) -> list[str]:
    """The typed words that may say what a car looks like. A number alone, such as a year, says too little."""
    words = [word for word in words_of(text)[:_MOST_WORDS] if len(word) >= _SHORTEST_SCRAP]
    telling = any(len(word) >= _SHORTEST_LOOK and not _has_digit(word) for word in words)
    return words if telling else []


def words_of(name: str) -> list[str]:
    """The words of a name, folded: Latin letters lose case and accents, other scripts only case."""
    joined = _JOINED.sub("", unicodedata.normalize("NFKC", name))
    spaced = "".join(character if _in_a_word(character) else " " for character in joined)
    return [_folded_name(word) for word in spaced.split()]


def _in_a_word(character: str) -> bool:
    return unicodedata.category(character)[0] in "LMN"


def _folded_name(word: str) -> str:
    return "".join(_plain(character) for character in unicodedata.normalize("NFC", word.casefold()))


def _plain(character: str) -> str:
    if character in _PLAIN:
        return _PLAIN[character]
    base = unicodedata.normalize("NFKD", character)
    return base[0] if base[0].isascii() and base[0].isalnum() else character


def _with_one_left_out(word: str) -> set[str]:
    if len(word) < _TYPO_LENGTH:
        return {word}
    return {word} | {word[:place] + word[place + 1 :] for place in range(len(word))}


def _endings(text: str, shortest: int) -> set[str]:
    if len(text) <= shortest:
        return {text}
    return {text[start:] for start in range(len(text) - shortest + 1)}


def _folded_chassis(chassis: str) -> str:
    return folded(chassis).replace("Q", "0")


def _compact(text: str) -> str:
    return "".join(character for character in folded(text) if character.isalnum())


def _has_digit(text: str) -> bool:
    return any(character.isdigit() for character in text)


def _plate_query(text: str) -> Iterable[QueryKey]:
    compact = _compact(text)
    longest = LONGEST_MARK if _has_digit(text) else _LONGEST_LETTERS_ONLY
    if _SHORTEST_SCRAP <= len(compact) <= longest:
        yield QueryKey(KeyKind.PLATE, compact)


def _chassis_query(text: str) -> Iterable[QueryKey]:
    compact = _compact(text).replace("Q", "0")
    if _has_digit(text) and _SHORTEST_DIGITS <= len(compact) <= KEY_LENGTH:
        yield QueryKey(KeyKind.CHASSIS, compact, exact=len(compact) == _CHASSIS_LENGTH)


def _phone_query(text: str) -> Iterable[QueryKey]:
    """The typed digits; also without an international 00, and without the bracketed zero of +44 (0)20."""
    bare = text.strip()
    if not _TELEPHONE.fullmatch(bare):
        return
    if bare.startswith(("+", "00")):
        bare = bare.replace("(0)", "")
    digits = "".join(str(unicodedata.decimal(character)) for character in bare if character.isdecimal())
    # Two noughts may also be the middle of a number whose end is typed.
    for key in (digits, digits.removeprefix("00")):
        if _SHORTEST_DIGITS <= len(key) <= KEY_LENGTH:
            yield QueryKey(KeyKind.PHONE, key)


def _name_query(text: str) -> Iterable[QueryKey]:
    """Each typed word and, from four letters on, the word with one letter left out."""
    for place, word in enumerate(words_of(text)[:_MOST_WORDS]):
        if _has_digit(word) or (len(word) < _SHORTEST_SCRAP and word.isascii()):
            continue
        yield QueryKey(KeyKind.NAME, word[:KEY_LENGTH], word=place)
        for shorter in sorted(_with_one_left_out(word) - {word}):
            yield QueryKey(KeyKind.NAME, shorter[:KEY_LENGTH], word=place)


def _look_query(text: str) -> Iterable[QueryKey]:
    """Each typed word, and a word without digits with one letter left out, too."""
    for place, word in enumerate(look_words(text)):
        yield QueryKey(KeyKind.LOOK, word[:KEY_LENGTH], word=place)
        if not _has_digit(word):
            for shorter in sorted(_with_one_left_out(word) - {word}):
                yield QueryKey(KeyKind.LOOK, shorter[:KEY_LENGTH], word=place)


def closeness(typed: str, candidate: str) -> float:
    """How well a found name, mark or number answers what was typed: 0 not at all, 1 the same.

    For putting results in order. A start counts more than a middle, a slip costs by its share of
    what was typed.
    """
    return max(_scrap_closeness(typed, candidate), _words_closeness(words_of(typed), words_of(candidate)))


def _scrap_closeness(typed: str, candidate: str) -> float:
    scrap, whole = _compact(typed), _compact(candidate)
    if not scrap or scrap not in whole:
        return 0.0
    if scrap == whole:
        return 1.0
    share = len(scrap) / len(whole)
    at_an_end = whole.startswith(scrap) or whole.endswith(scrap)
    return (0.8 if at_an_end else 0.6) + 0.19 * share


def _words_closeness(typed: list[str], candidate: list[str]) -> float:
    if not typed or not candidate:
        return 0.0
    return sum(max(word_closeness(word, other) for other in candidate) for word in typed) / len(typed)


def word_closeness(typed: str, word: str) -> float:
    """How well one folded word answers another: 0 not at all, 1 the same."""
    if typed == word:
        return 1.0
    slips = slips_to_start(typed, word)
    if slips == 0:
        return 0.85 + 0.14 * len(typed) / len(word)
    return max(0.0, 0.85 * (1 - slips / len(typed)))


def slips_to_start(typed: str, word: str) -> int:
    """The fewest slips between what was typed and any start of the word.

    A slip is a wrong, missing or extra letter or two neighbours swapped (optimal string alignment).
    """
    before: list[int] = []
    row = list(range(len(word) + 1))
    for i, letter in enumerate(typed, start=1):
        before_last, before, row = before, row, [i]
        for j, other in enumerate(word, start=1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == word[j - 2] and typed[i - 2] == other:
                cost = min(cost, before_last[j - 2] + 1)
            row.append(cost)
    return min(row)
