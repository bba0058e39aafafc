"""The step of the database that keeps acts of learning."""

from sqlalchemy import Connection, text


def keep_acts_of_learning(connection: Connection) -> None:
    """Make the table."""
    connection.execute(
        text("""
        CREATE TABLE act_of_learning (
            number INTEGER NOT NULL PRIMARY KEY,
            idempotency_key VARCHAR NOT NULL UNIQUE,
            at VARCHAR NOT NULL,
            who VARCHAR NOT NULL,
            dough VARCHAR NOT NULL,
            in_use INTEGER NOT NULL,
            cases INTEGER NOT NULL,
            digest VARCHAR NOT NULL,
            marked VARCHAR NOT NULL
        )""")
    )
