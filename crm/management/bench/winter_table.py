"""The winter bench as tables that fit a terminal of 80 columns."""

from __future__ import annotations

from crm.management.bench.winter import STUDIO_SECONDS, Chain, Season

_WORDS = {
    "proven": "proven within the asked gap",
    "out_of_time": f"the best found in {STUDIO_SECONDS:g} s",
    "rounded": "the relaxation rounded",
}


def studio_table(found: Season) -> list[str]:
    """One studio: where the time goes, the value beside its bound and beside the plain way."""
    planning = found.worth_s + found.solve_s + found.words_s
    return [
        f"One studio: {found.cars:,} cars, {found.candidates:,} worth asking, {found.weeks} weeks",
        f"{'':44}{'seconds':>10}",
        f"{f'curves of {found.layers:,} layers':44}{found.curves_s:>10.2f}",
        f"{'worth of every car in every week':44}{found.worth_s:>10.2f}",
        f"{'search':44}{found.solve_s:>10.2f}",
        f"{'reasons in words':44}{found.words_s:>10.2f}",
        f"{'plan with curves (aim: under 5)':44}{found.curves_s + planning:>10.2f}",
        "",
        f"{'':32}{'asked':>7}{'value':>12}{'bound':>12}{'gap':>9}",
        f"{'plan':32}{found.asked:>7}{found.value:>12,.1f}{found.bound:>12,.1f}{found.gap:>9.2%}",
        f"{'by worth for an hour':32}{'':>7}{found.plain_value:>12,.1f}{'':>12}{'':>9}",
        "",
        f"How: {_WORDS[found.how.value]}. Gap: by how much it may fall short (aim: 1 %).",
        f"Value: expected unprotected salted days avoided; {found.ratio:.4f} times the plain way.",
    ]


def winter_chain_table(found: Chain) -> list[str]:
    """A chain: the sums over its branches, and the seconds."""
    seasons = found.seasons
    parts = (
        ("curves of all layers", sum(one.curves_s for one in seasons)),
        ("worth of every car in every week", sum(one.worth_s for one in seasons)),
        ("searches", sum(one.solve_s for one in seasons)),
        ("reasons in words", sum(one.words_s for one in seasons)),
    )
    asked = sum(one.asked for one in seasons)
    proven = sum(one.gap <= 0.01 for one in seasons)
    return [
        f"A chain: {found.cars:,} cars in {len(seasons)} branches, {found.workers} at a time",
        f"{'':44}{'seconds':>10}",
        *(f"{what:44}{seconds:>10.1f}" for what, seconds in parts),
        f"{'on the wall, with making the cars up':44}{found.seconds:>10.1f}",
        "",
        f"{'':32}{'asked':>7}{'value':>12}{'bound':>12}{'gap':>9}",
        f"{'plans':32}{asked:>7,}{found.value:>12,.0f}{found.bound:>12,.0f}{found.gap:>9.2%}",
        f"{'by worth for an hour':32}{'':>7}{found.plain_value:>12,.0f}",
        "",
        f"Widest gap of a branch: {found.worst_gap:.2%}. Within 1 %: {proven} of {len(seasons)}.",
        f"Value: {found.value / found.plain_value if found.plain_value else 1:.4f} times the plain way.",
    ]
