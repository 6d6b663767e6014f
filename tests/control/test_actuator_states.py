"""The table of an actuator's states: nothing is missing, nobody gets stuck."""

import pytest

from custom_components.gatewright.core.control.actuator_states import (
    TRANSITIONS,
    ActuatorEvent,
    ActuatorState,
    Deviation,
)

TARGETS = {
    ActuatorEvent.RELEASED,
    ActuatorEvent.COMMANDED,
    ActuatorEvent.TARGET_MET_ALREADY,
    ActuatorEvent.TRIED_ANEW,
    ActuatorEvent.FOLLOWED,
    ActuatorEvent.FOLLOWED_BETWEEN,
}


@pytest.mark.parametrize("state", ActuatorState)
def test_a_target_is_taken_in_every_state(state: ActuatorState) -> None:
    assert {event for at, event in TRANSITIONS if at is state} >= TARGETS


def test_every_state_is_reached_and_every_event_leads_somewhere() -> None:
    assert {then.state for then in TRANSITIONS.values()} == set(ActuatorState)
    assert {event for _, event in TRANSITIONS} == set(ActuatorEvent)


def test_nothing_is_commanded_without_a_target_but_what_withdraws_one() -> None:
    issuing = {
        (state, event)
        for (state, event), then in TRANSITIONS.items()
        if then.issues and then.state is ActuatorState.FREE
    }
    assert {event for _, event in issuing} == {
        ActuatorEvent.RELEASED,
        ActuatorEvent.TRIED_ANEW,
    }


def test_a_deviation_is_told_where_nothing_is_under_way() -> None:
    """But for the first report of all, which no command of ours can explain."""
    told = {
        (state, event, then.deviation)
        for (state, event), then in TRANSITIONS.items()
        if then.deviation and event is not ActuatorEvent.FOUND_ELSEWHERE
    }
    calm = {ActuatorState.FREE, ActuatorState.LEFT_BETWEEN, ActuatorState.SETTLED}
    assert {state for state, _, _ in told} == calm
    assert {deviation for _, _, deviation in told} == set(Deviation)


def test_what_was_given_up_comes_back_without_a_person() -> None:
    ways = {
        event for at, event in TRANSITIONS if at is ActuatorState.GIVEN_UP
    } - TARGETS
    assert ways == {
        ActuatorEvent.OBEYED,
        ActuatorEvent.RETURNED_ELSEWHERE,
        ActuatorEvent.FOUND_ELSEWHERE,
        ActuatorEvent.RETURNED_SILENT,
    }
