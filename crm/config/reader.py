"""Reads settings one by one, and keeps a sentence about each that cannot be right."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from django.core.exceptions import ImproperlyConfigured
from environs import Env, EnvError

T = TypeVar("T", bool, int)


class SettingsError(ImproperlyConfigured):
    """One or more settings cannot be right; the sentences say which and how to mend them."""

    def __init__(self, sentences: list[str]) -> None:
        self.sentences = sentences
        super().__init__("\n".join(sentences))


class Reader:
    """Reads settings one by one and collects the sentences about those that cannot be right."""

    def __init__(self) -> None:
        self.env = Env()
        self.problems: list[str] = []

    def text(self, name: str, default: str = "") -> str:
        return str(self.env.str(name, default)).strip()

    def words(self, name: str) -> list[str]:
        return [word.strip() for word in self.text(name).split(",") if word.strip()]

    def yes(self, name: str, *, default: bool) -> bool:
        return self._typed(name, default, self.env.bool, "must be true or false")

    def number(self, name: str, default: int) -> int:
        return self._typed(name, default, self.env.int, "must be a whole number")

    def _typed(self, name: str, default: T, read: Callable[..., T], rule: str) -> T:
        if not self.text(name):
            return default
        try:
            return read(name)
        except EnvError:
            self.refuse(f"{name} {rule}, not {self.text(name)!r}.")
            return default

    def refuse(self, sentence: str) -> None:
        self.problems.append(sentence)
