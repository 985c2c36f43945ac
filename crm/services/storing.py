"""How every service stores a row: checked first, refused with a sentence where it cannot be right."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models

from crm.services.errors import Refused
from crm.services.plain_words import first_sentence


def store(row: models.Model) -> None:
    """Check a row's columns and save it. Raises Refused with the first sentence of the check.

    Uniqueness is checked by the services themselves, in words of their own; the database has the last word.
    """
    try:
        row.full_clean(validate_constraints=False)
    except ValidationError as error:
        field, errors = next(iter(error.error_dict.items()))
        column = None if field == "__all__" else row._meta.get_field(field)  # noqa: SLF001
        name = str(getattr(column, "verbose_name", "this"))
        raise Refused(f"{name[:1].upper()}{name[1:]}: {first_sentence(errors)}", field=field) from error
    row.save()
