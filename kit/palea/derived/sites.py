"""Questions that no trial can answer alone: how a difference changes from one site to another."""

from palea.derived import contrasts
from palea.derived.view import view


@view(contrasts.asked)
def asked(asked):
    """Declared contrasts across sites, whichever trials stand at those sites."""
    return asked[asked["across"].eq("site")]
