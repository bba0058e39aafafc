"""The tables as the newest migration step leaves them, for queries.

The steps in `migrations` write their own SQL, because a step must never change once it has
run on somebody's database while this file follows the present; a test compares the two.
"""

from sqlalchemy import (
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)

metadata = MetaData()

consultation = Table(
    "consultation",
    metadata,
    Column("token", String, primary_key=True),
    Column("dough", String, nullable=False),
    Column("opened", String, nullable=False),
    Column("idempotency_key", String, nullable=False),
    UniqueConstraint("idempotency_key"),
)

entry = Table(
    "entry",
    metadata,
    Column("token", String, ForeignKey("consultation.token"), primary_key=True),
    # Counted from 1 within the consultation, without gaps.
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("idempotency_key", String, nullable=False),
    # Counted from 0 within what was told under one idempotency key.
    Column("place", Integer, nullable=False),
    Column("kind", String, nullable=False),
    Column("name", String, nullable=False),
    # JSON text and UTC times as ISO 8601 text: the same on every database.
    Column("value", String, nullable=False),
    Column("at", String, nullable=False),
    UniqueConstraint("idempotency_key", "place"),
    # For what runs now in the whole kitchen.
    Index("entry_kind_at", "kind", "at"),
)

migration = Table(
    "migration",
    metadata,
    Column("step", Integer, primary_key=True, autoincrement=False),
    Column("name", String, nullable=False),
    Column("at", String, nullable=False),
)
