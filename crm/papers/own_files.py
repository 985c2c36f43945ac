"""What a paper may be made from: the typefaces of the project, and nothing else on this machine or any other."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from weasyprint.urls import URLFetcher, URLFetcherResponse

FONTS = Path(__file__).resolve().parents[1] / "static" / "crm" / "fonts"


class NotOurs(ValueError):
    """A paper asked for something that no paper is made from. It is printed without it."""


class OwnFontsOnly(URLFetcher):  # type: ignore[misc]
    """Gives the PDF library the font files by their own addresses and refuses every other: of files, of networks
    and of data written into the address. Words on a sheet are typed by people, and none of them may make a worker
    open something.
    """

    def __init__(self) -> None:
        super().__init__(allowed_protocols=("file",), allow_redirects=False)
        self._given = {path.as_uri(): path for path in FONTS.iterdir()}

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        """The font file at an address. Raises NotOurs for anything else; nothing is opened to find that out."""
        path = self._given.get(url)
        if path is None:
            raise NotOurs("A paper is made from the project's own typefaces only.")
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": "font/ttf"})
