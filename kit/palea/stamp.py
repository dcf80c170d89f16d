"""Who and when. This is the one place that reads the clock; everything else is handed a Stamp."""

import getpass
from dataclasses import dataclass
from datetime import UTC, datetime

from palea.errors import PaleaError


@dataclass(frozen=True)
class Stamp:
    """Who did it and when. `when` is a time with an offset, to the second, as ISO 8601 text."""

    who: str
    when: str

    @property
    def day(self):
        """The date alone, YYYY-MM-DD."""
        return self.when[:10]


def now(who=None, when=None):
    """A Stamp for this moment, or for `when` (ISO 8601 text, as --now gives it) so that the same state gives the same bytes."""
    moment = datetime.now(UTC) if when is None else _parse(when)
    return Stamp(who or _user(), moment.isoformat(timespec="seconds"))


def _parse(text):
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        msg = f"“{text}” is not a time. Write it as 2026-05-04T09:30:00+00:00."
        raise PaleaError(msg) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _user():
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # an account without a name, as in some containers
        return "unknown"
