"""What every table of the settings file is made of: strict numbers, names, and no unknown key."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

# Strict: true is no number, "80" is none either. A whole number is one.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Percent = Annotated[Number, Field(ge=0, le=100)]
Seconds = Annotated[Number, Field(ge=0, le=7 * 86_400)]
Name = Annotated[str, Field(strict=True, pattern=r"^[a-z][a-z0-9_-]{0,30}$")]
ClockTime = Annotated[str, Field(strict=True, pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]


class Table(BaseModel):
    """A table of the file: unknown keys are faults, nothing changes once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)
