"""The field half of the invented journey: two sites, trials F1 and F2, from sowing to the last plant weighed."""

from palea.demo.field.follow import sow_and_follow

__all__ = ["sow_and_follow"]
