"""A laboratory's own sheets, taken into the tables: what was understood is shown first, and only what passes is kept."""

from palea.bench.take_in.understood import Wishes, keep, look

__all__ = ["Wishes", "keep", "look"]
