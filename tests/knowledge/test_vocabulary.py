"""The page of words says what the entries say."""

from __future__ import annotations

from tests.knowledge.vocabulary import PAGE, RELATED, page
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.model.base import RELATIONS


def test_the_page_is_what_the_entries_make_of_it() -> None:
    """Mend a difference with ``python -m tests.knowledge.vocabulary``."""
    root = knowledge_dir()
    assert (root / PAGE).read_text(encoding="utf-8") == page(load(root))


def test_every_relation_is_told_in_words() -> None:
    """No relation is left without its meaning."""
    assert set(RELATED) == set(RELATIONS)
