"""Version 1 of means of shares in blocks, as germination.final/1 used them.

Changed since: a treatment that is all 0 or all 100 % stood in the model of the blocks, by penalised (Firth) likelihood,
which drew it from the end, and all others with it; and what was told of one treatment was its mean over the blocks of the
model, not what was counted of it. The later is better because nobody counted those numbers: with 0 of 100 seedlings it
said 0.4 %, and where a block lacked a treatment the share told was not the share in the table.
"""

from dataclasses import replace

import numpy as np
from scipy import special

from palea.calc.stats import beta_binomial, quasi_binomial, share_means
from palea.calc.stats.share_means import BETA, DISHES_FOR_BETA, POOLED, QUASI, ShareMeans
from palea.errors import UnfitValue


def of_batches(treatment, k, n, block=None):
    """As stats.share_means.of_batches, before: told are the means over the blocks; counts by `of_counts` below.

    Source: as stats.share_means.of_batches.
    """
    means = share_means.of_batches(treatment, k, n, block)
    if means is None or means.model == POOLED:
        return means and replace(means, counted=None)
    return of_counts(treatment, k, n, block)


def of_counts(treatment, k, n, block=None, *, beta=False):
    """As stats.share_means.of_counts, before: blocks for all treatments, also those at 0 or 100 %.

    Source: dispersion: McCullagh & Nelder 1989, ch. 4.5; penalised likelihood: Firth 1993, Biometrika 80:27.
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    k, n = np.asarray(k, float), np.asarray(n, float)
    design = _with_blocks(at, names.size, block)
    if design is None:
        return share_means.of_counts(treatment, k, n, beta=beta)
    if k.size - design.shape[1] < 1:
        return None
    return _blocked(tuple(names), design, k, n, beta=beta and np.bincount(at).min() >= DISHES_FOR_BETA)


def _blocked(names, design, k, n, *, beta):
    model, (way, spread) = _fitted(design, k, n, beta=beta)
    later = design[:, len(names) :].mean(0)
    weights = np.concatenate([[1 - later.sum()], later])
    linear = _in_each_block(len(names), later.size)
    shares = special.expit(linear @ model.coefficients)
    slopes = np.einsum("b,bt,btp->tp", weights, shares * (1 - shares), linear)
    means = weights @ shares
    scale = max(model.pearson / model.df_residual, 1.0) if way == BETA else 1.0
    covariance = scale * slopes @ model.covariance @ slopes.T
    seeds = means * (1 - means) / np.diag(covariance)
    told = {"blocked": True, "warnings": model.warnings}
    return ShareMeans(names, means, covariance, seeds, model.df_residual, way, spread, **told)


def _fitted(design, k, n, *, beta):
    if beta:
        try:
            model = beta_binomial.fit(design, k, n)
        except UnfitValue:
            pass  # a treatment or block all 0 or all 100 %: the penalised fit below has an answer
        else:
            return model, (BETA, model.rho)
    model = quasi_binomial.fit(design, k, n)
    return model, (QUASI, model.dispersion)


def _with_blocks(at, treatments, block):
    """Treatment columns, then a column a block but the first; None where blocks cannot be told from treatments."""
    levels, where = np.unique(np.asarray(block, str), return_inverse=True) if block is not None else ([""], None)
    if len(levels) < 2:
        return None
    both = np.hstack([np.eye(treatments)[at], np.eye(len(levels))[where][:, 1:]])
    return both if np.linalg.matrix_rank(both) == both.shape[1] < at.size else None


def _in_each_block(treatments, later):
    """(blocks, treatments, parameters): what makes the logit of each treatment in each block."""
    columns = np.vstack([np.zeros(later), np.eye(later)])
    return np.stack([np.hstack([np.eye(treatments), np.tile(column, (treatments, 1))]) for column in columns])
