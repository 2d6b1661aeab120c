"""Files of ``triage reckon chart``, and handing what they say to a job."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import BadReading, KnowledgeError

if TYPE_CHECKING:
    from triage.job.session import Session
    from triage.measure.chart import Told
    from triage.measure.checks import Shelf


def content(name: str) -> str:
    """Text of a file: where it is named, else among the charts that come with the tool.

    Raises
    ------
    BadReading : there is no such file, or it is no text.
    """
    from triage.knowledge.paths import knowledge_dir

    for path in (Path(name), knowledge_dir() / "charts" / name):
        if path.is_file():
            try:
                return path.read_text(encoding="utf-8-sig")
            except (OSError, UnicodeDecodeError) as error:
                raise BadReading(name, f"this file cannot be read ({error}).") from error
    raise BadReading(name, "no such file.", "linden_hall.csv (an example that comes along)")


def hand_over(job: str, values: Mapping[str, str], shelf: Shelf) -> str:
    """Put the findings of a judged chart into a kept job, and say what was put where.

    The job is taken up again as ever: the amplifier then counts as live and charged.

    Raises
    ------
    KnowledgeError : the chart names a finding that is not there.
    BadReading : the chart is of another amplifier, or the job is closed.
    JournalError : there is no such job.
    """
    from triage.cli.opening import open_knowledge
    from triage.cli.places import jobs_path
    from triage.measure.chart import judge_chart, told, unknown_findings
    from triage.measure.chart_files import read_chart, read_readings
    from triage.store.desks import resume

    chart = read_chart(shelf.files[values["chart"]], values["chart"])
    readings = read_readings(shelf.files[values["readings"]], values["readings"], chart)
    problems = unknown_findings(chart, shelf.findings)
    if problems:
        raise KnowledgeError(problems)
    rows = told(judge_chart(chart, readings, shelf.meters), shelf.findings)
    session = resume(open_knowledge(), jobs_path(), job)
    profile = session.bench.profile
    if chart.amplifier and chart.amplifier != profile.amplifier:
        raise BadReading(job, f"this job is of '{profile.amplifier}', the chart of "
                         f"'{chart.amplifier}'.")  # fmt: skip
    if session.state.closed:
        raise BadReading(job, "this job is closed: nothing is put into it any more.")
    return put(session, rows, readings.line)


def put(session: Session, rows: tuple[Told, ...], line: str = "") -> str:
    """Put judged readings into a session; those it has no place or question for are named."""
    grounded = session.bench.grounded
    done, left = [], []
    if line and ("line_volts", "line") in grounded.index:
        session.put("line_volts", "line", line)
        done.append("line")
    for row in rows:
        if (row.finding, row.place) in grounded.index:
            session.put(row.finding, row.place, row.answer)
            session.note(f"Chart, {row.point}: {row.reading}, {row.finding} {row.answer}")
            done.append(row.point)
        else:
            left.append(f"{row.point} ({row.finding} at {row.place})")
    said = f"{len(done)} findings handed to the job."
    return said + (f" It has no question for {'; '.join(left)}." if left else "")
