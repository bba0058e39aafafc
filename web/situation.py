"""Where a consultation stands, as the pages ask for it; the casebook works it out."""

from casebook.situation import (
    GIVEN_FIELDS,
    as_request,
    current,
    is_memory,
    questions,
    situation_of,
    stage_of,
)

__all__ = [
    "GIVEN_FIELDS",
    "as_request",
    "current",
    "is_memory",
    "questions",
    "situation_of",
    "stage_of",
]
