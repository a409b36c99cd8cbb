"""A long drill in compressed time: memory stays flat, every block comes, no answer is lost.

The full four hours are ``python -m tests.bench endurance``.
"""

from __future__ import annotations

import pytest

from tests.endured_drill import Endured, endure

QUESTIONS, EVERY, WARM_UP = 260, 10, 100


@pytest.fixture(scope="module")
def endured(tmp_path_factory: pytest.TempPathFactory) -> Endured:
    folder = tmp_path_factory.mktemp("endured")
    return list(endure(folder, QUESTIONS, every=EVERY, listen_every=20))[-1]


@pytest.mark.slow
def test_no_answer_is_lost_or_changed(endured: Endured) -> None:
    assert endured.on_disk == endured.answered == QUESTIONS
    assert endured.record_sha == endured.answers_sha


@pytest.mark.slow
def test_every_block_is_delivered_and_what_sounds_is_what_was_asked(endured: Endured) -> None:
    assert endured.undelivered == 0
    assert endured.listened == QUESTIONS // 20


@pytest.mark.slow
def test_memory_stays_flat(endured: Endured) -> None:
    """Within 5 % (our own promise), from when everything that is kept in memory is there."""
    warm = endured.rss_after(WARM_UP)
    assert endured.rss_after(QUESTIONS - 2 * EVERY) < 1.05 * warm
