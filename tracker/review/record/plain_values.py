"""What every line of a record is made of: frozen values, text that is harmless, numbers that are numbers."""

from __future__ import annotations

from math import isfinite
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from tracker.core.text import shown


def _finite(value: bool | float | str) -> bool | float | str:
    if isinstance(value, str):
        return shown(value)
    return value if isfinite(value) else str(value)


Text = Annotated[str, AfterValidator(shown)]
Value = Annotated[bool | int | float | str, AfterValidator(_finite)]


class Plain(BaseModel):
    """A line or a section of the record."""

    model_config = ConfigDict(frozen=True, extra="forbid")
