"""Files of answers: what a line says, and what is told of a line that says nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from triage.errors import KnowledgeError
from triage.store.answers import Answer, parse, read
from triage.terminal.scripted import Scripted


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("grid_dc: -38 V", ("grid_dc", "-38 V", None)),
        ("grid_dc@V3 : 47 mV  # cold", ("grid_dc", "47 mV", "V3")),
        ("discharge.b_plus: 3 V", ("discharge.b_plus", "3 V", None)),
        ("  volume@left.pre-1:keep\r", ("volume", "keep", "left.pre-1")),
        ("complaint: hum: at idle, tube #3", ("complaint", "hum: at idle, tube #3", None)),
        ("note: mail it to a@b #", ("note", "mail it to a@b", None)),
    ],
)
def test_a_line_says_what_where_and_the_answer(
    line: str, answer: tuple[str, str, str | None]
) -> None:
    """The first colon parts key and value; what stands after it is taken as typed."""
    key, value, place = answer

    assert parse(line) == [Answer(key, value, place, 1)]


def test_order_and_numbers_of_lines_are_kept() -> None:
    """Empty lines and comments are counted, not read; a key may come twice."""
    found = parse("# a day\n\na: 1\n   #b: 2\n#b: 2\na: keep\n")

    assert [(a.line, a.value) for a in found] == [(3, "1"), (6, "keep")]


def test_all_lines_that_cannot_be_read_are_told() -> None:
    """Each has its line, what is wrong, and an example."""
    with pytest.raises(KnowledgeError) as caught:
        parse("ok: 1\nhum\n3x: 1\ngrid@: 1\ngrid@a b: 1\ngrid:\ngrid: # 4\n", "a.answers")

    problems = caught.value.problems
    assert [p.line for p in problems] == [2, 3, 4, 5, 6, 7]
    assert all(p.file == "a.answers" and "grid_dc@V3: -38 V" in p.mend for p in problems)
    assert "no colon" in problems[0].what


@pytest.mark.parametrize("raw", [None, b"\xff\xfe\x00a"])
def test_a_file_that_is_missing_or_no_text_is_told(tmp_path: Path, raw: bytes | None) -> None:
    """The error names the file."""
    path = tmp_path / "a.answers"
    if raw:
        path.write_bytes(raw)
    with pytest.raises(KnowledgeError, match="the file of answers cannot be read"):
        read(path)


def test_a_file_is_read_as_the_scripted_session_wants_it(tmp_path: Path) -> None:
    """Lines read from disk serve as answers of a session, with or without a byte order mark."""
    path = tmp_path / "a.answers"
    path.write_bytes("\ufeffrepair@V3: replace µF\n".encode())
    answers: list[Scripted] = list(read(path))

    assert [(a.key, a.place, a.value, a.line) for a in answers] == [
        ("repair", "V3", "replace µF", 1)
    ]
