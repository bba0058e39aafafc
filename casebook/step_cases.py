"""Step 3 of the database: keep cases, their marks, pictures, facts and words. Never to be edited.

Names are compared and sorted letter by letter on both databases (SQLite does; PostgreSQL is told
to), so that what comes first does not depend on where the school's server was set up. The words
are searched by FTS5 on SQLite, which keeps an index beside `case_words`, and on PostgreSQL by a
generated tsvector: English stems, and no word left out as too common, for "not" and "off" matter.
"""

from sqlalchemy import Connection, text

_TABLES = """
CREATE TABLE kept_case (
    number INTEGER NOT NULL PRIMARY KEY,
    id NAME NOT NULL UNIQUE,
    idempotency_key NAME NOT NULL UNIQUE,
    token VARCHAR REFERENCES consultation (token),
    dough NAME NOT NULL,
    book NAME NOT NULL,
    opened NAME NOT NULL,
    kept NAME NOT NULL,
    entered_by NAME NOT NULL,
    class_code NAME,
    stage NAME NOT NULL,
    elevation_m REAL8,
    title VARCHAR NOT NULL,
    situation VARCHAR NOT NULL,
    story VARCHAR NOT NULL,
    bands VARCHAR NOT NULL,
    thought VARCHAR NOT NULL,
    said VARCHAR NOT NULL,
    outcome NAME,
    note VARCHAR,
    standing NAME NOT NULL
);
CREATE INDEX kept_case_standing ON kept_case (standing, kept, id);
CREATE INDEX kept_case_token ON kept_case (token);
CREATE TABLE case_photo (
    case_number INTEGER NOT NULL REFERENCES kept_case (number),
    number INTEGER NOT NULL,
    jpeg BYTES NOT NULL,
    alt VARCHAR NOT NULL,
    PRIMARY KEY (case_number, number)
);
CREATE TABLE case_mark (
    case_number INTEGER NOT NULL REFERENCES kept_case (number),
    number INTEGER NOT NULL,
    idempotency_key NAME NOT NULL UNIQUE,
    at NAME NOT NULL,
    marked_by VARCHAR NOT NULL,
    verdict NAME NOT NULL,
    causes VARCHAR NOT NULL,
    first_remedy NAME,
    other NAME,
    PRIMARY KEY (case_number, number)
);
CREATE INDEX case_mark_other ON case_mark (other);
CREATE TABLE case_fact (
    case_number INTEGER NOT NULL REFERENCES kept_case (number),
    kind NAME NOT NULL,
    name NAME NOT NULL,
    value NAME NOT NULL,
    PRIMARY KEY (case_number, kind, name, value)
);
CREATE INDEX case_fact_found ON case_fact (kind, name, value, case_number);
CREATE TABLE case_words (
    case_number INTEGER NOT NULL PRIMARY KEY REFERENCES kept_case (number),
    title VARCHAR NOT NULL,
    body VARCHAR NOT NULL
);
"""

_SQLITE = """
CREATE VIRTUAL TABLE case_search USING fts5 (
    title, body, content = 'case_words', content_rowid = 'case_number',
    tokenize = 'porter unicode61 remove_diacritics 2', prefix = '2 3'
);
"""

_POSTGRES = """
CREATE TEXT SEARCH DICTIONARY casebook_stem (TEMPLATE = snowball, LANGUAGE = english);
CREATE TEXT SEARCH CONFIGURATION casebook_words (COPY = simple);
ALTER TEXT SEARCH CONFIGURATION casebook_words
    ALTER MAPPING REPLACE simple WITH casebook_stem;
ALTER TABLE case_words ADD COLUMN search tsvector GENERATED ALWAYS AS (
    setweight(to_tsvector('casebook_words', title), 'A')
    || setweight(to_tsvector('casebook_words', body), 'D')
) STORED;
CREATE INDEX case_words_search ON case_words USING gin (search);
"""


def keep_cases(connection: Connection) -> None:
    """Make the tables."""
    sqlite = connection.dialect.name == "sqlite"
    script = _TABLES + (_SQLITE if sqlite else _POSTGRES)
    words = {
        " NAME": " VARCHAR" if sqlite else ' VARCHAR COLLATE "C"',
        " REAL8": " DOUBLE" if sqlite else " DOUBLE PRECISION",
        " BYTES": " BLOB" if sqlite else " BYTEA",
    }
    for word, meant in words.items():
        script = script.replace(word, meant)
    for statement in filter(None, map(str.strip, script.split(";\n"))):
        connection.execute(text(statement))
