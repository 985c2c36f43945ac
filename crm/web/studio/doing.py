"""Doing what a form asks: once, in one transaction, with a service's refusal as an error of the form."""

from __future__ import annotations

from collections.abc import Callable

from django.db import IntegrityError, transaction
from django.http import QueryDict

from crm.services.errors import Refused
from crm.services.once import first_time
from crm.web.access import StudioRequest
from crm.web.studio.forms.entry import OnceForm

BOTH_AT_ONCE = "Somebody changed this at the same moment. Look again and send it once more."


def sent(request: StudioRequest) -> QueryDict | None:
    """What was posted, also where it is nothing at all; None while the page is only looked at."""
    return request.POST if request.method == "POST" else None


def done(
    request: StudioRequest, form: OnceForm, work: Callable[[], object], *, beside: OnceForm | None = None
) -> bool:
    """Whether the work of a valid form was done, now or when the same form was sent before.

    A refusal is put beside the field that it is about, in the form or in the one `beside` it.
    """
    try:
        with transaction.atomic():
            if first_time(key=form.cleaned_data["once"], by=request.user, now=request.now):
                work()
    except Refused as refused:
        (beside if beside is not None and refused.field in beside.fields else form).take(refused)
        return False
    except IntegrityError:
        form.add_error(None, BOTH_AT_ONCE)
        return False
    return True
