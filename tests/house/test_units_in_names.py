"""Every float's name ends in its unit, so that no two of different units meet unseen."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]
SOURCES = sorted(file for area in ("daemon", "web") for file in (HOUSE / area).rglob("*.py"))

# Physical units, which need a noun before them, and scales that are their own noun.
UNITS = "c|f|k|pa|ppm|molality|kg|g|mg|j|w|mm|m|m2|m3|s|ms|min|h|px"
SCALES = "pct|ratio|fraction|ph|aw|logit|days"
# One of them, or one per others: loss_pct_per_day, sodium_mg_per_100g, ua_w_per_k.
PER = "h|s|day|kg|100g|k|pct|m|m2|m3|g|j"
ENDS_IN_A_UNIT = re.compile(
    rf"(?:.+_(?:{UNITS}|{SCALES})|(?:{SCALES}))(?:_per_(?:{PER})(?:_dry)?)*"
)
NAMES_OF_FLOAT = {"float", "Number", "Percent", "Seconds"}

# Where a name may stand without: the file, the names, and why.
EXEMPT = {
    "web/hangroom_web/api/acts.py": ("value", "the unit is that of the kind beside it"),
    "web/hangroom_web/api/body.py": (
        "_whole number",
        "reads any quantity; the unit is that of the field's name",
    ),
    "daemon/hangroom/hardware/kernel_files.py": (
        "_iio _number",
        "reads any quantity that the kernel shows; the unit is that of the file",
    ),
    "daemon/hangroom/air.py": ("number low high", "a check of any quantity"),
    "daemon/hangroom/product/inputs.py": ("number low high", "a check of any quantity"),
    "daemon/hangroom/product/curing.py": ("inputs", "each named figure carries its own unit"),
    "daemon/hangroom/control/wish.py": ("figures", "each named figure carries its own unit"),
    "daemon/hangroom/reasons.py": ("value", "the unit stands in the figure's name beside it"),
    "daemon/hangroom/product/forecast_words.py": (
        "value",
        "the unit stands in the figure's name beside it",
    ),
    "daemon/hangroom/product/forecast.py": (
        "effective_particles ln_sd median ms",
        "a count; a belief in any quantity, in its own unit; a key of the printed JSON",
    ),
    "daemon/hangroom/product/drying_priors.py": ("mean_kj_per_mol sd_kj_per_mol", "kJ/mol"),
    "daemon/hangroom/product/sorption.py": (
        "salted_strength steepness strength",
        "A and r of the isotherm; dimensionless fitted constants",
    ),
    "daemon/hangroom/forecast/doubts.py": ("chi_square", "a chi-square"),
    "daemon/hangroom/forecast/keeping.py": (
        "beyond daily fresh mean offset sd stays wanders",
        "all in one unit, %RH or K",
    ),
    "daemon/hangroom/forecast/learning.py": ("effective", "a count of particles"),
    "daemon/hangroom/forecast/particles.py": (
        "least ln_sd median",
        "a count; a belief in any quantity, in its own unit",
    ),
    "daemon/hangroom/cli/forecast_files.py": (
        "least most number",
        "reads any quantity; the unit is that of the column",
    ),
    "daemon/hangroom/control/two_point.py": (
        "seen start_at stop_at",
        "all three in one unit, whichever",
    ),
    "daemon/hangroom/store/setpoints.py": ("value", "the unit is that of `what` beside it"),
    "daemon/hangroom/answers/setpoint.py": ("value", "the unit is that of `what` beside it"),
    "daemon/hangroom/store/request_body.py": (
        "figure figure_or_none",
        "reads any quantity; the unit is that of the entry's kind",
    ),
    "daemon/hangroom/simulation/faults.py": ("size", "the unit is that of the fault's kind"),
    "daemon/hangroom/simulation/balance.py": (
        "expected gained held moved",
        "one balance, for heat in J and for water in g",
    ),
    "daemon/hangroom/simulation/exponential.py": (
        "capacity conductance",
        "one step, for heat and for water",
    ),
    "daemon/hangroom/simulation/table_reader.py": (
        "above default least most number",
        "reads any quantity; the unit is that of the key",
    ),
    "daemon/hangroom/control/snapshot.py": (
        "_above_zero _number",
        "reads any quantity; the unit is that of the key",
    ),
    "daemon/hangroom/control/alarms/delays.py": (
        "deadband limit seen",
        "all three in one unit, whichever",
    ),
    "daemon/hangroom/cli/rehearsal.py": ("balance_residual", "a key of the printed JSON; a ratio"),
    "daemon/hangroom/cli/rehearsal_figures.py": ("fights_per_day", "a count per day"),
    "daemon/hangroom/cli/rehearsal_picture.py": ("height width x y", "places in the drawing"),
    "daemon/hangroom/units.py": (
        "length_shown length_stored temperature_shown temperature_stored typed_number weight_shown weight_stored",
        "to and from the keeper's own unit, which is a setting",
    ),
    "daemon/hangroom/product/temperatures.py": ("celsius fahrenheit", "named for the unit"),
    "daemon/hangroom/product/storage.py": ("figure top", "ends of pH and aw columns alike"),
    "daemon/hangroom/product/geometry.py": ("shrinkage", "an exponent"),
    "daemon/hangroom/product/growth.py": ("_probability", "a probability"),
    "daemon/hangroom/product/water_activity.py": (
        "brine_aw_quadratic protein_term",
        "named for its form; a dimensionless fitted constant",
    ),
    "daemon/hangroom/hardware/lgpio_pins.py": ("value", "gpiozero's own name; a pin's level"),
    "daemon/hangroom/simulation/sensor.py": ("bursts_per_day", "a count per day"),
    "web/hangroom_web/draw/day.py": (
        "_x foot top value y",
        "places in the drawing, and values already in the keeper's unit",
    ),
    "web/hangroom_web/day.py": ("least_span shown", "values already in the keeper's unit"),
    "web/hangroom_web/draw/rail.py": (
        "centre depth foot inwards length radius side width x y",
        "places in the drawing",
    ),
    "web/hangroom_web/draw/svg.py": (
        "height value width x x1 x2 y y1 y2",
        "places in the drawing, named as SVG names them",
    ),
    "web/hangroom_web/draw/yields.py": ("x y", "places in the drawing"),
    "web/hangroom_web/draw/series.py": ("x y", "places in the drawing"),
    "web/hangroom_web/draw/history.py": (
        "foot top value x y",
        "places in the drawing, and either strip's quantity",
    ),
    "web/hangroom_web/history/past.py": (
        "high least low most setpoint shown",
        "either quantity, in the unit shown, which stands beside it",
    ),
    "web/hangroom_web/draw/composition.py": (
        "figure foot high left low px py right top x y",
        "places in the drawing, and the ends of any strip",
    ),
    "web/hangroom_web/api/now.py": ("_rounded value", "rounds any quantity"),
    "web/hangroom_web/forms.py": ("number read", "whatever was typed; the caller knows its unit"),
    "web/hangroom_web/batch/correcting.py": ("_number figure", "any field of an entry, as typed"),
    "web/hangroom_web/batch/hanging_form.py": (
        "value",
        "any figure of a stick, stored by its name",
    ),
    "web/hangroom_web/batch/measuring_form.py": ("figure", "a water activity or a pH"),
    "web/hangroom_web/batch/series_form.py": ("shown", "a temperature in the keeper's unit"),
    "web/hangroom_web/batch/sums_view.py": ("value", "each named figure carries its own unit"),
    "daemon/hangroom/product/yields.py": ("on", "read as weights.on(base); a weight in g"),
    "daemon/hangroom/control/plant_watch/snapshot.py": (
        "_number _number_or_none _rounded value",
        "reads any quantity; the unit is that of the key",
    ),
    "daemon/hangroom/control/plant_watch/door.py": (
        "before farthest now",
        "where one quantity was and is, vapour or temperature",
    ),
    "daemon/hangroom/control/alarms/rates.py": ("annunciations_per_day", "a count per day"),
}


def floats(tree: ast.AST) -> Iterator[str]:
    """Every name said to hold a float (or None): argument, field, variable, function."""
    for node in ast.walk(tree):
        match node:
            case ast.arg(arg=name, annotation=said):
                pass
            case ast.AnnAssign(target=ast.Name(id=name), annotation=said):
                pass
            case ast.FunctionDef(name=name, returns=said):
                pass
            case _:
                continue
        if said is not None and is_float(said):
            yield name


def is_float(said: ast.expr) -> bool:
    match said:
        case ast.Name(id=name):
            return name in NAMES_OF_FLOAT
        case ast.BinOp(left=left, op=ast.BitOr(), right=right):
            return is_float(left) or is_float(right)
        case ast.Subscript(value=ast.Name(id="Annotated"), slice=ast.Tuple(elts=[first, *_])):
            return is_float(first)
    return False


def bare_names(file: Path) -> set[str]:
    """The floats' names of a file that end in no unit."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {name for name in floats(tree) if not ENDS_IN_A_UNIT.fullmatch(name)}


@pytest.mark.parametrize("file", SOURCES, ids=lambda file: str(file.relative_to(HOUSE)))
def test_every_float_ends_in_its_unit(file: Path) -> None:
    names, _ = EXEMPT.get(str(file.relative_to(HOUSE)), ("", ""))
    assert bare_names(file) - set(names.split()) == set()


@pytest.mark.parametrize("name", EXEMPT)
def test_every_exemption_is_still_needed(name: str) -> None:
    names, _ = EXEMPT[name]
    assert set(names.split()) - bare_names(HOUSE / name) == set()


@pytest.mark.parametrize(
    ("source", "bare"),
    [
        ("def f(temperature: float) -> None: ...", {"temperature"}),
        ("def f(*, temperature_c: float | None) -> float: ...", {"f"}),
        ("class C:\n    humidity: Percent = 3.0", {"humidity"}),
        ("x: Annotated[Number, Field(ge=0)] = 1.0", {"x"}),
        ("def speed_m_per_s(loss_pct_per_day: float, ph: float, n: int) -> float: ...", set()),
    ],
)
def test_the_check_finds_what_it_should(source: str, bare: set[str], tmp_path: Path) -> None:
    (tmp_path / "example.py").write_text(source)
    assert bare_names(tmp_path / "example.py") == bare
