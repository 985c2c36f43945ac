"""A person: how to reach them, what they allow, and their cars."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from crm.models import Consent, Contact, Pause, Person
from crm.selectors.letters_wanted import letters_wanted
from crm.selectors.people import person_file
from crm.services.people import (
    change_person,
    end_pause,
    hear_answer,
    mark_dead,
    mark_working,
    pause_letters,
)
from crm.services.registry import Answer, add_contact
from crm.services.rights import Right
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done, sent
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.people_forms import (
    ConsentForm,
    ContactForm,
    ContactStateForm,
    PauseForm,
    PersonForm,
)


@gate(Right.PEOPLE)
def person(request: StudioRequest, pk: int) -> HttpResponse:
    """Everything about a person."""
    return _page(request, found(Person.objects.all(), pk=pk))


def _page(request: StudioRequest, row: Person, **bound: OnceForm) -> HttpResponse:
    """The person's page; a form that was refused stands in it with what was typed."""
    forms: dict[str, OnceForm] = {
        "contact_form": ContactForm(auto_id="contact_%s"),
        "consent_form": ConsentForm(studio=request.studio, auto_id="consent_%s"),
        "pause_form": PauseForm(initial={"since": request.today}, auto_id="pause_%s"),
        **bound,
    }
    file = person_file(row, today=request.today)
    context = {
        "file": file,
        "letters": letters_wanted(file.consents, file.contacts, zone=request.studio.zone),
        "person": row,
        **forms,
        "open_forms": set(bound),
    }
    return render(request, "studio/person.html", context, status=422 if bound else 200)


def _settled(
    request: StudioRequest, row: Person, name: str, form: OnceForm, work: Callable[[], object]
) -> HttpResponse:
    if form.is_valid() and done(request, form, work):
        messages.success(request, "Written down.")
        return redirect("person", row.pk)
    return _page(request, row, **{name: form})


@gate(Right.PEOPLE)
def change(request: StudioRequest, pk: int) -> HttpResponse:
    """Name, greeting, and what is known of a person."""
    row = found(Person.objects.all(), pk=pk)
    names = ("name", "sort", "greeting", "note", "moved_away", "deceased")
    form = PersonForm(sent(request), initial={name: getattr(row, name) for name in names})
    if form.is_bound and form.is_valid():
        if done(request, form, lambda: change_person(person=row, facts=form.facts(), by=request.user)):
            messages.success(request, "Written down.")
            return redirect("person", row.pk)
        row.refresh_from_db()
    status = 422 if form.is_bound else 200
    return render(request, "studio/person_change.html", {"person": row, "form": form}, status=status)


@gate(Right.PEOPLE)
@require_POST
def add_a_contact(request: StudioRequest, pk: int) -> HttpResponse:
    """A telephone number, an address."""
    row = found(Person.objects.all(), pk=pk)
    form = ContactForm(request.POST, auto_id="contact_%s")

    def work() -> None:
        add_contact(
            person=row, kind=form.cleaned_data["kind"], value=form.cleaned_data["value"], by=request.user
        )

    return _settled(request, row, "contact_form", form, work)


@gate(Right.PEOPLE)
def contact(request: StudioRequest, pk: int, contact: int) -> HttpResponse:
    """Whether a contact works: mark it dead with the reason, or working again."""
    row = found(Contact.objects.select_related("person"), pk=contact, person=pk)
    form = ContactStateForm(sent(request))
    if form.is_bound and form.is_valid():
        because = form.cleaned_data["because"]
        works_again = row.dead_since is not None

        def work() -> None:
            if works_again:
                mark_working(contact=row, by=request.user)
            else:
                mark_dead(contact=row, because=because, at=request.now, by=request.user)

        if done(request, form, work):
            messages.success(request, "It works again." if works_again else "Nothing goes there any more.")
            return redirect("person", row.person_id)
    context = {"contact": row, "person": row.person, "form": form}
    return render(request, "studio/contact.html", context, status=422 if form.is_bound else 200)


@gate(Right.PEOPLE)
@require_POST
def consent(request: StudioRequest, pk: int) -> HttpResponse:
    """The answer to whether letters are wanted, with the words that were shown."""
    row = found(Person.objects.all(), pk=pk)
    form = ConsentForm(request.POST, studio=request.studio, auto_id="consent_%s")

    def work() -> None:
        data = form.cleaned_data
        answer = Answer(
            purpose=Consent.Purpose.LETTERS,
            channel=data["channel"],
            given=data["given"] == "yes",
            wording=form.wording,
            how=data["how"],
        )
        hear_answer(person=row, answer=answer, at=request.now, by=request.user)

    return _settled(request, row, "consent_form", form, work)


@gate(Right.PEOPLE)
@require_POST
def pause(request: StudioRequest, pk: int) -> HttpResponse:
    """A time without letters."""
    row = found(Person.objects.all(), pk=pk)
    form = PauseForm(request.POST, auto_id="pause_%s")

    def work() -> None:
        data = form.cleaned_data
        pause_letters(person=row, why=data["why"], since=data["since"], until=data["until"], by=request.user)

    return _settled(request, row, "pause_form", form, work)


@gate(Right.PEOPLE)
@require_POST
def pause_end(request: StudioRequest, pk: int, row: int) -> HttpResponse:
    """Letters may go out again."""
    paused = found(Pause.objects.all(), pk=row, person=pk)
    end_pause(pause=paused, until=request.today, by=request.user)
    messages.success(request, "The pause ends today.")
    return redirect("person", pk)
