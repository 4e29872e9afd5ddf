from pathlib import Path

import pytest
from CoolProp.HumidAirProp import HAPropsSI

from hangroom.errors import InputError
from hangroom.simulation.ambient import AirSeries, ConstantAir, Gap, april_weather, load_series
from hangroom.simulation.vapour import saturation_kg_per_m3

HOUR_S = 3600.0


def test_constant_air_holds_the_vapour_that_the_reference_library_says() -> None:
    outside = ConstantAir(temperature_c=18.0, humidity_pct=60.0).at(1e6)
    ratio = HAPropsSI("W", "T", 291.15, "P", 101325, "R", 0.6)
    volume_m3 = HAPropsSI("Vda", "T", 291.15, "P", 101325, "R", 0.6)
    # Moist air at 1 bar holds some 0.4 % more than bare vapour (enhancement factor).
    assert outside.vapour_kg_per_m3 == pytest.approx(ratio / volume_m3, rel=6e-3)
    assert outside.temperature_c == 18.0


def test_between_rows_temperature_and_vapour_density_run_straight() -> None:
    series = AirSeries.from_humidity([(0.0, 10.0, 90.0), (1.0, 20.0, 40.0), (2.0, 20.0, 40.0)])
    middle = series.at(0.5 * HOUR_S)
    ends = 0.9 * saturation_kg_per_m3(10.0), 0.4 * saturation_kg_per_m3(20.0)
    assert middle.temperature_c == pytest.approx(15.0)
    assert middle.vapour_kg_per_m3 == pytest.approx(sum(ends) / 2)


def test_after_its_last_row_a_series_begins_again_one_spacing_later() -> None:
    series = AirSeries.from_humidity([(5.0, 10.0, 50.0), (6.0, 12.0, 50.0), (7.0, 16.0, 50.0)])
    assert series.period_s == 3 * HOUR_S
    assert series.at(2.5 * HOUR_S).temperature_c == pytest.approx(13.0)
    assert series.at(3 * HOUR_S).temperature_c == pytest.approx(10.0)
    assert series.at(301.0 * HOUR_S) == series.at(1.0 * HOUR_S)


def test_a_short_gap_is_bridged_and_named() -> None:
    rows = [(hour, 10.0 + hour, 50.0) for hour in (0.0, 1.0, 2.0, 5.0, 6.0)]
    series = AirSeries.from_humidity(rows)
    assert series.gaps == (Gap(from_h=2.0, to_h=5.0),)
    assert series.at(3.5 * HOUR_S).temperature_c == pytest.approx(13.5)


def test_a_long_gap_is_refused_with_its_hours() -> None:
    rows = [(hour, 10.0, 50.0) for hour in (0.0, 1.0, 2.0, 12.0, 13.0)]
    with pytest.raises(InputError, match="no rows from hour 2 to 12"):
        AirSeries.from_humidity(rows)


def test_every_bad_line_of_a_file_is_named_at_once(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(
        "hours,temperature_c,humidity_pct\n0,10,50\n1,warm,50\n2,11,140\n3,,60\n4,70,50\n4,12,nan\n"
    )
    with pytest.raises(InputError) as refused:
        load_series(path)
    lines = str(refused.value).splitlines()
    assert len(lines) == 5
    for line, part in zip(
        lines,
        (
            "line 3: 1, warm, 50",
            "line 4: humidity_pct is 140",
            "line 6: temperature_c is 70",
            "line 7: humidity_pct is nan",
            "line 7: hour 4 does not follow 4",
        ),
        strict=True,
    ):
        assert part in line


def test_an_empty_cell_is_a_missing_row_not_a_zero(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_text("hours,temperature_c,humidity_pct\n0,10,50\n1,11,\n2,12,50\n3,13,50\n4,14,50\n")
    series = load_series(path)
    assert series.gaps == (Gap(from_h=0.0, to_h=2.0),)
    assert series.at(HOUR_S).temperature_c == pytest.approx(11.0)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("hours,temperature_c\n0,10\n", "has no column humidity_pct"),
        ("", "has no column hours, temperature_c, humidity_pct"),
        ("hours,temperature_c,humidity_pct\n0,10,50\n", "fewer than two rows"),
    ],
)
def test_a_file_of_the_wrong_shape_is_refused(tmp_path: Path, content: str, message: str) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(content)
    with pytest.raises(InputError, match=message):
        load_series(path)


def test_a_missing_file_is_refused_with_its_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.csv: cannot be read"):
        load_series(tmp_path / "none.csv")


@pytest.mark.parametrize(("temperature_c", "rh_pct"), [(60.0, 50.0), (15.0, 101.0)])
def test_air_that_cannot_be_is_refused(temperature_c: float, rh_pct: float) -> None:
    with pytest.raises(InputError):
        ConstantAir(temperature_c=temperature_c, humidity_pct=rh_pct)


def test_the_packaged_april_is_the_measured_month_with_its_one_gap() -> None:
    april = april_weather()
    # First row of the measured file: 7.20 degC, 93.35 %RH.
    first = april.at(0.0)
    assert first.temperature_c == 7.20
    assert first.vapour_kg_per_m3 == pytest.approx(0.9335 * saturation_kg_per_m3(7.20))
    assert april.period_s == 30 * 24 * HOUR_S
    assert april.gaps == (Gap(from_h=47.0, to_h=49.0),)


def test_air_brought_indoors_keeps_its_vapour_and_loses_its_cold_nights() -> None:
    outdoors = april_weather()
    indoors = outdoors.indoors(floor_c=16.0)
    kept = 0
    hours = range(719)
    temperatures_c = []
    for hour in hours:
        inside, outside = indoors.at(hour * HOUR_S), outdoors.at(hour * HOUR_S)
        temperatures_c.append(inside.temperature_c)
        kept += inside.vapour_kg_per_m3 == pytest.approx(outside.vapour_kg_per_m3, rel=1e-9)
        assert inside.vapour_kg_per_m3 <= 0.9501 * saturation_kg_per_m3(inside.temperature_c)
        assert inside.vapour_kg_per_m3 <= outside.vapour_kg_per_m3 * (1 + 1e-9)
    assert min(temperatures_c) >= 16.0
    # Outdoors it swings by 27 degC; a day's lag takes most of it.
    assert max(temperatures_c) < 20.0
    assert kept / len(hours) > 0.95


def test_a_cool_building_leaves_behind_what_would_make_it_drip() -> None:
    # A warm front: the building is still at 16 degC when air of 25 degC and 95 % comes in.
    front = AirSeries.from_humidity([(0.0, 16.0, 60.0), (1.0, 25.0, 95.0), (2.0, 25.0, 95.0)])
    inside = front.indoors(floor_c=16.0).at(HOUR_S)
    assert inside.temperature_c < 17.0
    saturated = saturation_kg_per_m3(inside.temperature_c)
    assert inside.vapour_kg_per_m3 / saturated == pytest.approx(0.95)
