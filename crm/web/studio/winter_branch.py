"""Which branch's winter round is looked at: one's own, or the one chosen by the address."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpResponse

from crm.models import Branch, WinterRound
from crm.selectors.winter_plan_state import round_of
from crm.web.access import StudioRequest, found

MOST_CHIPS = 7


@dataclass(frozen=True)
class BranchChoice:
    """The branch, and those one may look at instead. `others` is empty where there is only one, or too many."""

    branch: Branch | None
    others: tuple[Branch, ...]
    by_name: bool
    """Whether there are so many that one writes the name."""
    name: str
    unknown: bool
    """Whether no open branch has the name that was written."""


def branch_choice(request: StudioRequest) -> BranchChoice:
    """The branch of `?branch=` or `?name=`, else one's own, else the first."""
    open_ones = list(Branch.objects.filter(is_open=True)[: MOST_CHIPS + 1])
    many = len(open_ones) > MOST_CHIPS
    name = request.GET.get("name", "").replace("\0", "").strip()[:120]
    named = Branch.objects.filter(name__iexact=name, is_open=True).first() if name else None
    branch = named or _by_number(request) or request.user.branch or (open_ones[0] if open_ones else None)
    others = tuple(open_ones) if 1 < len(open_ones) <= MOST_CHIPS else ()
    return BranchChoice(branch, others, many, name, bool(name) and named is None)


def _by_number(request: StudioRequest) -> Branch | None:
    asked = request.GET.get("branch", "")
    if not asked:
        return None
    if not (asked.isascii() and asked.isdigit() and len(asked) <= 18):
        raise Http404
    return found(Branch.objects.all(), pk=int(asked))


def the_round(pk: int) -> WinterRound:
    """The round that an address names."""
    return found(WinterRound.objects.select_related("branch"), pk=pk)


def round_at(branch: Branch | None, request: StudioRequest) -> WinterRound | None:
    """The round of a branch that is looked at today."""
    return round_of(branch, request.today) if branch is not None else None


def nothing_new(request: StudioRequest, *, current: bool) -> HttpResponse | None:
    """The answer to a page that asks whether the plan is made: nothing to swap in while it is not."""
    return HttpResponse(status=204) if request.htmx and not current else None
