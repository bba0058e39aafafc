"""Everything the casebook refuses, each a sentence that can be shown as it stands."""


class StoreProblem(Exception):
    """The database cannot be used; the message says which one, why, and what to do."""


class NewerDatabase(StoreProblem):
    """The database was written by a newer version of the program than this one."""


class StepFailed(StoreProblem):
    """A migration step failed; its transaction was undone and the database left as before it."""


class UnknownConsultation(LookupError):
    """No consultation has this token. The token is a key and so never part of the message."""

    def __init__(self) -> None:
        super().__init__(
            "There is no consultation at this address. Check the address, or start a new one."
        )


class KeyReused(ValueError):
    """An idempotency key came back with something other than what it was first used for."""


class NotStorable(ValueError):
    """What was to be stored is not JSON, or a name or key is empty, too long or unprintable."""


class UnknownCase(LookupError):
    """No case has this name."""

    def __init__(self) -> None:
        super().__init__("There is no case at this address. Check the address, or search for it.")


class PhotoRefused(ValueError):
    """A picture that cannot be taken; the message says why and what would be."""


class FileRefused(ValueError):
    """A file to be read or written that cannot be; the message says why and what would be."""
