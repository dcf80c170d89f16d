"""What temperature, drought and storage do to a seed of the invented demo."""

from dataclasses import dataclass, replace
from statistics import NormalDist

from palea.demo.chance import Chance
from palea.demo.truth import arm, of_taxon, truth

_NORMAL = NormalDist()
NEVER = float("inf")


@dataclass(frozen=True)
class Hydro:
    """Hydrotime: a seed germinates when the time above its own base water potential adds up to theta_H.

    psi : water potential of the substrate [MPa].  base, sigma : mean and spread of the seeds' base potentials [MPa].
    theta : hydrotime [MPa d].
    Source: Gummerson 1986, J. Exp. Bot. 37:729 (the model, from memory).
    """

    psi: float
    base: float
    sigma: float
    theta: float

    def time(self, chance):
        """Day on which one seed germinates, from the draw of its base potential; NEVER where it is too dry for it."""
        above = self.psi - chance.normal(self.base, self.sigma)
        return self.theta / above if above > 0 else NEVER


def felt(trial, taxon, place, seed):
    """(the arm as it is there, shift of the log odds of germinating, Hydro or None) of one place of a trial."""
    there = truth()["germination"][trial]["environments"][place.environment]
    it, shift, slower = arm(taxon, place.arm), 0.0, 1.0
    for name in there.get("felt", ()):
        condition = truth()["conditions"][name]
        shift += of_taxon(condition["logit"], taxon) + of_taxon(condition["further"].get(place.arm, 0), taxon)
        slower *= condition["times_t50"]
    if "incubator_run" in there:
        run_sd = truth()["scatter"]["incubator_run_logit_sd"]
        shift += Chance(seed, trial, "incubator run", there["incubator_run"]).normal(0, run_sd)
    viable = aged(place.arm, place.store, there["months"]) if "months" in there else it.viable
    hydro = Hydro(there["psi"], **truth()["hydrotime"][place.arm]) if "psi" in there else None
    return replace(it, t50_d=it.t50_d * slower, viable=viable), shift, hydro


def aged(name, store, months):
    """Share of filled seed alive after so many months in a store: a probit line, of the same start in every store.

    Source: Ellis & Roberts 1980, Ann. Bot. 45:13-30 (the probit line of ageing, from memory).
    """
    ageing = truth()["ageing"]
    lost = months / ageing["months_a_probit"][store][name] if store else 0
    return _NORMAL.cdf(ageing["probit_at_start"] - lost)
