"""What the loop hands over for the next program, and what it makes of what it is given."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest
from loop.fakes import DRY, EXHAUST, FINE, HUMIDIFIER, PLAN, House

from hangroom.control.snapshot import kept_as

CLOSET = kept_as("closet")
# Without cooling, so that a dose follows what is seen at once.
DOSING = replace(PLAN, relays={kind: PLAN.relays[kind] for kind in (HUMIDIFIER, EXHAUST)})


@pytest.fixture
def house(new_house: Callable[..., House]) -> House:
    return new_house(plans=[DOSING])


def doses(house: House) -> Mapping[str, Any]:
    room: Any = house.notes.kept[CLOSET]["room"]
    return dict(room["doses"][HUMIDIFIER])


def test_the_memory_is_on_the_disk_before_any_contact_can_close(house: House) -> None:
    *kept, last = house.log
    assert set(kept) == {"keep"}
    assert last == "flush"


def test_the_memory_is_handed_over_with_the_minute_and_only_where_it_has_changed(
    house: House,
) -> None:
    def handed_over_in_a_minute_of(air: tuple[float, float]) -> int:
        bodies = [house.notes.kept[CLOSET]]
        for _ in range(30):
            house.tick(air)
            if house.notes.kept[CLOSET] is not bodies[-1]:
                bodies.append(house.notes.kept[CLOSET])
        return len(bodies) - 1

    assert [handed_over_in_a_minute_of(air) for air in (FINE, DRY, FINE)] == [0, 1, 0]


def test_the_next_program_goes_on_with_what_was_learned_and_notes_what_it_began_with(
    house: House, new_house: Callable[..., House]
) -> None:
    for number in range(400):
        house.tick(DRY if number % 40 < 20 else FINE)
    house.loop.keep_memory()
    # The new program's clock stands earlier, so that no time seems to have passed.
    kept = {**house.notes.kept, "alarms": {}}
    again = new_house(plans=[DOSING], kept=kept, start=house.clock.now())
    assert doses(again) == doses(house)
    assert doses(again) != doses(new_house(plans=[DOSING]))
    assert again.notes.starts == {"closet": (kept[CLOSET], 0.0)}
    assert again.notes.events == []


def test_a_memory_that_is_none_is_noted_and_the_room_begins_fresh(
    new_house: Callable[..., House],
) -> None:
    house = new_house(plans=[DOSING], kept={CLOSET: {"uptime_s": "yesterday"}})
    assert [kind for kind, _ in house.notes.events] == ["memory-forgotten"]
    assert doses(house) == doses(new_house(plans=[DOSING]))
    house.tick(DRY)
    assert house.closed == {HUMIDIFIER}
