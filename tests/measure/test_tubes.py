"""Every tube row is sane, names its sources, and is found by every exact number."""

import pytest
import yaml

from triage.errors import KnowledgeError
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.measure.tube_entry import BASE_PINS, FLOORS, LIMIT_UNITS, TubeType
from triage.measure.tubes import find_tube, load_tubes
from triage.units import value_of


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


ROWS = [row for row in rows("tubes/*.yaml") if "type" in row]
TUBES = load_tubes(ROWS)
KINDS = {tube.id: tube for tube in TUBES.values()}
SOURCES = {row["id"]: row["kind"] for row in rows("sources.yaml")}


def each(*, rectifier: bool | None = None):
    """One case per type; only rectifiers, only the others, or all."""
    chosen = [
        tube
        for tube in KINDS.values()
        if rectifier is None or ("inverse_v" in tube.limits) is rectifier
    ]
    return pytest.mark.parametrize("tube", chosen, ids=lambda tube: tube.id)


def el84(**changes) -> dict:
    row = next(row for row in ROWS if row["id"] == "el84")
    return {**row, **changes}


def test_there_are_types_enough_of_each_sort() -> None:
    """At least 48 types, among them 12 rectifiers, 20 output tubes and 20 small ones."""
    rectifiers = [tube for tube in KINDS.values() if "inverse_v" in tube.limits]
    power = [tube for tube in KINDS.values() if (tube.limit("plate_w") or 0) >= 5]
    assert len(KINDS) >= 48
    assert len(rectifiers) >= 12 and len(power) >= 20
    assert len(KINDS) - len(rectifiers) - len(power) >= 20


def test_ids_and_names_are_each_of_one_type() -> None:
    """No id stands twice, and every exact name finds its type."""
    assert len(ROWS) == len(KINDS)
    for tube in KINDS.values():
        assert all(find_tube(TUBES, name) is tube for name in tube.names())


def test_knowledge_as_loaded_holds_the_same_types() -> None:
    """What the loader caches is what the files say."""
    assert {row["id"] for row in load(knowledge_dir()).plain["tubes"] if "type" in row} == set(
        KINDS
    )


@each()
def test_every_number_names_a_listed_source(tube: TubeType) -> None:
    """Each ``from`` is an id of sources.yaml, and each source of a number is told at the entry."""
    assert tube.sources_used() <= set(SOURCES)
    assert tube.heater.from_ in {source.id for source in tube.source} | set(SOURCES)


@each()
def test_pins_are_on_the_base_and_serve_once(tube: TubeType) -> None:
    """No pin serves two electrodes, but for a cathode joined to one side of its heater."""
    roles = tube.pins.by_role()
    used = [pin for role, pins in roles.items() if role != "cathode" for pin in pins]
    own = [pin for pin in tube.pins.cathode if pin not in tube.pins.heater]
    used += own
    if tube.triode is not None:
        used += [tube.triode.plate, tube.triode.grid, tube.triode.cathode]
    assert len(used) == len(set(used))
    assert len(own) in (0, len(tube.pins.cathode))
    assert all(1 <= pin <= BASE_PINS[tube.base] for pin in used)


@each()
def test_a_cathode_is_there_unless_directly_heated(tube: TubeType) -> None:
    """A filament is its own cathode; every other type has one."""
    assert bool(tube.pins.cathode) is not tube.heater.direct


@each(rectifier=False)
def test_sections_have_one_plate_and_grid_each(tube: TubeType) -> None:
    """A double triode has two plates and two grids; a triode has no screen."""
    if tube.sections == 2:
        assert (len(tube.pins.plate), len(tube.pins.grid)) == (2, 2)
    assert bool(tube.pins.screen) is any(point.screen_v for point in tube.points)


@each()
def test_limits_and_heater_are_positive_and_ordered(tube: TubeType) -> None:
    """All limits above zero, the safer of two used, and heater power the same both ways."""
    for name, limit in tube.limits.items():
        value = value_of(limit.is_, LIMIT_UNITS[name])
        assert value > 0
        if limit.also is not None:
            other = value_of(limit.also.is_, LIMIT_UNITS[name])
            assert other <= value if name in FLOORS else other >= value
    powers = [volts * amps for volts, amps in tube.heater_ways()]
    assert all(power == pytest.approx(powers[0], rel=0.01) for power in powers)
    assert 0.5 <= powers[0] <= 20


@each(rectifier=False)
def test_points_stay_within_their_limits(tube: TubeType) -> None:
    """Plate and screen watts, volts and cathode current of each point are allowed."""
    assert tube.points
    screen_w = tube.limit("screen_w")
    for point in tube.points:
        watts, allowed = point.plate_watts(), tube.limit("plate_w")
        assert allowed is None or watts <= allowed * 1.0001
        plate_v, screen_v = point.volts()
        assert plate_v <= (tube.limit("plate_v") or 1e9)
        assert screen_v <= (tube.limit("screen_v") or 1e9)
        assert point.rated()[1] <= (tube.limit("cathode_ma") or 1e9)
        if screen_w is not None and point.screen_ma is not None:
            assert screen_v * value_of(point.screen_ma, "A") <= screen_w
        assert value_of(point.grid_v, "V") <= 0


@each(rectifier=False)
def test_points_agree_with_themselves(tube: TubeType) -> None:
    """mu = gm x rp: the plate resistance that follows is between 0.5 and 120 kohm."""
    for point in tube.points:
        if point.mu is not None and point.gm_ma_per_v is not None:
            assert 0.5e3 < point.mu / (point.gm_ma_per_v * 1e-3) < 120e3


@each(rectifier=False)
def test_the_triode_in_the_envelope_is_within_its_own_limits(tube: TubeType) -> None:
    """A triode beside a pentode has its own watts."""
    if tube.triode is None:
        return
    watts = value_of(tube.triode.limits["plate_w"].is_, "W")
    assert all(point.plate_watts() <= watts * 1.0001 for point in tube.triode.points)


@each(rectifier=False)
def test_fixed_bias_bears_less_grid_return(tube: TubeType) -> None:
    """The limit of fixed bias is not above that of cathode bias, and counts where bias is unknown."""
    fixed, cathode = tube.return_limit("fixed"), tube.return_limit("cathode")
    assert fixed is None or cathode is None or fixed <= cathode
    assert tube.return_limit("unknown") == fixed


@each(rectifier=True)
def test_rectifiers_tell_what_a_supply_is_checked_by(tube: TubeType) -> None:
    """Inverse volts, direct and peak current; inverse volts twice the peak of the AC allowed."""
    dc, peak = tube.limit("dc_ma"), tube.limit("peak_ma")
    assert dc is not None and peak is not None and 2 * dc < peak < 12 * dc
    inverse, supply = tube.limit("inverse_v"), tube.limit("supply_vrms")
    assert inverse is not None and supply is not None
    assert 2 * 2**0.5 * supply <= inverse * 1.12
    drop = tube.drop_at(dc)
    assert drop is None or 5 < drop < 80


def test_a_sliding_limit_runs_straight_between_its_rows() -> None:
    """GZ34: 50 ohm at 300 V, 75 at 350: 62.5 between, 50 below, and the safest above the table."""
    tube = find_tube(TUBES, "GZ34")
    assert tube is not None
    found = [tube.limit_at("source_ohm_min", volts) for volts in (250, 300, 325, 350, 550, 600)]
    assert found == pytest.approx([50, 50, 62.5, 75, 175, 175])
    assert tube.limit_at("dc_ma", 300) == tube.limit("dc_ma")


def test_the_drop_follows_childs_law() -> None:
    """An eighth of the current drops a quarter of the volts; none drops none."""
    tube = find_tube(TUBES, "5U4GB")
    assert tube is not None
    assert tube.drop_at(0.275) == pytest.approx(50)
    assert tube.drop_at(0.275 / 8) == pytest.approx(12.5)
    assert tube.drop_at(0.0) == 0


def test_near_equivalents_are_not_found_as_the_type() -> None:
    """6SN7GTB is near 6SN7GT and bears more: it is no name of it."""
    assert find_tube(TUBES, "6SN7GTB") is None
    assert find_tube(TUBES, "CV1988") is find_tube(TUBES, "6SN7GT") is find_tube(TUBES, "VT-231")


def test_equivalents_are_told_in_all_three_numberings() -> None:
    """American, European and military numbers are all there."""
    told = {other.numbers for tube in KINDS.values() for other in tube.equivalents}
    assert {"us", "european", "military"} <= told
    assert sum(any(o.numbers == "military" for o in t.equivalents) for t in KINDS.values()) >= 20


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"base": "octal"}, "octal base has 8"),
        ({"base_pins": 8}, "outside"),
        ({"limits": {"plate_w": {"is": "12 W", "from": "x", "also": {"is": "11 W", "from": "y"}}}},
         "is safer"),
        ({"limits": {"source_ohm_min": {"is": "50 ohm", "from": "x",
                                        "also": {"is": "75 ohm", "from": "y"}}}}, "is safer"),
        ({"limits": {"source_ohm_min": {"is": "50 ohm", "from": "x", "slides": [
            {"vrms": "400 V", "is": "75 ohm"}, {"vrms": "300 V", "is": "50 ohm"}]}}}, "do not rise"),
        ({"limits": {"plate_w": {"is": "12 V", "from": "x"}}}, "12 V"),
        ({"equivalents": [{"type": "X", "numbers": "us", "match": "near", "from": "x"}]}, "differs"),
        ({"drop": {"volts": "0 V", "at": "1 mA", "from": "x"}}, "no volts"),
        ({"colour": "blue"}, "Extra inputs"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_is_refused(change: dict, message: str) -> None:
    """Wrong base, pin, unit, order of two sources, or key: refused with what is wrong."""
    with pytest.raises(Exception, match=message):
        TubeType.model_validate(el84(**change))


def test_a_name_claimed_twice_is_refused() -> None:
    """An exact equivalent counts as a name: two types cannot share one."""
    other = el84(id="other", type="OTHER", aliases=[], equivalents=[
        {"type": "6BQ5", "numbers": "us", "from": "tube_sheets"}])  # fmt: skip
    with pytest.raises(KnowledgeError, match="both claim"):
        load_tubes([el84(), other])


def test_a_good_share_of_the_types_rests_on_something_read() -> None:
    """Half of all types hold at least one number that was read, not remembered."""
    read = [
        tube.id
        for tube in KINDS.values()
        if any(SOURCES[source].startswith("seen") for source in tube.sources_used())
    ]
    assert len(read) >= len(KINDS) / 2
