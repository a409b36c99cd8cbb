"""The bank of beliefs against the Kalman filter and the laws of mixtures."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.gaussian_bank import (
    Bank,
    from_state,
    interacted,
    learn,
    make_grid,
    mixed,
    to_state,
    widened,
)


def _bank() -> Bank:
    random = np.random.RandomState(3)
    roots = random.standard_normal((2, 4, 4))
    return Bank(
        random.standard_normal((2, 4)),
        roots @ roots.swapaxes(1, 2) + 0.5 * np.eye(4),
        np.log([0.3, 0.7]),
    )


def _overall(bank: Bank) -> tuple[np.ndarray, np.ndarray]:
    mean = bank.weight @ bank.mean
    apart = bank.mean - mean
    cov = np.einsum("k,kij->ij", bank.weight, bank.cov)
    return mean, cov + np.einsum("k,ki,kj->ij", bank.weight, apart, apart)


@pytest.mark.parametrize("feature", [(0,), (1, 3), (0, 1, 2)], ids=str)
def test_a_normal_measurement_is_the_kalman_update(feature: tuple[int, ...]) -> None:
    """R. E. Kalman, J. Basic Engineering 82 (1960), computed here by its textbook formula; the
    quadrature cuts the tails at 3.6 sd, which leaves 0.5 %."""
    bank, measured, noise = _bank(), 0.8, 1.5
    row = np.zeros(4)
    row[list(feature)] = 1.0
    learned = learn(
        bank,
        (feature, (2,)),
        make_grid(41, 5),
        lambda values: np.exp(-0.5 * ((measured - values[0]) / noise) ** 2),
    )
    evidence = np.empty(2)
    for k in range(2):
        spread = row @ bank.cov[k] @ row + noise**2
        gain = bank.cov[k] @ row / spread
        gap = measured - row @ bank.mean[k]
        scale = np.sqrt(np.diag(bank.cov[k]))
        assert np.abs(learned.mean[k] - (bank.mean[k] + gain * gap)).max() < 0.01 * scale.max()
        expected = bank.cov[k] - np.outer(gain, row @ bank.cov[k])
        assert learned.cov[k] == pytest.approx(expected, abs=0.01 * scale.max() ** 2)
        evidence[k] = bank.weight[k] * np.exp(-0.5 * gap**2 / spread) / np.sqrt(spread)
    assert learned.weight == pytest.approx(evidence / evidence.sum(), abs=0.005)


def test_interaction_keeps_the_belief_as_a_whole() -> None:
    """Only the weights' memory fades: mean and covariance over the bank stay what they were."""
    bank = _bank()
    later = interacted(bank, (0.5, 0.5), 0.9)
    for before, after in zip(_overall(bank), _overall(later), strict=True):
        # The weights that sum them are new; the law is that of the mixture.
        assert after == pytest.approx(before, abs=1e-12)
    assert later.weight == pytest.approx([0.9 * 0.3 + 0.05, 0.9 * 0.7 + 0.05])


def test_a_member_that_is_ruled_out_follows_the_others() -> None:
    bank = _bank()
    ruled_out = Bank(bank.mean, bank.cov, np.array([-400.0, 0.0]))
    later = interacted(ruled_out, (0.5, 0.5), 0.9)
    assert later.mean[0] == pytest.approx(bank.mean[1])
    assert later.cov[0] == pytest.approx(bank.cov[1])
    assert later.weight[0] == pytest.approx(0.05)


def test_two_accounts_mix_by_their_evidence() -> None:
    bank = _bank()
    other = Bank(bank.mean + 1.0, 2.0 * bank.cov, bank.log_weight + np.log(3.0))
    mix = mixed(bank, other, 0.25)
    # 0.25 * 3 against 0.75 * 1: even.
    assert mix.mean == pytest.approx(bank.mean + 0.5)
    assert mix.cov == pytest.approx(1.5 * bank.cov + 0.25)
    assert mix.weight == pytest.approx(bank.weight)


def test_widening_touches_one_unknown() -> None:
    bank = _bank()
    wide = widened(bank, 2, 1.5)
    difference = wide.cov - bank.cov
    assert difference[:, 2, 2] == pytest.approx(2.25)
    assert np.count_nonzero(difference) == 2


def test_weights_stay_finite_however_small() -> None:
    tiny = Bank(np.zeros((2, 1)), np.ones((2, 1, 1)), np.array([-5000.0, 0.0]))
    assert np.isfinite(tiny.log_share).all()
    assert tiny.weight.sum() == pytest.approx(1.0)


def test_state_is_exact() -> None:
    bank = _bank()
    bank = Bank(bank.mean, 0.5 * (bank.cov + bank.cov.swapaxes(1, 2)), bank.log_weight)
    again = from_state(to_state(bank))
    assert (again.mean == bank.mean).all()
    assert (again.cov == bank.cov).all()
    assert (again.log_weight == bank.log_weight).all()
