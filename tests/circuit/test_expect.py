"""Expected readings: the table of a circuit, the command, and what the session makes of them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.circuit.simulator import circuit, knowledge
from triage.assess import Bench
from triage.circuit.dictionary import dictionary
from triage.circuit.table import State, named, table
from triage.cli.main import main
from triage.errors import CircuitError
from triage.job.desk import Moment, Tools, amp_facts
from triage.job.fold import Answered, JobState
from triage.safety.states import SafetyState


def test_a_fault_is_told_from_the_band_of_sound_amplifiers() -> None:
    """A leaky C9 takes V3's grid and current out of the band, and leaves V4's grid in."""
    net, faults, _ = circuit("linden_hall")
    fault = named([f for f in faults if f], "C9.capacitor_leaky_1m")
    rows = {row.point: row for row in table(net, fault)}

    assert rows["V3 grid"].off and rows["V3 plate current"].off
    assert not rows["V4 grid"].off
    assert rows["V3 grid"].low < rows["V3 grid"].sound < rows["V3 grid"].high


def test_a_pulled_tube_draws_nothing_and_lets_the_supply_rise() -> None:
    """V3 and V4 out: B+ up by more than 20 V, no current."""
    net, _, _ = circuit("linden_hall")
    rows = {row.point: row for row in table(net, state=State(pulled=("V3", "V4")))}
    whole = {row.point: row for row in table(net)}

    assert rows["HT"].sound > whole["HT"].sound + 20
    assert rows["V3 plate current"].sound < 1e-6
    with pytest.raises(CircuitError, match="no tube 'V9'; there are V1a"):
        table(net, state=State(pulled=("V9",)))


def test_the_command_prints_a_table_and_data_and_a_picture(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Text within 80 columns a number column; JSON with SI; SVG with a star where it is off."""
    target = tmp_path / "drawn.svg"
    args = ["expect", "practice_amp", "--fault", "C7.capacitor_leaky_1m", "--svg", str(target)]
    assert main(args) == 0
    said = capsys.readouterr().out
    assert "Fault: C7 leaks: 1 Mohm (cause: coupling_cap.leaky)" in said
    assert max(map(len, said.splitlines()[2:])) <= 80
    drawn = target.read_text(encoding="utf-8")
    assert drawn.startswith("<svg") and "V2  6V6GT" in drawn and " *" in drawn

    assert main([*args[:4], "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    row = next(r for r in data["rows"] if r["point"] == "V2 grid")
    assert row["unit"] == "V" and row["now"] > row["sound"] and row["off"]


def test_what_is_not_there_is_told_with_what_is(capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong circuit, part, way and line: each says what can be asked instead."""
    for args, word in (
        (["nowhere"], "name one of dance_band"),
        (["practice_amp", "--fault", "C7.melted"], "faults of it: C7.capacitor_shorted"),
        (["practice_amp", "--fault", "Q1"], "parts: "),
        (["practice_amp", "--line", "500 V"], "half to 1.2 times"),
    ):
        assert main(["expect", *args]) == 1
        assert word in capsys.readouterr().err


def test_a_circuit_of_ones_own_is_solved_from_its_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The smallest file works; one with a slip is refused with its line."""
    good = tmp_path / "mine.yaml"
    text = (
        "circuit: mine\nsays: a bleeder on a supply\nline: {nominal: 230 V, hertz: 50 Hz}\n"
        "supplies:\n  HT: {kind: bridge, winding: 200 V, source: 20 ohm, reservoir: 100 uF, node: b}\n"
        "parts:\n  R1: {kind: resistor, value: 47 kohm, nodes: [b, chassis]}\ntubes: {}\n"
        'source: [{id: judgement, because: "mine"}]\n'
    )
    good.write_text(text, encoding="utf-8")
    assert main(["expect", str(good)]) == 0
    assert "HT current" in capsys.readouterr().out

    bad = tmp_path / "bad.yaml"
    bad.write_text(text.replace("value: 47 kohm, ", ""), encoding="utf-8")
    assert main(["expect", str(bad)]) == 1
    assert "bad.yaml:7" in capsys.readouterr().err


def test_faults_that_read_alike_stand_together_and_others_are_told_apart(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A dead V2 is not a leaky C7, which is seen best at V2."""
    net, faults, _ = circuit("practice_amp")
    found = dictionary(net, [f for f in faults if f])
    rows = {found.name(row): row for row in range(len(found.values))}
    together = next(group for group in found.groups() if rows["V2.tube_dead"] in group)

    assert rows["C7.capacitor_leaky_1m"] not in together
    point, times = found.best(0, rows["C7.capacitor_leaky_1m"])
    assert point.startswith("V2") and times > 3
    assert main(["expect", "practice_amp", "--alike"]) == 0
    assert "read alike" in capsys.readouterr().out
    args = ["expect", "practice_amp", "--between", "sound", "C7.capacitor_leaky_1m"]
    assert main(args) == 0
    assert capsys.readouterr().out.startswith("V2")


def idle(*answers: Answered) -> Moment:
    """Linden Hall, powered and idle, with these answers."""
    kb = knowledge()
    bench = Bench.make(kb, kb.profiles["linden_hall"])
    safety = SafetyState(mains="on", tubes="all_in")
    return Moment(
        bench, Tools.of(bench), JobState(answers=answers, safety=safety), amp_facts(bench)
    )


def test_readings_are_judged_against_the_circuit_at_todays_line() -> None:
    """B+ of 407 V is as it should be at 120 V, and high at 108 V; without power nothing is said."""
    moment = idle()
    assert moment.judge("b_plus", "amp", "407 V").answer == "normal"
    assert moment.judge("b_plus", "amp", "300 V").answer == "low"
    assert moment.judge("cathode_volts", "V3", "1.5 V").answer == "high"
    low_line = idle(Answered(0, "line_volts", "line", "low", typed="108 V", kept=True))
    band, nominal = low_line.expected("b_plus", "amp"), moment.expected("b_plus", "amp")
    assert band is not None and nominal is not None
    assert band.mid == pytest.approx(0.9 * nominal.mid, rel=0.02)
    cold = Moment(moment.bench, moment.tools, JobState(), moment.facts)
    assert cold.expected("b_plus", "amp") is None
