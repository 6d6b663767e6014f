"""Every wiring mistake of a gate is identified, and none is invented."""

from typing import Any

import pytest

from custom_components.gatewright.core.commissioning.findings import (
    CheckOutcome,
    End,
    FindingKind,
    Setting,
    SettingKind,
)
from custom_components.gatewright.core.commissioning.task import SignalRole
from custom_components.gatewright.core.config import (
    CollectorConfig,
    GateConfig,
    GateKind,
    IdlePosition,
    SystemConfig,
)

from .model import Model, Slide, Wire

OPEN, CLOSED, SLIDE = SignalRole.OPEN_SENSOR, SignalRole.CLOSED_SENSOR, SignalRole.SLIDE
ENDS = (OPEN, CLOSED)
ALL = [(SLIDE,), (OPEN,), (CLOSED,), ENDS]


def shop(
    roles: tuple[SignalRole, ...] = ENDS,
    *,
    slide: Slide | None = None,
    wires: dict[Any, Wire] | None = None,
    person: bool = True,
    plan: dict[str, Any] | None = None,
    **more: Any,
) -> Model:
    """Return a shop of two gates; the first is the one in question."""
    feedback = bool({OPEN, SLIDE} & set(roles)) or (plan or {}).get("kind") == "hand"
    model = Model(
        SystemConfig(
            collector=CollectorConfig(name="Collector"),
            gates=(
                GateConfig(gate_id="a", name="A", feedback=feedback, **(plan or {})),
                GateConfig(gate_id="b", name="B"),
            ),
        ),
        roles={"a": roles, "b": ENDS},
        slides={"a": slide or Slide()},
        wires=wires or {},
        person=person,
        **more,
    )
    model.pass_time(12)
    model.commands.clear()
    return model


def walked(model: Model) -> list[tuple[str, FindingKind, str]]:
    """Run the check, and return the results, with the shop at rest."""
    model.begin()
    report = model.finish()
    assert report.ended is End.DONE
    assert not report.left
    model.pass_time(60)
    assert model.at_rest()
    return [
        (found.part, found.kind, str(found.about))
        for found in report.findings
        # The collector's only gate: without it there is no open way.
        if found.kind is not FindingKind.NO_WAY
    ]


@pytest.mark.parametrize("roles", [*ALL, ()])
@pytest.mark.parametrize("rest", IdlePosition)
@pytest.mark.parametrize("person", [True, False])
def test_a_good_gate(
    roles: tuple[SignalRole, ...], rest: IdlePosition, person: bool
) -> None:
    model = shop(roles, plan={"rest": rest}, person=person)
    assert walked(model) == []
    assert model.walk is not None
    part = model.walk.report.parts[0]
    # The collector's own check opens the first gate, and one that is left stays open.
    left_open = rest is IdlePosition.LEAVE and person
    assert model.positions["a"] == float(rest is IdlePosition.OPEN or left_open)
    if not roles and not person:
        assert part.outcome is CheckOutcome.UNSEEN
        assert ("a", True) not in model.commands
        return
    assert part.seconds == pytest.approx(2.0, abs=0.5)
    assert part.settings[0].kind is SettingKind.TRAVEL
    assert part.settings[0].seconds in (3.0, 3.5, 4.0)


def test_the_right_travel_is_not_set_anew() -> None:
    model = shop(plan={"travel": 3.5})
    walked(model)
    assert model.walk is not None
    assert model.walk.report.parts[0].settings == ()


@pytest.mark.parametrize("roles", [*ALL, ()])
@pytest.mark.parametrize("rest", [IdlePosition.CLOSED, IdlePosition.OPEN])
def test_a_gate_slower_than_set(
    roles: tuple[SignalRole, ...], rest: IdlePosition
) -> None:
    model = shop(roles, slide=Slide(travel=15.0), plan={"rest": rest})
    assert walked(model) == [("a", FindingKind.TRAVEL_TOO_SHORT, "")]
    assert model.walk is not None
    part = model.walk.report.parts[0]
    assert part.seconds == pytest.approx(15.0, abs=0.5)
    assert part.settings[0] == Setting(
        kind=SettingKind.TRAVEL, part="a", seconds=part.settings[0].seconds
    )
    assert part.settings[0].seconds == pytest.approx(19.5, abs=0.5)
    assert model.walk.report.open(part.settings) == ()


@pytest.mark.parametrize("roles", ALL)
@pytest.mark.parametrize(
    ("person", "kind"),
    [(True, FindingKind.NOT_MOVING), (False, FindingKind.NO_ANSWER)],
)
def test_a_gate_that_does_not_move(
    roles: tuple[SignalRole, ...], person: bool, kind: FindingKind
) -> None:
    assert walked(shop(roles, slide=Slide(stuck=True), person=person)) == [
        ("a", kind, "")
    ]


def test_a_bare_gate_that_does_not_move() -> None:
    assert walked(shop((), slide=Slide(stuck=True))) == [
        ("a", FindingKind.NOT_MOVING, "")
    ]


@pytest.mark.parametrize("roles", ALL)
@pytest.mark.parametrize(
    ("person", "kind"),
    [(True, FindingKind.FEEDBACK_DEAD), (False, FindingKind.NO_ANSWER)],
)
def test_feedback_that_never_changes(
    roles: tuple[SignalRole, ...], person: bool, kind: FindingKind
) -> None:
    wires = {("a", role): Wire(("a", role), state_at=True) for role in roles}
    assert walked(shop(roles, wires=wires, person=person)) == [("a", kind, "")]


@pytest.mark.parametrize("roles", [ENDS, (OPEN,), (CLOSED,)])
@pytest.mark.parametrize(
    ("person", "kind"),
    [(True, FindingKind.SENSORS_CONTRARY), (False, FindingKind.CONTRARY)],
)
def test_inverted_sensors(
    roles: tuple[SignalRole, ...], person: bool, kind: FindingKind
) -> None:
    wires = {("a", role): Wire(("a", role), inverted=True) for role in roles}
    model = shop(roles, wires=wires, person=person)
    assert walked(model) == [("a", kind, "")]
    assert model.walk is not None
    swap = Setting(kind=SettingKind.SWAP_SENSORS, part="a")
    assert (swap in model.walk.report.settings) is person


@pytest.mark.parametrize("rest", IdlePosition)
def test_swapped_sensors(rest: IdlePosition) -> None:
    wires = {("a", OPEN): Wire(("a", CLOSED)), ("a", CLOSED): Wire(("a", OPEN))}
    model = shop(wires=wires, plan={"rest": rest})
    assert walked(model) == [("a", FindingKind.SENSORS_CONTRARY, "")]
    assert model.walk is not None
    report = model.walk.report
    assert "a" in [found.part for found in report.open()]
    assert "a" not in [found.part for found in report.open(report.settings)]


@pytest.mark.parametrize("roles", [*ALL, ()])
@pytest.mark.parametrize("invertible", [True, False])
def test_an_actuator_the_wrong_way_round(
    roles: tuple[SignalRole, ...], invertible: bool
) -> None:
    chosen = frozenset({"a"}) if invertible else frozenset()
    model = shop(roles, slide=Slide(reversed=True), invertible=chosen)
    assert walked(model) == [("a", FindingKind.WRONG_WAY, "")]
    assert model.walk is not None
    settings = model.walk.report.parts[0].settings
    assert [s.kind for s in settings] == ([SettingKind.INVERT] if invertible else [])


@pytest.mark.parametrize("role", ENDS)
def test_one_of_two_sensors(role: SignalRole) -> None:
    contrary = {("a", role): Wire(("a", role), inverted=True)}
    found = (FindingKind.SENSOR_CONTRARY, role.value)
    assert walked(shop(wires=contrary)) == [("a", *found)]
    dead = {("a", role): Wire(("a", role), state_at=True)}
    assert walked(shop(wires=dead)) == [("a", FindingKind.SENSOR_DEAD, role.value)]
    silent = {("a", role): Wire(("a", role), silent=True)}
    assert walked(shop(wires=silent)) == [("a", FindingKind.SENSOR_SILENT, role.value)]


@pytest.mark.parametrize("roles", [ENDS, (OPEN,), (CLOSED,)])
def test_sensors_that_say_nothing(roles: tuple[SignalRole, ...]) -> None:
    wires = {("a", role): Wire(("a", role), silent=True) for role in roles}
    assert walked(shop(roles, wires=wires)) == [
        ("a", FindingKind.SENSOR_SILENT, role.value) for role in roles
    ]


def test_a_gate_offline() -> None:
    model = shop(slide=Slide(away=True))
    assert walked(model) == [("a", FindingKind.GATE_AWAY, "")]
    assert ("a", True) not in model.commands


@pytest.mark.parametrize("roles", [ENDS, (OPEN,)])
@pytest.mark.parametrize("person", [True, False])
def test_gates_wired_to_each_others_sensors(
    roles: tuple[SignalRole, ...], person: bool
) -> None:
    wires = {
        **{("a", role): Wire(("b", role)) for role in roles},
        **{("b", role): Wire(("a", role)) for role in roles},
    }
    model = shop(roles, wires=wires, person=person)
    found = walked(model)
    assert ("a", FindingKind.CROSSED, "b") in found
    assert ("b", FindingKind.CROSSED, "a") in found
    if roles == ENDS:
        assert len(found) == 2


def test_gates_with_crossed_actuators() -> None:
    assert walked(shop(drives={"a": "b", "b": "a"})) == [
        ("a", FindingKind.CROSSED, "b"),
        ("b", FindingKind.CROSSED, "a"),
    ]


def test_a_sensor_that_answers_for_two() -> None:
    wires = {("b", role): Wire(("a", role)) for role in ENDS}
    found = walked(shop(wires=wires))
    assert found[0] == ("a", FindingKind.ANSWERS_TOO, "b")
    assert found[1][:2] == ("b", FindingKind.FEEDBACK_DEAD)


def test_a_bare_gate_that_moves_another() -> None:
    model = shop((), drives={"a": "b"})
    assert ("a", FindingKind.ANOTHER_MOVES, "") in walked(model)


@pytest.mark.parametrize("roles", [ENDS, (OPEN,), (CLOSED,)])
def test_a_gate_moved_by_hand(roles: tuple[SignalRole, ...]) -> None:
    plan = {"kind": GateKind.HAND}
    assert walked(shop(roles, plan=plan, slide=Slide(travel=20))) == []
    wires = {("a", role): Wire(("a", role), inverted=True) for role in roles}
    assert walked(shop(roles, plan=plan, wires=wires)) == [
        ("a", FindingKind.SENSORS_CONTRARY, "")
    ]
    wires = {("a", role): Wire(("a", role), state_at=True) for role in roles}
    assert walked(shop(roles, plan=plan, wires=wires)) == [
        ("a", FindingKind.FEEDBACK_DEAD, "")
    ]
    model = shop(roles, plan=plan, person=False)
    assert walked(model) == []
    assert model.walk is not None
    assert model.walk.report.parts[0].outcome is CheckOutcome.UNSEEN


def test_a_fixed_opening_is_not_asked_about() -> None:
    model = shop((), plan={"kind": GateKind.FIXED})
    walked(model)
    assert model.walk is not None
    assert [part.part for part in model.walk.report.parts] == ["b", "collector"]
