"""A few Gaussian beliefs side by side, weighed by how well each foretold the answers.

Each member k holds a mean and covariance of the same n unknowns under its own hypothesis (a
speed of forgetting, a share of guesses). An answer whose likelihood depends on a few linear
features A x is absorbed by quadrature over those features and carried to all n by regression:
with B = A S and C = A S A^T = L L^T, a = A m + L z for standard normal z; the posterior mean
and covariance (e, K) of z give m += G^T e and S += G^T (K - I) G, where G = L^-1 B. This is
assumed-density filtering (Maybeck, "Stochastic Models, Estimation and Control", vol. 2, 1982);
weighing the members by their evidence is the static multiple-model estimator (Magill, 1965).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_NEVER_IMPOSSIBLE = 1e-9
"""Added to every likelihood: an answer that the model rules out must not end in 0 / 0."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Quadrature for independent standard normals: points (d, q) and weights (q,), sum 1."""

    points: Floats
    weights: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Bank:
    """K weighed Gaussians of n unknowns: mean (K, n), cov (K, n, n), log_weight (K,)."""

    mean: Floats
    cov: Floats
    log_weight: Floats

    @property
    def weight(self) -> Floats:
        """Weights of the members, shape (K,), sum 1."""
        return np.asarray(np.exp(self.log_share))

    @property
    def log_share(self) -> Floats:
        """ln of ``weight``, finite however small: log_weight less its log-sum-exp, shape (K,)."""
        top = self.log_weight.max()
        return np.asarray(self.log_weight - top - np.log(np.exp(self.log_weight - top).sum()))

    def moments(self) -> tuple[Floats, Floats]:
        """Mean and standard deviation of each unknown over the whole bank, each shape (n,)."""
        weight = self.weight
        mean = weight @ self.mean
        variance = weight @ (np.diagonal(self.cov, axis1=1, axis2=2) + (self.mean - mean) ** 2)
        return mean, np.sqrt(variance)


def make_grid(uniform: int, *gaussian: int) -> Grid:
    """A product grid: ``uniform`` even points over +-3.6 sd first, then Gauss-Hermite ones."""
    first = np.linspace(-3.6, 3.6, uniform)
    density = np.exp(-0.5 * first**2)
    axes, weights = [first], [density / density.sum()]
    for count in gaussian:
        points, weight = np.polynomial.hermite_e.hermegauss(count)
        axes.append(points)
        weights.append(weight / weight.sum())
    points = np.array([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")])
    weight = np.ones(1)
    for each in weights:
        weight = np.multiply.outer(weight, each).ravel()
    return Grid(points, weight)


def feature_moments(bank: Bank, features: Sequence[Sequence[int]]) -> tuple[Floats, Floats, Floats]:
    """Mean A m (K, d), A S (K, d, n) and Cholesky factor of A S A^T (K, d, d).

    Each feature is the sum of the unknowns at the positions it lists.
    """
    first = [feature[0] for feature in features]
    mean, across = bank.mean[:, first], bank.cov[:, first, :]
    for row, feature in enumerate(features):
        for position in feature[1:]:
            mean[:, row] += bank.mean[:, position]
            across[:, row] += bank.cov[:, position]
    among = across[:, :, first]
    for row, feature in enumerate(features):
        for position in feature[1:]:
            among[:, :, row] += across[:, :, position]
    return mean, across, np.asarray(np.linalg.cholesky(among), dtype=np.float64)


def learn(
    bank: Bank,
    features: Sequence[Sequence[int]],
    grid: Grid,
    likelihood: Callable[[Floats], Floats],
) -> Bank:
    """The bank after an answer; ``likelihood`` takes features (d, K, q) and returns (K, q)."""
    mean, across, factor = feature_moments(bank, features)
    values = mean[:, :, None] + factor @ grid.points
    weighted = (likelihood(values.swapaxes(0, 1)) + _NEVER_IMPOSSIBLE) * grid.weights
    evidence = weighted.sum(axis=1)
    weighted /= evidence[:, None]
    shift = weighted @ grid.points.T
    spread = (weighted[:, None, :] * grid.points) @ grid.points.T
    spread -= shift[:, :, None] * shift[:, None, :]
    spread -= np.eye(len(features))
    gain = np.linalg.solve(factor, across)
    gain_turned = gain.swapaxes(1, 2)
    cov = bank.cov + gain_turned @ spread @ gain
    return Bank(
        bank.mean + (gain_turned @ shift[:, :, None])[:, :, 0],
        0.5 * (cov + cov.swapaxes(1, 2)),
        bank.log_weight + np.log(evidence),
    )


def interacted(bank: Bank, prior: Sequence[float], kept: float) -> Bank:
    """The bank when each hypothesis holds on with probability ``kept``, or else one is drawn anew.

    A member takes over its share of what the others believe: one that the evidence has ruled out
    would otherwise go astray, and could not come back (interacting multiple models: H. A. P. Blom
    and Y. Bar-Shalom, IEEE Trans. Automatic Control 33, 1988).
    """
    weight, members = bank.weight, len(prior)
    joint = weight[:, None] * (kept * np.eye(members) + (1.0 - kept) * np.asarray(prior))
    later = joint.sum(axis=0)
    share = joint / later
    mean = share.T @ bank.mean
    apart = bank.mean[:, None] - mean[None]
    cov = np.einsum("jk,jab->kab", share, bank.cov)
    cov += np.einsum("jk,jka,jkb->kab", share, apart, apart)
    return Bank(mean, 0.5 * (cov + cov.swapaxes(1, 2)), np.log(later))


def widened(bank: Bank, position: int, sd: float) -> Bank:
    """The bank with one unknown less certain, by so much, on its own."""
    cov = bank.cov.copy()
    cov[:, position, position] += sd * sd
    return Bank(bank.mean, cov, bank.log_weight)


def mixed(one: Bank, other: Bank, share: float) -> Bank:
    """One bank for two accounts of the same answer, ``share`` being the prior share of ``other``.

    Both must have learned from one bank's members: member by member the two are weighed by their
    evidence, and mean and covariance of the mixture are kept.
    """
    log_one = one.log_weight + np.log1p(-share)
    log_other = other.log_weight + np.log(share)
    log_both = np.logaddexp(log_one, log_other)
    part = np.exp(log_other - log_both)[:, None]
    apart = other.mean - one.mean
    outer = apart[:, :, None] * apart[:, None, :]
    part_of_cov = part[:, :, None]
    return Bank(
        one.mean + part * apart,
        one.cov + part_of_cov * (other.cov - one.cov) + part_of_cov * (1.0 - part_of_cov) * outer,
        log_both,
    )


def to_state(bank: Bank) -> dict[str, Any]:
    """Plain lists for JSON; of each covariance only the lower triangle."""
    lower = np.tril_indices(bank.mean.shape[1])
    return {
        "mean": bank.mean.tolist(),
        "cov": bank.cov[:, lower[0], lower[1]].tolist(),
        "log_weight": bank.log_weight.tolist(),
    }


def from_state(state: dict[str, Any]) -> Bank:
    """The bank that ``to_state`` wrote. Raises ValueError, KeyError or TypeError if damaged."""
    mean = np.array(state["mean"], dtype=np.float64)
    triangles = np.array(state["cov"], dtype=np.float64)
    log_weight = np.array(state["log_weight"], dtype=np.float64)
    members, size = mean.shape
    if triangles.shape != (members, size * (size + 1) // 2) or log_weight.shape != (members,):
        raise ValueError("the lists of a saved bank do not fit one another")
    lower = np.tril_indices(size)
    cov = np.empty((members, size, size))
    cov[:, lower[0], lower[1]] = triangles
    cov[:, lower[1], lower[0]] = triangles
    if not all(np.isfinite(part).all() for part in (mean, cov, log_weight)):
        raise ValueError("a saved bank holds numbers that are not finite")
    return Bank(mean, cov, log_weight)
