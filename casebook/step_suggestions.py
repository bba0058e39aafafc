"""The step of the database that keeps what instructors said to suggestions."""

from sqlalchemy import Connection, text


def keep_said_to_suggestions(connection: Connection) -> None:
    """Make the table."""
    connection.execute(
        text("""
        CREATE TABLE said_to_suggestion (
            number INTEGER NOT NULL PRIMARY KEY,
            idempotency_key VARCHAR NOT NULL UNIQUE,
            at VARCHAR NOT NULL,
            who VARCHAR NOT NULL,
            dough VARCHAR NOT NULL,
            suggestion VARCHAR NOT NULL,
            verdict VARCHAR NOT NULL,
            why VARCHAR NOT NULL,
            digest VARCHAR NOT NULL
        )""")
    )
