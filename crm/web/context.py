"""What every page is told besides what its view tells it."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def house(request: HttpRequest) -> dict[str, object]:  # noqa: ARG001
    """Whether mail only goes to a folder, which the screens say until a server is set."""
    return {"mail_goes_to_folder": settings.MAIL_GOES_TO_FOLDER}
