"""What a page may tell (words and who says them) and what it may agree to, judged before they come near the journal.

Rule: one line of text each, of bounded length; a name is one word, for the journal sets it before the words. A refusal names
the field and what would be right.
"""

from __future__ import annotations

import unicodedata
from typing import TypeVar

from fastapi import Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from bridge.dashboard.gate import refused

WORDS_LENGTH = 1000
WHO_LENGTH = 40
BODY_BYTES = 16_384
"""Room for words of that length however they are written: JSON may take twelve bytes for a sign (RFC 8259, section 7)."""

_SIGN = r"[^\u0000-\u001f\u007f-\u009f\u2028\u2029]"
ONE_LINE = f"^{_SIGN}*$"
SOMETHING_IN_ONE_LINE = f"^{_SIGN}*[!-~]{_SIGN}*$"
"""For whoever writes a program: what is always taken. Words without one ASCII sign are no words."""


class Told(BaseModel):
    """The body of POST /api/tell."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)

    words: str = Field(min_length=1, max_length=WORDS_LENGTH, json_schema_extra={"pattern": SOMETHING_IN_ONE_LINE})
    who: str | None = Field(default=None, max_length=WHO_LENGTH, json_schema_extra={"pattern": ONE_LINE})

    @field_validator("words", "who")
    @classmethod
    def _one_line(cls, text: str | None) -> str | None:
        if text is not None and any(unicodedata.category(sign) in {"Cc", "Zl", "Zp"} for sign in text):
            raise ValueError("must be one line without control characters")
        return text

    @field_validator("who")
    @classmethod
    def _one_word(cls, who: str | None) -> str | None:
        return "-".join(who.split()) or None if who else None


class Agreed(BaseModel):
    """The body of POST /api/after."""

    model_config = ConfigDict(extra="forbid")

    token: str = Field(min_length=1, max_length=WHO_LENGTH)


Body = TypeVar("Body", bound=BaseModel)


class NotTakenError(Exception):
    """A request that never reaches the door; `status` is its HTTP status."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status
        self.text = text


async def say_not_taken(_request: Request, error: Exception) -> JSONResponse:
    """The answer to a request that was not taken."""
    assert isinstance(error, NotTakenError)
    return JSONResponse(dict(refused(error.text)), status_code=error.status)


async def read_told(request: Request) -> Told:
    """The judged words; raises NotTakenError with 413, 415 or 422 and a plain sentence."""
    return await judged(request, Told, '{"words": "begin 19:00", "who": "name"}')


async def read_agreed(request: Request) -> Agreed:
    """The judged agreement; raises as `read_told` does."""
    return await judged(request, Agreed, '{"token": "..."}, as GET /api/after shows it')


async def judged(request: Request, kind: type[Body], wanted: str, most_bytes: int = BODY_BYTES) -> Body:
    """The body of a request as `kind`; `wanted` says what would be right. Raises as `read_told` does."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise NotTakenError(415, "Content-Type must be application/json.")
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > most_bytes:
            raise NotTakenError(413, f"Too long: at most {most_bytes} bytes.")
    try:
        return kind.model_validate_json(body)
    except ValidationError as error:
        raise NotTakenError(422, f"{_plainly(error)}. Wanted: {wanted}.") from error


def _plainly(error: ValidationError) -> str:
    faults = []
    for fault in error.errors(include_url=False, include_context=False, include_input=False):
        where = ".".join(str(part) for part in fault["loc"])
        message = fault["msg"].removeprefix("Value error, ")
        faults.append(f"{where}: {message}" if where else message)
    return "; ".join(faults)
