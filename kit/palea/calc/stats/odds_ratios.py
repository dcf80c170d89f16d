"""Odds ratios between treatments, from one logit model of counts with its dispersion."""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats import quasi_binomial


@dataclass(frozen=True)
class OddsModel:
    """Logits of the treatments `names`, with their covariance (dispersion included), degrees of freedom and warnings."""

    names: tuple[str, ...]
    logits: np.ndarray
    covariance: np.ndarray = field(repr=False)
    df: int
    warnings: tuple[str, ...] = ()

    def ratio(self, a, b, confidence=0.95):
        """Odds of a over odds of b -> (ratio, lower, upper, p); t on the residual degrees of freedom.

        nan all through where one of them is not in the model or no degrees of freedom are left.
        """
        if not {a, b} <= set(self.names) or self.df < 1:
            return (np.nan,) * 4
        step = np.zeros(len(self.names))
        step[self.names.index(a)], step[self.names.index(b)] = 1.0, -1.0
        log_ratio, error = step @ self.logits, np.sqrt(step @ self.covariance @ step)
        half = special.stdtrit(self.df, (1 + confidence) / 2) * error
        p_value = 2 * special.stdtr(self.df, -abs(log_ratio / error))
        return tuple(float(x) for x in (*np.exp([log_ratio, log_ratio - half, log_ratio + half]), p_value))


def of_counts(treatment, k, n, block=None):
    """Fit a logit a treatment, and additive blocks where they are given, to k of n seeds a unit -> OddsModel.

    treatment, block : (units,) labels.  k, n : (units,).  A group all 0 or all 100 % is fitted by penalised likelihood.
    Blocks that cannot be told from the treatments are left out, as in means.
    Source: McCullagh & Nelder 1989, Generalized Linear Models, ch. 4.5; Firth 1993, Biometrika 80:27.

    >>> of_counts(["a", "a", "b", "b"], [5, 7, 2, 4], [10, 10, 10, 10]).ratio("a", "b")[0].__round__(3)
    3.5
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    means = np.eye(names.size)[at]
    design = means if block is None else np.hstack([means, _blocks(block)])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        design = means
    fitted = quasi_binomial.fit(design, k, n)
    inner = slice(names.size)
    return OddsModel(
        tuple(map(str, names)), fitted.coefficients[inner], fitted.covariance[inner, inner], fitted.df_residual,
        fitted.warnings,
    )


def _blocks(block):
    """Columns of blocks against the first one."""
    names, at = np.unique(np.asarray(block, str), return_inverse=True)
    return np.eye(names.size)[at][:, 1:]
