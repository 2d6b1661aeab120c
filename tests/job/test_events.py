"""Events as lines of a record."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.job.helpers import start
from triage.job.events import VERSION, Event


def test_every_event_of_a_session_comes_back_from_its_line_as_it_was() -> None:
    """Complaint, answer, act, refusal, note and hazard survive the way to a line and back."""
    session, kept, _ = start()
    session.complaint("it hums")
    session.complaint_over()
    session.note("smells odd")
    session.confirm({})
    session.hazard("smoke")
    session.back()

    assert {"job_started", "answer_given", "note_made", "act_done"} <= {e.kind for e in kept}
    assert [Event.from_line(event.to_line()) for event in kept] == kept
    assert all("\n" not in event.to_line() for event in kept)


@given(text=st.text(max_size=60), at=st.floats(-1e9, 1e9), n=st.integers(0, 10**6))
def test_any_text_time_and_number_survive_a_line(text: str, at: float, n: int) -> None:
    """A note of any characters is one line and comes back as it was."""
    event = Event(n=n, at=at, kind="note_made", data={"text": text})

    assert "\n" not in event.to_line()
    assert Event.from_line(event.to_line()) == event


def test_a_record_of_a_newer_program_is_refused_with_both_versions() -> None:
    """A line one version ahead is refused, and the message names it and the one that is read."""
    line = json.loads(Event(n=0, at=0.0, kind="note_made", data={"text": "x"}).to_line())
    line["v"] = VERSION + 1

    with pytest.raises(ValueError, match=f"version {VERSION + 1}.*reads {VERSION}"):
        Event.from_line(json.dumps(line))


@pytest.mark.parametrize(
    "line, says",
    [
        ("", "not a line"),
        ("[1]", "not a line"),
        ("{", "not a line"),
        ('{"v": 1, "n": 0, "at": 0, "kind": "dreamt"}', "kind"),
        ('{"v": 1, "n": -1, "at": 0, "kind": "closed"}', "n"),
        ('{"v": 1, "n": 0, "kind": "closed"}', "at"),
    ],
)
def test_a_broken_line_is_refused_with_what_is_wrong(line: str, says: str) -> None:
    """Garbage, an unknown kind, a negative number and a missing time each get their own words."""
    with pytest.raises(ValueError, match=says):
        Event.from_line(line)
