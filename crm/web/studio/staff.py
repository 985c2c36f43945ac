"""The people who sign in: the list, somebody new, one of them, and one's own password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from crm.models import User
from crm.selectors.staff import staff as everybody
from crm.services.rights import Right, may
from crm.services.staff import change_own_password, change_staff, end_access, set_password, take_on_staff
from crm.web.access import StudioRequest, found, gate
from crm.web.studio.doing import done
from crm.web.studio.forms.entry import OnceForm
from crm.web.studio.forms.staff_forms import FactsOfStaffForm, NewStaffForm, OwnPasswordForm, PasswordForm

ON_A_PAGE = 50


@gate(Right.SETTINGS)
@require_safe
def staff(request: StudioRequest) -> HttpResponse:
    """Everybody who signs in, with rank, branch and when they last did."""
    page = Paginator(everybody(), ON_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "studio/staff.html", {"page": page})


@sensitive_post_parameters("password")
@gate(Right.SETTINGS)
def staff_new(request: StudioRequest) -> HttpResponse:
    """Give somebody an account."""
    form = NewStaffForm(request.POST or None, branch=request.user.branch)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data

        def work() -> None:
            take_on_staff(
                sign_in=data["username"], facts=form.facts(), password=data["password"], by=request.user
            )

        if done(request, form, work):
            messages.success(
                request, f"{data['name']} can sign in as {data['username']}. Tell them the password."
            )
            return redirect("staff")
    return render(request, "studio/staff_new.html", {"form": form}, status=422 if form.is_bound else 200)


@gate(Right.SETTINGS)
def staff_member(request: StudioRequest, pk: int) -> HttpResponse:
    """One of them: name, initials, rank and branch."""
    row = found(User.objects.select_related("branch"), pk=pk)
    form = FactsOfStaffForm(request.POST or None, row=row)
    if form.is_bound and form.is_valid():
        if done(request, form, lambda: change_staff(row=row, facts=form.facts(), by=request.user)):
            messages.success(request, "Written down.")
            return redirect("staff" if _still_may(request) else "today")
        row.refresh_from_db()
    return _page(request, row, form=form)


@sensitive_post_parameters("password")
@gate(Right.SETTINGS)
@require_POST
def staff_password(request: StudioRequest, pk: int) -> HttpResponse:
    """A new password, which gives ended access back."""
    row = found(User.objects.select_related("branch"), pk=pk)
    form = PasswordForm(request.POST, auto_id="password_%s")
    came_back = not row.is_active
    if form.is_valid():
        password = form.cleaned_data["password"]
        if done(request, form, lambda: set_password(row=row, password=password, by=request.user)):
            if row == request.user:
                update_session_auth_hash(request, row)
            words = "can sign in again" if came_back else "has a new password"
            messages.success(request, f"{row} {words}. Tell them the password.")
            return redirect("staff")
        row.refresh_from_db()
    return _page(request, row, password_form=form)


@gate(Right.SETTINGS)
@require_POST
def staff_end(request: StudioRequest, pk: int) -> HttpResponse:
    """The end of somebody's access, this moment."""
    row = found(User.objects.select_related("branch"), pk=pk)
    form = OnceForm(request.POST, auto_id="end_%s")
    if form.is_valid() and done(request, form, lambda: end_access(row=row, by=request.user)):
        messages.success(
            request, f"{row} can no longer sign in. What they wrote down stays under their name."
        )
        return redirect("staff")
    row.refresh_from_db()
    return _page(request, row, end_form=form)


def _page(request: StudioRequest, row: User, **bound: OnceForm) -> HttpResponse:
    """The page of one person; a form that was refused stands in it with what was typed."""
    forms: dict[str, OnceForm] = {
        "form": FactsOfStaffForm(row=row),
        "password_form": PasswordForm(auto_id="password_%s"),
        "end_form": OnceForm(auto_id="end_%s"),
        **bound,
    }
    refused = any(form.is_bound for form in bound.values())
    return render(
        request, "studio/staff_member.html", {"member": row, **forms}, status=422 if refused else 200
    )


def _still_may(request: StudioRequest) -> bool:
    """Whether somebody who may have changed their own rank can still open these pages."""
    return may(User.objects.get(pk=request.user.pk), Right.SETTINGS)


@sensitive_post_parameters("old", "new", "again")
@gate(Right.LOOK)
def password(request: StudioRequest) -> HttpResponse:
    """One's own password."""
    form = OwnPasswordForm(request.POST or None)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        if done(
            request, form, lambda: change_own_password(user=request.user, old=data["old"], new=data["new"])
        ):
            update_session_auth_hash(request, request.user)
            messages.success(request, "Your password is changed. Everywhere else you are signed out.")
            return redirect("today")
    return render(request, "studio/staff_password.html", {"form": form}, status=422 if form.is_bound else 200)
