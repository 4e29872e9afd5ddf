"""Taking keys out of a parsed TOML table, noting what is wrong instead of stopping at it."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from difflib import get_close_matches
from math import inf, isfinite
from typing import Any, TypeVar

from hangroom.errors import InputError

BuiltT = TypeVar("BuiltT")


class TableReader:
    """One table at `where` of a file; a line for each fault found goes to `wrong`.

    Where a value cannot be used, the default (or else 1) stands in, so that reading can go on:
    what is read counts only while `wrong` stays empty.
    """

    def __init__(self, table: Mapping[str, Any], where: str, wrong: list[str]) -> None:
        self._table = table
        self._where = where
        self._wrong = wrong

    def fault(self, line: str) -> None:
        """Note something wrong with the table itself."""
        self._wrong.append(f"{self._where}: {line}")

    def has(self, key: str) -> bool:
        """Whether the key is given."""
        return key in self._table

    def only(self, *known: str) -> None:
        """Note every key that is not known."""
        for key in self._table:
            if key not in known:
                self._wrong.append(
                    f"{self._where or 'the file'} has no {key!r}; {near(key, known)}"
                )

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        above: float = -inf,
        least: float = -inf,
        most: float = inf,
    ) -> float:
        """Return a finite number within the bounds; without a default it must be there."""
        stand_in = 1.0 if default is None else default
        if key not in self._table:
            if default is None:
                self._wrong.append(f"{self._at(key)} is missing; add it")
            return stand_in
        value = self._table[key]
        if not _is_number(value):
            self._wrong.append(f"{self._at(key)} is {value!r}; give a number")
        elif not (above < value and least <= value <= most):
            bounds = [
                said
                for said, bound in (
                    (f"above {above:g}", above),
                    (f"{least:g} or more", least),
                    (f"at most {most:g}", most),
                )
                if isfinite(bound)
            ]
            self._wrong.append(f"{self._at(key)} is {value:g}; give {' and '.join(bounds)}")
        else:
            return float(value)
        return stand_in

    def numbers(self, keys: Iterable[str]) -> dict[str, float]:
        """Return those of the keys that are given and hold a number; bounds are not looked at."""
        return {key: self.number(key) for key in keys if key in self._table}

    def whole(self, key: str, default: int, *, least: int) -> int:
        """Return a whole number."""
        value = self._table.get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and value >= least:
            return value
        self._wrong.append(f"{self._at(key)} is {value!r}; give a whole number, {least} or more")
        return default

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text that is not empty; without a default it must be there."""
        if key not in self._table:
            if default is None:
                self._wrong.append(f"{self._at(key)} is missing; add it")
            return default or ""
        value = self._table[key]
        if isinstance(value, str) and value:
            return value
        self._wrong.append(f"{self._at(key)} is {value!r}; give a text in quotes")
        return default or ""

    def table(self, key: str) -> "TableReader":
        """Return an inner table; a missing one is empty."""
        return self._inner(self._table.get(key, {}), self._at(key))

    def tables(self) -> Iterator[tuple[str, "TableReader"]]:
        """Return every key with the table it holds."""
        for key, value in self._table.items():
            yield key, self._inner(value, self._at(key))

    def array(self, key: str) -> Iterator["TableReader"]:
        """Return the tables of an array, counted from 1 in what is said of them."""
        value = self._table.get(key, [])
        if not isinstance(value, list):
            self._wrong.append(f"{self._at(key)} is one table; write each as [[{key}]]")
            return
        for number, table in enumerate(value, start=1):
            yield self._inner(table, f"{self._at(key)} {number}")

    def built(self, build: Callable[..., BuiltT], numbers: Mapping[str, float]) -> BuiltT | None:
        """Return what is built of the numbers, or None with what it refused noted."""
        try:
            return build(**numbers)
        except InputError as refused:
            for line in str(refused).splitlines():
                self.fault(line)
            return None

    def _inner(self, value: object, where: str) -> "TableReader":
        if not isinstance(value, Mapping):
            self._wrong.append(f"{where} is {value!r}; it must be a table")
            value = {}
        return TableReader(value, where, self._wrong)

    def _at(self, key: str) -> str:
        return f"{self._where}.{key}" if self._where else key


def near(given: str, known: Collection[str]) -> str:
    """Say what may have been meant, and what there is to choose from."""
    close = get_close_matches(given, known, n=1)
    meant = f"did you mean '{close[0]}'? " if close else "remove or correct it. "
    return f"{meant}Known: {', '.join(known)}"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
