"""What a person looks for in the job list, as it stands in the address; a value that makes no sense asks for nothing."""

from urllib.parse import urlencode

from django.http import QueryDict

from builds.models import Stage
from builds.selectors.build_list import ALL, AT_RISK, LATE, ON_HOLD, OPEN, BuildFilter

__all__ = ["STAGES", "STATES", "filter_address", "wanted_of"]

STAGES = ((OPEN, "Open"), *Stage.choices, (ALL, "All"))
STATES = (("", "Any"), (LATE, "Late"), (AT_RISK, "At risk"), (ON_HOLD, "On hold"))
_KNOWN_STAGES = frozenset(value for value, _ in STAGES)
_KNOWN_STATES = frozenset(value for value, _ in STATES)
_LONGEST_WORDS = 80
_NOTHING = BuildFilter()


def wanted_of(query: QueryDict) -> BuildFilter:
    """Return the filter of an address."""
    if not query:
        return _NOTHING
    stage, state = query.get("stage", ""), query.get("state", "")
    return BuildFilter(
        words=query.get("q", "").replace("\x00", "").strip()[:_LONGEST_WORDS],
        stage=stage if stage in _KNOWN_STAGES else OPEN,
        state=state if state in _KNOWN_STATES else "",
        mine=bool(query.get("mine")),
        customer=_whole(query.get("customer", ""), longest=18),
        page=_whole(query.get("page", ""), longest=5) or 1,
    )


def _whole(text: str, *, longest: int) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= longest else None


def filter_address(wanted: BuildFilter, **changes: object) -> str:
    """Return the query of a filter with ``changes``, back on its first page."""
    values: dict[str, object] = {
        "q": wanted.words,
        "stage": "" if wanted.stage == OPEN else wanted.stage,
        "state": wanted.state,
        "mine": "on" if wanted.mine else "",
        "customer": wanted.customer or "",
    }
    return "?" + urlencode({name: value for name, value in (values | changes).items() if value not in ("", None)})
