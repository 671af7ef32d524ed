-- Every table of the first release. Record tables share: id, seq (the change that last touched it), voided.

CREATE TABLE setting (
    name TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
);

CREATE TABLE counter (
    name TEXT NOT NULL PRIMARY KEY,
    value BIGINT NOT NULL
);

INSERT INTO counter (name, value) VALUES ('seq', 0);

CREATE TABLE device (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    token_hash TEXT UNIQUE,
    paired_ms BIGINT NOT NULL,
    seen_ms BIGINT,
    revoked_ms BIGINT,
    last_n BIGINT NOT NULL DEFAULT 0,
    last_effective_ms BIGINT NOT NULL DEFAULT 0
);

CREATE TABLE pairing (
    code_hash TEXT NOT NULL PRIMARY KEY,
    role TEXT NOT NULL,
    expires_ms BIGINT NOT NULL,
    tries_left BIGINT NOT NULL,
    used_ms BIGINT
);

CREATE TABLE change_log (
    seq BIGINT NOT NULL PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    device TEXT NOT NULL REFERENCES device (id),
    n BIGINT NOT NULL,
    kind TEXT NOT NULL,
    record TEXT NOT NULL,
    edited_at TEXT NOT NULL,
    effective_ms BIGINT NOT NULL,
    received_ms BIGINT NOT NULL,
    set_json TEXT NOT NULL
);

CREATE INDEX change_log_record ON change_log (record);

CREATE TABLE parked_change (
    id TEXT NOT NULL PRIMARY KEY,
    device TEXT NOT NULL REFERENCES device (id),
    received_ms BIGINT NOT NULL,
    change_json TEXT NOT NULL,
    problem_json TEXT NOT NULL
);

CREATE TABLE variety (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    variety TEXT NOT NULL,
    species TEXT,
    note TEXT
);

CREATE TABLE place (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    place TEXT NOT NULL,
    cover TEXT,
    light_percent DOUBLE PRECISION,
    heated BOOLEAN,
    latitude DOUBLE PRECISION,
    note TEXT
);

CREATE TABLE tree (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    tag TEXT NOT NULL,
    variety TEXT REFERENCES variety (id),
    place TEXT REFERENCES place (id),
    pot_litres DOUBLE PRECISION,
    source TEXT,
    started_on TEXT,
    standing TEXT,
    position TEXT,
    note TEXT
);

CREATE TABLE tag (
    code TEXT NOT NULL PRIMARY KEY,
    tree TEXT REFERENCES tree (id),
    given_ms BIGINT,
    printed_ms BIGINT,
    code_mm DOUBLE PRECISION
);

CREATE INDEX tag_tree ON tag (tree);

CREATE TABLE round (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    started_at TEXT NOT NULL,
    finished_at TEXT,
    places TEXT,
    note TEXT
);

CREATE TABLE observation (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    at_s BIGINT NOT NULL,
    tree TEXT NOT NULL REFERENCES tree (id),
    round TEXT REFERENCES round (id),
    seen_at TEXT NOT NULL,
    shoots BIGINT,
    leaves_per_shoot DOUBLE PRECISION,
    leaves BIGINT,
    leaves_fallen BIGINT,
    shoot_cm DOUBLE PRECISION,
    fruit_breba BIGINT,
    fruit_main BIGINT,
    damage_percent DOUBLE PRECISION,
    causes TEXT,
    bbch BIGINT,
    soil TEXT,
    note TEXT
);

CREATE INDEX observation_tree ON observation (tree, at_s);

CREATE TABLE move (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    at_s BIGINT NOT NULL,
    tree TEXT NOT NULL REFERENCES tree (id),
    round TEXT REFERENCES round (id),
    moved_at TEXT NOT NULL,
    to_place TEXT NOT NULL REFERENCES place (id)
);

CREATE INDEX move_tree ON move (tree, at_s);

CREATE TABLE work (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    at_s BIGINT NOT NULL,
    tree TEXT NOT NULL REFERENCES tree (id),
    round TEXT REFERENCES round (id),
    done_at TEXT NOT NULL,
    task TEXT NOT NULL,
    amount DOUBLE PRECISION,
    note TEXT
);

CREATE INDEX work_tree ON work (tree, at_s);

CREATE TABLE reading (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    place TEXT NOT NULL REFERENCES place (id),
    date TEXT NOT NULL,
    t_min_c DOUBLE PRECISION,
    t_max_c DOUBLE PRECISION
);

CREATE INDEX reading_place ON reading (place, date);

CREATE TABLE harvest (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    at_s BIGINT NOT NULL,
    tree TEXT NOT NULL REFERENCES tree (id),
    picked_at TEXT NOT NULL,
    fruit TEXT,
    weight_g DOUBLE PRECISION,
    quality BIGINT
);

CREATE INDEX harvest_tree ON harvest (tree, at_s);

CREATE TABLE photo (
    id TEXT NOT NULL PRIMARY KEY,
    seq BIGINT NOT NULL UNIQUE,
    voided BOOLEAN NOT NULL,
    at_s BIGINT NOT NULL,
    sha256 TEXT NOT NULL,
    tree TEXT REFERENCES tree (id),
    observation TEXT REFERENCES observation (id),
    taken_at TEXT NOT NULL,
    note TEXT
);

CREATE INDEX photo_tree ON photo (tree, at_s);

CREATE TABLE photo_file (
    sha256 TEXT NOT NULL PRIMARY KEY,
    stored_sha256 TEXT NOT NULL,
    size_bytes BIGINT NOT NULL,
    width_px BIGINT NOT NULL,
    height_px BIGINT NOT NULL,
    received_ms BIGINT NOT NULL
);
