-- What is to be done, cuttings and where trees come from, lessons, decisions, the order of a walk, and parts of trees.

CREATE TABLE batch (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    batch TEXT NOT NULL,
    variety TEXT REFERENCES variety (id),
    parent TEXT REFERENCES tree (id),
    method TEXT,
    taken_on TEXT,
    taken BIGINT,
    rooted BIGINT,
    failed BIGINT,
    note TEXT
);

CREATE TABLE job (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    job TEXT NOT NULL,
    key TEXT,
    task TEXT NOT NULL,
    tree TEXT REFERENCES tree (id),
    place TEXT REFERENCES place (id),
    to_place TEXT REFERENCES place (id),
    amount DOUBLE PRECISION,
    due_on TEXT,
    put_off_to TEXT,
    done_on TEXT,
    dropped BOOLEAN,
    note TEXT
);

CREATE INDEX job_key ON job (key) WHERE key IS NOT NULL;

CREATE TABLE lesson (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    lesson TEXT NOT NULL,
    variety TEXT REFERENCES variety (id),
    place TEXT REFERENCES place (id),
    tree TEXT REFERENCES tree (id),
    on_day TEXT,
    degree_days DOUBLE PRECISION,
    task TEXT,
    learned_on TEXT,
    heeded_on TEXT
);

ALTER TABLE variety ADD COLUMN origin_country TEXT;

ALTER TABLE place ADD COLUMN walk TEXT;

-- No references: rows go in table by table, and a tree may name one that comes after it.
ALTER TABLE tree ADD COLUMN parent TEXT;

ALTER TABLE tree ADD COLUMN batch TEXT;

ALTER TABLE tree ADD COLUMN donor_number TEXT;

ALTER TABLE tree ADD COLUMN decision TEXT;

ALTER TABLE tree ADD COLUMN decided_on TEXT;

ALTER TABLE observation ADD COLUMN leaf_cm2 DOUBLE PRECISION;

CREATE INDEX observation_leaf_size ON observation (at_s) WHERE leaf_cm2 IS NOT NULL;

ALTER TABLE observation ADD COLUMN part TEXT;
