"""The ladder of a filter for the page: lying for a wide window and upright for a phone; the stylesheet shows one."""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from halfsplit.report.ladder import ladder
from halfsplit.report.standing import Stand
from halfsplit.unit import Filter


def both_ways(chosen: Filter, stands: Mapping[str, Stand] | None = None) -> Markup:
    """Both drawings of one filter as inline SVG.

    stands : standing of parts by designator; None or empty in the unit editor
    """
    return Markup(f'<div class="ladders">{ladder(chosen, stands)}{ladder(chosen, stands, upright=True)}</div>')
