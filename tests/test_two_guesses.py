"""Two guesses before a table: before a pass a fault is likely, before a rework it is not."""

import pytest

from inspector.model import Outcome
from inspector.one_check import judge_check
from inspector.probability import probability, sent_back
from inspector.settings import Settings
from inspector.wording import BY_TABLE
from tests.made_checks import a_check, a_limit, measured, table

FAR_OVER = measured(9.0)


def test_bayes_by_hand(monkeypatch):
    """0.2 at even odds is 1 to 4; four sound joints to each bad one make it 1 to 1."""
    table(monkeypatch, {"a-check.gap": 0.2})
    assert probability("a-check", FAR_OVER, a_limit()) == pytest.approx(0.2)
    assert sent_back("a-check", FAR_OVER, a_limit()) == pytest.approx(0.5)


def test_no_table_no_guess(monkeypatch):
    table(monkeypatch, {})
    plain = probability("a-check", FAR_OVER, a_limit())
    assert sent_back("a-check", FAR_OVER, a_limit()) == plain < 1e-6


@pytest.mark.parametrize(("p", "outcome"), [(0.15, Outcome.DOUBT), (0.01, Outcome.REWORK)])
def test_a_faint_sign_is_a_doubt(monkeypatch, p, outcome):
    table(monkeypatch, {"a-check.gap": p})
    assert judge_check(a_check(), (FAR_OVER,), Settings()).outcome is outcome


@pytest.mark.parametrize(("u", "said"), [(0.1, False), (9.0, True)])
def test_a_rework_on_a_vague_size_says_what_decided(monkeypatch, u, said):
    """9 ± 18 is no reason that anybody would believe; that such joints were bad is one."""
    table(monkeypatch, {"a-check.gap": 0.01})
    found = judge_check(a_check(), (measured(9.0, u),), Settings())
    assert found.outcome is Outcome.REWORK
    assert (BY_TABLE in found.text) is said
