"""The engine's figures: all of them in tables, and one at a time to change."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from crm.care.number_words import OF_TABLES
from crm.care.numbers import Number, numbers_by_path
from crm.selectors.own_numbers import (
    changes_of,
    in_own_bands,
    number_line,
    number_sheets,
    own_values,
    unused_numbers,
)
from crm.selectors.studio import the_studio
from crm.services.own_numbers import put_back, set_number
from crm.services.rights import Right
from crm.web.access import StudioRequest, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.number_form import NumberForm
from crm.web.studio.settings import followed


@gate(Right.SETTINGS)
@require_safe
def numbers(request: StudioRequest) -> HttpResponse:
    """Every figure, with the studio's own beside the default."""
    known = {"sheets": number_sheets(request.studio), "unused": unused_numbers(request.studio)}
    return render(request, "studio/numbers.html", known)


def _found(path: str) -> Number:
    number = numbers_by_path().get(path)
    if number is None:
        raise Http404
    return number


@gate(Right.SETTINGS)
def number(request: StudioRequest, path: str) -> HttpResponse:
    """One figure: what it is, how it came to be, and a form to change it."""
    row = in_own_bands(_found(path), request.studio)
    form = NumberForm(request.POST or None, number=row, present=own_values(row, request.studio) or row.values)
    if form.is_bound and form.is_valid():
        marked: list[int] = []

        def work() -> None:
            marked.append(
                set_number(
                    path=path, values=form.values(), because=form.cleaned_data["because"], by=request.user
                )
            )

        if done(request, form, work):
            messages.success(request, f"Saved.{followed(sum(marked))}")
            return redirect("number", path)
    title, about = OF_TABLES[row.table]
    studio = the_studio()
    context = {
        "number": row,
        "line": number_line(row, studio),
        "title": title,
        "about": about,
        "form": form,
        "back_form": OnceForm(auto_id="back_%s"),
        "changes": changes_of(row, studio),
    }
    return render(request, "studio/numbers_one.html", context, status=422 if form.is_bound else 200)


@gate(Right.SETTINGS)
@require_POST
def number_back(request: StudioRequest, path: str) -> HttpResponse:
    """The default counts again."""
    row = _found(path)
    form = OnceForm(request.POST)
    marked: list[int] = []
    if form.is_valid() and done(
        request, form, lambda: marked.append(put_back(path=row.path, by=request.user))
    ):
        messages.success(request, f"The default counts again.{followed(sum(marked))}")
    else:
        messages.error(request, " ".join(map(str, form.non_field_errors())))
    return redirect("number", path)
