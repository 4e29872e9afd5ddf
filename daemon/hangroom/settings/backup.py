"""The settings' table of the nightly backup: where it goes."""

from pathlib import Path

from pydantic import field_validator

from hangroom.settings.base import Table


class BackupTable(Table):
    """The folder of the nightly backup, on a stick or a share; without one, none is made."""

    folder: Path | None = None

    @field_validator("folder")
    @classmethod
    def _is_absolute(cls, value: Path | None) -> Path | None:
        if value is not None and not value.is_absolute():
            raise ValueError(
                f"'{value}' does not say where it begins; write it from the root, "
                "like '/mnt/hangroom-backup'"
            )
        return value
