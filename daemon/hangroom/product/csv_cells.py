"""Cells of a CSV file that a spreadsheet shows and never runs. Pure.

Source of the characters: OWASP, "CSV Injection" (tab, line ends and full-width forms with them).
"""

from collections.abc import Iterable

# A spreadsheet takes a text that begins with one of these for a formula, and runs it.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # noqa: RUF001 - meant
AS_TEXT = "'"


def csv_cell(value: object) -> object:
    """Return a cell for `csv.writer`: None as nothing, a text that would run with a ' in front.

    Numbers stay numbers, negative ones too: only what is a text can have been typed by somebody.
    """
    if value is None:
        return ""
    if not isinstance(value, str):
        return value
    # Some programs drop leading blanks before they look.
    return f"{AS_TEXT}{value}" if value.lstrip(" \u00a0").startswith(FORMULA) else str(value)


def csv_row(values: Iterable[object]) -> list[object]:
    """Return a row for `csv.writer`, every cell guarded."""
    return [csv_cell(value) for value in values]
