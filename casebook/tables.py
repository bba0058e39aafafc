"""The tables as the newest migration step leaves them, for queries.

The steps in `migrations` write their own SQL, because a step must never change once it has
run on somebody's database while this file follows the present; a test compares the two.
"""

from sqlalchemy import (
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
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

kept_case = Table(
    "kept_case",
    metadata,
    # Counted from 1 as they were kept here; for joining and for "newest first", never shown.
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("id", String, nullable=False),
    Column("idempotency_key", String, nullable=False),
    # The key to a kitchen's consultation: never exported, never shown with the case.
    Column("token", String, ForeignKey("consultation.token")),
    Column("dough", String, nullable=False),
    Column("book", String, nullable=False),
    Column("opened", String, nullable=False),
    Column("kept", String, nullable=False),
    Column("entered_by", String, nullable=False),
    Column("class_code", String),
    Column("stage", String, nullable=False),
    Column("elevation_m", Double),
    Column("title", String, nullable=False),
    # JSON text: what was told, and what was made of it.
    Column("situation", String, nullable=False),
    Column("story", String, nullable=False),
    Column("bands", String, nullable=False),
    Column("thought", String, nullable=False),
    Column("said", String, nullable=False),
    Column("outcome", String),
    Column("note", String),
    # The verdict of the last mark, or "new": what `case_mark` says, at hand for every query.
    Column("standing", String, nullable=False),
    UniqueConstraint("id"),
    UniqueConstraint("idempotency_key"),
    Index("kept_case_standing", "standing", "kept", "id"),
    Index("kept_case_token", "token"),
)

case_photo = Table(
    "case_photo",
    metadata,
    Column("case_number", Integer, ForeignKey("kept_case.number"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("jpeg", LargeBinary, nullable=False),
    Column("alt", String, nullable=False),
)

case_mark = Table(
    "case_mark",
    metadata,
    Column("case_number", Integer, ForeignKey("kept_case.number"), primary_key=True),
    # Counted from 1 within the case, without gaps; the last one counts.
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("idempotency_key", String, nullable=False),
    Column("at", String, nullable=False),
    # "by" is a word of SQL.
    Column("marked_by", String, nullable=False),
    Column("verdict", String, nullable=False),
    Column("causes", String, nullable=False),
    Column("first_remedy", String),
    Column("other", String),
    UniqueConstraint("idempotency_key"),
    Index("case_mark_other", "other"),
)

case_fact = Table(
    "case_fact",
    metadata,
    Column("case_number", Integer, ForeignKey("kept_case.number"), primary_key=True),
    Column("kind", String, primary_key=True),
    Column("name", String, primary_key=True),
    Column("value", String, primary_key=True),
    # From a filter to its cases, in the order they were kept.
    Index("case_fact_found", "kind", "name", "value", "case_number"),
)

case_words = Table(
    "case_words",
    metadata,
    Column("case_number", Integer, ForeignKey("kept_case.number"), primary_key=True),
    # Folded: small letters without accents, and spaces for everything else.
    Column("title", String, nullable=False),
    Column("body", String, nullable=False),
)

instructor = Table(
    "instructor",
    metadata,
    Column("name", String, primary_key=True),
    # An argon2 hash with its salt and settings in it; never the passphrase.
    Column("passphrase", String, nullable=False),
    Column("since", String, nullable=False),
)

desk_session = Table(
    "desk_session",
    metadata,
    # SHA-256 of the id: whoever reads the database still holds no session.
    Column("id", String, primary_key=True),
    Column("instructor", String, ForeignKey("instructor.name"), nullable=False),
    Column("began", String, nullable=False),
    Column("ended", String),
)

desk_secret = Table(
    "desk_secret",
    metadata,
    Column("name", String, primary_key=True),
    Column("value", String, nullable=False),
)

revision = Table(
    "revision",
    metadata,
    # Counted from 1 over the whole book, without gaps.
    Column("number", Integer, primary_key=True, autoincrement=False),
    # The number of the first revision of those made in one go.
    Column("together", Integer, nullable=False),
    Column("dough", String, nullable=False),
    Column("section", String, nullable=False),
    Column("name", String, nullable=False),
    # YAML text of the part; null where there is none.
    Column("text_before", String),
    Column("text_after", String),
    Column("who", String, nullable=False),
    Column("at", String, nullable=False),
    Column("why", String, nullable=False),
    # change, undo, roll-back or import
    Column("kind", String, nullable=False),
    # What an undo takes back, or where a roll-back goes to.
    Column("undoes", Integer),
    Index("revision_part", "dough", "section", "name"),
)

act_of_learning = Table(
    "act_of_learning",
    metadata,
    # Counted from 1 over all doughs, without gaps; of a dough the last one counts.
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("idempotency_key", String, nullable=False),
    Column("at", String, nullable=False),
    Column("who", String, nullable=False),
    Column("dough", String, nullable=False),
    # 1: from here on the book uses what the listed cases teach; 0: its words alone.
    Column("in_use", Integer, nullable=False),
    # How many cases were counted, and a digest of the list of marks.
    Column("cases", Integer, nullable=False),
    Column("digest", String, nullable=False),
    # Number of the case, and number of its mark that counted: "12:1 15:3".
    Column("marked", String, nullable=False),
    UniqueConstraint("idempotency_key"),
)

said_to_suggestion = Table(
    "said_to_suggestion",
    metadata,
    # Counted from 1, without gaps; of a suggestion the last word counts.
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("idempotency_key", String, nullable=False),
    Column("at", String, nullable=False),
    Column("who", String, nullable=False),
    Column("dough", String, nullable=False),
    # Its name, as diagnose.learning.offering makes it; the suggestion itself is never kept.
    Column("suggestion", String, nullable=False),
    # dismissed or brought back
    Column("verdict", String, nullable=False),
    Column("why", String, nullable=False),
    # Of the counts behind it at that time.
    Column("digest", String, nullable=False),
    UniqueConstraint("idempotency_key"),
)

migration = Table(
    "migration",
    metadata,
    Column("step", Integer, primary_key=True, autoincrement=False),
    Column("name", String, nullable=False),
    Column("at", String, nullable=False),
)
