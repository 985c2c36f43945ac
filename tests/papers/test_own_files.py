"""Nothing that somebody typed makes a paper open a file, ask another machine, or take in an attachment."""

from __future__ import annotations

import base64
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from weasyprint import HTML

from crm.papers.aftercare import paper, printed
from crm.papers.own_files import FONTS, NotOurs, OwnFontsOnly
from crm.papers.sheet import LaidLine
from tests.papers.content import CONTENT

PNG = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
"""One pixel."""
PIXEL = f"data:image/png;base64,{base64.b64encode(PNG).decode()}"


@pytest.fixture
def asked() -> Iterator[tuple[str, list[str]]]:
    """A server on this machine that hands out a picture: its address, and what was asked of it."""
    paths: list[str] = []

    class Picture(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            paths.append(self.path)
            self.send_response(200)
            self.send_header("Content-Type", "image/png")
            self.end_headers()
            self.wfile.write(PNG)

        def log_message(self, *_said: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Picture)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}", paths
    finally:
        server.shutdown()
        server.server_close()


def _pictures(pdf: bytes, folder: Path) -> int:
    """How many pictures a document holds, by poppler's pdfimages."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    told = subprocess.run(["pdfimages", "-list", path], check=True, capture_output=True, timeout=60).stdout
    return sum(row.split()[2] == "image" for row in told.decode().splitlines()[2:])


def _page(source: str) -> str:
    return f'<html lang="en"><title>A page</title><p>Words <img src="{source}" alt="a picture">'


@pytest.fixture
def sources(asked: tuple[str, list[str]], tmp_path: Path) -> dict[str, str]:
    """The same picture in a file, on a server, and in the address itself."""
    (tmp_path / "pixel.png").write_bytes(PNG)
    return {
        "file": (tmp_path / "pixel.png").as_uri(),
        "network": f"{asked[0]}/pixel.png",
        "address": PIXEL,
    }


@pytest.mark.parametrize("kind", ["file", "network", "address"])
def test_picture_that_is_named_on_a_page_is_left_out(
    sources: dict[str, str], asked: tuple[str, list[str]], tmp_path: Path, kind: str
) -> None:
    assert _pictures(HTML(string=_page(sources[kind])).write_pdf(), tmp_path) == 1, "it is there to be had"
    asked[1].clear()
    assert _pictures(printed(_page(sources[kind])), tmp_path) == 0
    assert asked[1] == []


def test_file_of_the_machine_is_not_attached(tmp_path: Path) -> None:
    page = '<html lang="en"><title>A page</title><link rel="attachment" href="file:///etc/passwd"><p>Words'
    path = tmp_path / "paper.pdf"
    counts = []
    for pdf in (HTML(string=page).write_pdf(), printed(page)):
        path.write_bytes(pdf)
        told = subprocess.run(["pdfdetach", "-list", path], check=True, capture_output=True, timeout=60)
        counts.append(told.stdout.decode().split()[0])
    assert counts == ["1", "0"]


def test_stylesheet_and_drawing_from_elsewhere_are_not_asked_for(asked: tuple[str, list[str]]) -> None:
    url, paths = asked
    printed(
        f'<html lang="en"><title>A page</title><link rel="stylesheet" href="{url}/a.css">'
        f'<style>@import "{url}/b.css"; p {{ background: url("{url}/c.png") }}'
        f' @font-face {{ font-family: "Other"; src: url("{url}/d.ttf") }}</style>'
        f'<p>Words<svg width="9" height="9"><image href="{url}/e.png" width="9" height="9"/></svg>'
    )
    assert paths == []


def test_markup_that_was_typed_stands_on_the_sheet_as_it_was_typed(
    asked: tuple[str, list[str]], tmp_path: Path
) -> None:
    typed = f'<img src="{asked[0]}/x.png"><img src="file:///etc/passwd">'
    line = LaidLine(product=typed, kind="wax", where="bonnet", until="")
    pdf = paper(replace(CONTENT, layers=(line,), promise=typed))
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    read = subprocess.run(
        ["pdftotext", "-raw", path, "-"], check=True, capture_output=True, timeout=60
    ).stdout
    assert read.decode().replace("\n", "").replace(" ", "").count(typed.replace(" ", "")) == 2
    assert (_pictures(pdf, tmp_path), asked[1]) == (0, [])


def test_font_files_are_given_out_by_their_own_address_alone() -> None:
    fetcher = OwnFontsOnly()
    regular = FONTS / "hyperlegible-regular.ttf"
    assert fetcher(regular.as_uri()).read() == regular.read_bytes()
    for other in (
        "file:///etc/passwd",
        f"{FONTS.as_uri()}/../css/frame.css",
        f"{FONTS.as_uri()}/%2e%2e/css/frame.css",
        FONTS.as_uri(),
        f"{regular.as_uri()}?x",
        str(regular),
        "http://localhost/hyperlegible-regular.ttf",
        PIXEL,
        "",
    ):
        with pytest.raises(NotOurs):
            fetcher(other)
