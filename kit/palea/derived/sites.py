"""Questions that no trial can answer alone: how a difference changes from one site to another."""

from palea.derived import contrasts, field_counts
from palea.derived.view import view


@view(contrasts.asked)
def asked(asked):
    """Declared contrasts across sites, whichever trials stand at those sites."""
    return asked[asked["across"].eq("site")]


@view(field_counts.shares, asked)
def shares(shares, asked):
    """Shares of plots of the species and quantities that are asked about across sites, of all their treatments."""
    wanted = asked[["taxon", "quantity"]].drop_duplicates()
    return shares.merge(wanted, on=["taxon", "quantity"]).reset_index(drop=True)
