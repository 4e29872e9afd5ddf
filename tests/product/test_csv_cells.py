import csv
import io

import pytest

from hangroom.product.csv_cells import csv_cell, csv_row

# The examples and characters of OWASP's page "CSV Injection".
ATTACKS = [
    '=1+2";=1+2',
    "=1+2'\" ;,=1+2",
    "+1",
    "-1+cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "\t=1",
    "\r=1",
    "\n=1",
    "＝1+1",  # noqa: RUF001 - the full-width sign
    "  =1+1",
    "\u00a0=1+1",
]


@pytest.mark.parametrize("text", ATTACKS)
def test_a_text_that_would_run_is_shown(text: str) -> None:
    """Read back by the csv module as a spreadsheet would: one cell, which begins with a '."""
    out = io.StringIO()
    csv.writer(out).writerow(csv_row([text, "juniper", text]))
    (row,) = csv.reader(io.StringIO(out.getvalue(), newline=""))
    assert row == [f"'{text}", "juniper", f"'{text}"]


@pytest.mark.parametrize("value", [-1.5, 0, -3, 71.4, True])
def test_a_number_stays_a_number(value: object) -> None:
    assert csv_cell(value) is value


@pytest.mark.parametrize("text", ["", "A1", "pork, juniper", "2026-11-26T09:52:04-05:00", "1-2"])
def test_any_other_text_stays_as_it_was_typed(text: str) -> None:
    assert csv_cell(text) == text


def test_nothing_is_an_empty_cell() -> None:
    assert csv_cell(None) == ""
