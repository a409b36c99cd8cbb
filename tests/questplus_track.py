"""The questplus library (Watson, Journal of Vision 17(3), 2017) on one band of a forced namer.

Given what a population's model knows: N(2, sd) on log2 finest size, slope and lapse unknown.
"""

from __future__ import annotations

import math
import warnings

import numpy as np

from tests.simulated_drill import SIZES

LOG10_TWO = math.log10(2.0)


class QuestplusTrack:
    """Places sizes and learns from answers named or not; sizes in log10 dB."""

    def __init__(self, chance: float, slope: float, sd: float, points: int = 41) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from questplus import QuestPlusWeibull

        thresholds = np.linspace(2.0 - 3.2 * sd, 2.0 + 3.2 * sd, points)
        deviations = np.linspace(-2.0, 2.0, 7)
        self._quest = QuestPlusWeibull(
            intensities=[float(size * LOG10_TWO) for size in SIZES[::2]],
            thresholds=[float(threshold * LOG10_TWO) for threshold in thresholds],
            slopes=[float(each) for each in slope * np.exp(0.35 * deviations)],
            lower_asymptotes=[chance],
            lapse_rates=[0.02, 0.04],
            prior={
                "threshold": _normal((thresholds - 2.0) / sd),
                "slope": _normal(deviations),
                "lower_asymptote": np.ones(1),
                "lapse_rate": np.array([0.5, 0.5]),
            },
            stim_scale="log10",
        )

    def next_log10(self) -> float:
        """The size that it would ask next."""
        return float(self._quest.next_intensity)

    def learn(self, log10_size: float, named: bool) -> None:
        """Takes one answer; the size must be one of its own."""
        self._quest.update(intensity=log10_size, response="Yes" if named else "No")

    def log2_finest(self) -> float:
        """Posterior mean."""
        return float(self._quest.param_estimate["threshold"]) / LOG10_TWO

    def log2_finest_sd(self) -> float:
        """Posterior standard deviation."""
        weights = self._quest.marginal_posterior["threshold"]
        thresholds = np.asarray(self._quest.thresholds) / LOG10_TWO
        mean = float(weights @ thresholds)
        return math.sqrt(float(weights @ (thresholds - mean) ** 2))


def _normal(deviation: np.ndarray) -> np.ndarray:
    density = np.exp(-0.5 * deviation**2)
    return np.asarray(density / density.sum())
