"""Broken files are told by file and line with the mend; the cache is quick and changes nothing."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from triage.errors import KnowledgeError, Problem
from triage.knowledge import load as loading
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir

SIGN = """\
- id: {id}
  at: [output_tube]
  says: "Something hidden"
  usual: 0.05
  source: [{{id: judgement, because: "made up for this test"}}]
"""
Write = Callable[[str, str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Puts a file into a small folder of knowledge and gives the folder."""

    def put(name: str, text: str) -> Path:
        root = tmp_path / "knowledge"
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return root

    return put


def problems(root: Path) -> list[Problem]:
    """What the loader says of a folder that it must refuse."""
    with pytest.raises(KnowledgeError) as raised:
        load(root)
    return raised.value.problems


def test_an_unknown_key_is_told_with_its_line_and_mend(write: Write) -> None:
    """A key that the schema does not know is refused where it stands."""
    root = write("signs/grids.yaml", SIGN.format(id="one") + "  colour: red\n")

    (problem,) = problems(root)

    assert (problem.file, problem.line) == ("knowledge/signs/grids.yaml", 6)
    assert "one: colour" in problem.what
    assert "remove the key" in problem.mend


def test_a_missing_key_is_told_at_its_entry(write: Write) -> None:
    """An entry without a source is refused at its first line, second entry or not."""
    second = SIGN.format(id="two").replace("  source:", "  # source:")
    root = write("signs/grids.yaml", SIGN.format(id="one") + second)

    (problem,) = problems(root)

    assert (problem.file, problem.line) == ("knowledge/signs/grids.yaml", 6)
    assert "two: source: Field required" in problem.what


def test_a_value_out_of_range_is_told_at_its_own_line(write: Write) -> None:
    """A share of two is refused on the line where it is written."""
    root = write("signs/grids.yaml", SIGN.format(id="one").replace("0.05", "2.0"))

    (problem,) = problems(root)

    assert (problem.line, "one: usual" in problem.what) == (4, True)


def test_an_id_used_twice_names_both_places(write: Write) -> None:
    """The second use is the problem; the first is named."""
    write("signs/grids.yaml", SIGN.format(id="one"))
    root = write("signs/more.yaml", SIGN.format(id="one"))

    (problem,) = problems(root)

    assert (problem.file, problem.line) == ("knowledge/signs/more.yaml", 1)
    assert problem.what == "id 'one' stands twice"
    assert problem.why == "first at knowledge/signs/grids.yaml:1"


def test_a_key_written_twice_is_no_silent_choice(write: Write) -> None:
    """YAML would take the last one; here it is a problem."""
    root = write("signs/grids.yaml", SIGN.format(id="one") + "  usual: 0.5\n")

    (problem,) = problems(root)

    assert (problem.line, problem.what) == (6, "key 'usual' stands twice")


def test_text_that_is_no_yaml_is_told_by_line(write: Write) -> None:
    """An open bracket is told where reading stopped."""
    root = write("signs/grids.yaml", SIGN.format(id="one") + "- id: [two\n- id: three\n")

    (problem,) = problems(root)

    assert problem.file == "knowledge/signs/grids.yaml"
    assert problem.line >= 6
    assert "not readable as YAML" in problem.what


def test_an_entry_that_is_a_bare_word_is_refused(write: Write) -> None:
    """A list of words is no list of entries."""
    root = write("signs/grids.yaml", SIGN.format(id="one") + "- two\n")

    (problem,) = problems(root)

    assert (problem.line, problem.what) == (6, "an entry must be a mapping of keys")


def test_all_problems_come_in_one_run_in_order(write: Write) -> None:
    """Three faults in two files are all told, sorted by file and line."""
    write("signs/b.yaml", SIGN.format(id="one") + "  colour: red\n")
    root = write("signs/a.yaml", SIGN.format(id="two") + "  colour: red\n  size: big\n")

    assert [(p.file[-6:], p.line) for p in problems(root)] == [
        ("a.yaml", 6),
        ("a.yaml", 7),
        ("b.yaml", 6),
    ]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    """The folder that was looked for is in the message."""
    (problem,) = problems(tmp_path / "nothing")

    assert problem.file == str(tmp_path / "nothing")
    assert problem.what == "no such folder of knowledge"


def test_the_cache_gives_the_same_knowledge_and_is_quicker(tmp_path: Path) -> None:
    """Loaded from the cache all is equal, line numbers too, in less time than from YAML.

    The best of five is compared: a busy machine may slow any single one.
    """
    root = knowledge_dir()
    first = load(root, cache=tmp_path)
    second = load(root, cache=tmp_path)

    def best(cache: Path | None) -> float:
        times = []
        for _ in range(5):
            start = time.perf_counter()
            load(root, cache=cache)
            times.append(time.perf_counter() - start)
        return min(times)

    assert second == first
    assert second.where == first.where
    assert best(tmp_path) < best(None)


def test_with_a_cache_no_yaml_is_parsed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second load never reaches the YAML parser."""
    first = load(knowledge_dir(), cache=tmp_path)

    def refuse(*_: object) -> None:
        raise AssertionError("YAML was parsed")

    monkeypatch.setattr(loading, "Lines", refuse)

    assert load(knowledge_dir(), cache=tmp_path) == first


def test_a_changed_file_is_not_taken_from_the_cache(write: Write, tmp_path: Path) -> None:
    """The cache is keyed by content: an edit is seen at once."""
    root = write("signs/grids.yaml", SIGN.format(id="one"))
    before = load(root, cache=tmp_path / "cache")
    write("signs/grids.yaml", SIGN.format(id="two"))

    after = load(root, cache=tmp_path / "cache")

    assert (list(before.signs), list(after.signs)) == (["one"], ["two"])
    assert before.content_hash != after.content_hash


def test_a_spoilt_cache_is_made_again(write: Write, tmp_path: Path) -> None:
    """A cache file cut short is passed over and written anew."""
    root = write("signs/grids.yaml", SIGN.format(id="one"))
    first = load(root, cache=tmp_path / "cache")
    (kept,) = (tmp_path / "cache").glob("*.json")
    kept.write_text(kept.read_text(encoding="utf-8")[:40], encoding="utf-8")

    assert load(root, cache=tmp_path / "cache") == first
    assert kept.stat().st_size > 40


def test_a_cache_that_cannot_be_written_does_not_matter(write: Write, tmp_path: Path) -> None:
    """A file where the cache's folder should be costs speed, nothing else."""
    root = write("signs/grids.yaml", SIGN.format(id="one"))
    (tmp_path / "cache").write_text("in the way", encoding="utf-8")

    assert list(load(root, cache=tmp_path / "cache").signs) == ["one"]


def test_a_copy_of_the_knowledge_elsewhere_loads_alike(tmp_path: Path) -> None:
    """Nothing depends on where the folder lies."""
    shutil.copytree(knowledge_dir(), tmp_path / "knowledge")

    assert load(tmp_path / "knowledge") == load(knowledge_dir())
