-- Every table of a farm is unique on (farm_id, id), so that a row can only
-- point at rows of its own farm; the same index gives the lists by ID.

-- +goose Up
CREATE TABLE farm (
    id                 INTEGER PRIMARY KEY,
    name               TEXT    NOT NULL UNIQUE,
    units              TEXT    NOT NULL,
    language           TEXT    NOT NULL,
    time_zone          TEXT    NOT NULL,
    currency           TEXT    NOT NULL,
    notice_lead_s      INTEGER NOT NULL,
    moved_step_s       INTEGER NOT NULL,
    blind_after_s      INTEGER NOT NULL,
    wind_chill_limit_c REAL    NOT NULL,
    still_watching     INTEGER NOT NULL,
    crew               TEXT    NOT NULL,
    wanted             TEXT    NOT NULL,
    calendar_secret    TEXT    UNIQUE,
    created_at         INTEGER NOT NULL,
    version            INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE token (
    hash       TEXT    NOT NULL PRIMARY KEY,
    farm_id    INTEGER NOT NULL REFERENCES farm (id),
    scope      TEXT    NOT NULL,
    created_at INTEGER NOT NULL,
    revoked_at INTEGER
) STRICT;

CREATE TABLE field (
    id          INTEGER PRIMARY KEY,
    farm_id     INTEGER NOT NULL REFERENCES farm (id),
    cell_id     INTEGER REFERENCES cell (id),
    name        TEXT    NOT NULL,
    latitude    REAL    NOT NULL,
    longitude   REAL    NOT NULL,
    elevation_m REAL,
    soil        TEXT    NOT NULL,
    low_spot_k  REAL    NOT NULL,
    time_zone   TEXT    NOT NULL,
    removed_at  INTEGER,
    created_at  INTEGER NOT NULL,
    version     INTEGER NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
) STRICT;
CREATE INDEX field_by_cell ON field (cell_id, id);

CREATE TABLE bed (
    id                INTEGER PRIMARY KEY,
    farm_id           INTEGER NOT NULL,
    field_id          INTEGER NOT NULL,
    name              TEXT    NOT NULL,
    crop              TEXT    NOT NULL,
    variety           TEXT    NOT NULL,
    purpose           TEXT    NOT NULL,
    sown_on           TEXT,
    standing_kg       REAL,
    price_per_kg      REAL,
    lift_kg_per_hour  REAL,
    cost_loss         REAL,
    tolerance_shift_k REAL,
    covers            TEXT    NOT NULL,
    mulches           TEXT    NOT NULL,
    cleared_at        INTEGER,
    quiet_until       INTEGER,
    created_at        INTEGER NOT NULL,
    version           INTEGER NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id)
) STRICT;
CREATE INDEX bed_by_field ON bed (field_id, id);
CREATE INDEX bed_standing ON bed (field_id, id) WHERE cleared_at IS NULL;

CREATE TABLE recipient (
    id         INTEGER PRIMARY KEY,
    farm_id    INTEGER NOT NULL REFERENCES farm (id),
    name       TEXT    NOT NULL,
    email      TEXT    NOT NULL,
    phone      TEXT    NOT NULL,
    language   TEXT    NOT NULL,
    units      TEXT    NOT NULL,
    quiet_from TEXT    NOT NULL,
    quiet_to   TEXT    NOT NULL,
    kinds      TEXT    NOT NULL,
    muted_sms  INTEGER NOT NULL,
    muted_mail TEXT    NOT NULL,
    removed_at INTEGER,
    created_at INTEGER NOT NULL,
    version    INTEGER NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
) STRICT;
CREATE INDEX recipient_by_phone ON recipient (phone) WHERE phone <> '';
CREATE INDEX recipient_by_email ON recipient (lower(email)) WHERE email <> '';

CREATE TABLE room (
    id            INTEGER PRIMARY KEY,
    farm_id       INTEGER NOT NULL REFERENCES farm (id),
    name          TEXT    NOT NULL,
    kind          TEXT    NOT NULL,
    temperature_c REAL    NOT NULL,
    humidity      REAL,
    capacity_kg   REAL,
    removed_at    INTEGER,
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
) STRICT;

CREATE TABLE lot (
    id           INTEGER PRIMARY KEY,
    farm_id      INTEGER NOT NULL,
    room_id      INTEGER NOT NULL,
    crop         TEXT    NOT NULL,
    variety      TEXT    NOT NULL,
    kg           REAL    NOT NULL,
    harvested_at INTEGER NOT NULL,
    container    TEXT    NOT NULL,
    cured_at     INTEGER,
    from_bed_id  INTEGER,
    ended_at     INTEGER,
    created_at   INTEGER NOT NULL,
    version      INTEGER NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, room_id) REFERENCES room (farm_id, id),
    FOREIGN KEY (farm_id, from_bed_id) REFERENCES bed (farm_id, id)
) STRICT;

CREATE TABLE reading (
    id       INTEGER PRIMARY KEY,
    farm_id  INTEGER NOT NULL,
    field_id INTEGER NOT NULL,
    at       INTEGER NOT NULL,
    quantity TEXT    NOT NULL,
    depth_cm REAL,
    value    REAL    NOT NULL,
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id)
) STRICT;
CREATE INDEX reading_by_field ON reading (field_id, at, id);

CREATE TABLE finding (
    id            INTEGER PRIMARY KEY,
    farm_id       INTEGER NOT NULL,
    bed_id        INTEGER NOT NULL,
    night         TEXT    NOT NULL,
    lost_fraction REAL    NOT NULL,
    note          TEXT    NOT NULL,
    created_at    INTEGER NOT NULL,
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
) STRICT;
CREATE INDEX finding_by_farm ON finding (farm_id, id);

-- +goose Down
DROP TABLE finding;
DROP TABLE reading;
DROP TABLE lot;
DROP TABLE room;
DROP TABLE recipient;
DROP TABLE bed;
DROP TABLE field;
DROP TABLE token;
DROP TABLE farm;
