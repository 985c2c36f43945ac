"""The studio's own settings, and how mail leaves."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.conf import settings as installed
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from crm.selectors.stale import stale_count
from crm.selectors.studio import the_studio
from crm.selectors.studio_changes import studio_changes
from crm.services.rights import Right
from crm.services.stale import AT_ONCE, AT_ONCE_FOR, follow_stale
from crm.services.studio_settings import change_settings
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.settings_form import SettingsForm


@dataclass(frozen=True)
class MailWay:
    """How mail leaves this installation. Nothing of it can be changed on a screen."""

    to_folder: bool
    host: str
    port: int
    sender: str
    folder: Path
    settings_file: Path


def mail_way() -> MailWay:
    """How mail leaves now."""
    return MailWay(
        to_folder=installed.MAIL_GOES_TO_FOLDER,
        host=installed.EMAIL_HOST,
        port=installed.EMAIL_PORT,
        sender=installed.DEFAULT_FROM_EMAIL,
        folder=Path(installed.EMAIL_FILE_PATH),
        settings_file=installed.DATA.settings,
    )


@gate(Right.SETTINGS)
def settings(request: StudioRequest) -> HttpResponse:
    """Look at the settings and change them."""
    form = SettingsForm(request.POST or None, studio=request.studio)
    if form.is_bound and form.is_valid():
        marked: list[int] = []
        if done(
            request, form, lambda: marked.append(change_settings(settings=form.settings(), by=request.user))
        ):
            messages.success(request, f"Saved.{followed(sum(marked))}")
            return redirect("settings")
    context = {"form": form, "mail": mail_way(), "changes": studio_changes(the_studio())}
    return render(request, "studio/settings.html", context, status=422 if form.is_bound else 200)


def followed(marked: int) -> str:
    """Work out the first of the cars that a change has marked, and say what became of them all."""
    if not marked:
        return ""
    follow_stale(limit=AT_ONCE, longest=AT_ONCE_FOR)
    left = stale_count()
    if not left:
        return " The forecasts of every car are worked out anew."
    return f" The forecasts follow: {left:,} cars are still to be worked out, which happens by itself."
