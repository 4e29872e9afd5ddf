"""What the page says of hours above 41 degF (5 degC).

Source of the limit: FDA Food Code 2009-2022, 3-501.16 and table B of 1-201.10(B): a stick that is
not acid and hangs unpackaged needs temperature control above water activity 0.88.
"""

from web.scenario import Scene


def page(scene: Scene, number: int) -> str:
    return scene.client().get(f"/batches/{number}").get_data(as_text=True)


def test_a_closet_at_room_temperature_is_said_to_be_outside_published_guidance(
    scene: Scene,
) -> None:
    said = page(scene, 1)
    assert "Above 5 °C (41 °F) for" in said
    assert "water activity and pH not measured" in said
    assert "Published guidance does not support" in said
    assert "What would settle it:" in said
    assert "0.88" in said
    assert "Source: FDA Food Code 2009 to 2022, 1-201.10(B)" in said
    assert "Source(" not in said


def test_a_cold_fridge_is_not(scene: Scene) -> None:
    said = page(scene, 2)
    assert "Published guidance does not support" not in said
    assert "not at all since hanging" in said


def test_neither_is_called_safe(scene: Scene) -> None:
    for number in (1, 2):
        assert "safe" not in page(scene, number).lower()
