-- Instants are Unix seconds UTC, days are text 2006-01-02, nested lists are JSON
-- text; every quantity carries its unit in its name, and NULL is missing.

-- +goose Up
CREATE TABLE cell (
    id          INTEGER PRIMARY KEY,
    key         TEXT    NOT NULL UNIQUE,
    latitude    REAL    NOT NULL,
    longitude   REAL    NOT NULL,
    elevation_m REAL,
    time_zone   TEXT    NOT NULL,
    sources     TEXT    NOT NULL,
    warnings    TEXT    NOT NULL,
    resolved_at INTEGER
) STRICT;

-- AUTOINCREMENT: a verdict may name a forecast that has been pruned, so a
-- number is never given twice.
CREATE TABLE forecast (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    cell_id       INTEGER NOT NULL REFERENCES cell (id),
    source        TEXT    NOT NULL,
    issued_at     INTEGER NOT NULL,
    fetched_at    INTEGER NOT NULL,
    checked_at    INTEGER NOT NULL,
    expires_at    INTEGER,
    last_modified TEXT    NOT NULL,
    etag          TEXT    NOT NULL,
    body          BLOB    NOT NULL,
    UNIQUE (cell_id, source, issued_at)
) STRICT;

CREATE TABLE hour (
    cell_id        INTEGER NOT NULL REFERENCES cell (id),
    at             INTEGER NOT NULL,
    origin_rank    INTEGER NOT NULL,
    air_c          REAL,
    dew_point_c    REAL,
    wind_ms        REAL,
    cloud_fraction REAL,
    precip_mm      REAL,
    snow_depth_cm  REAL,
    shortwave_wm2  REAL,
    PRIMARY KEY (cell_id, at)
) STRICT, WITHOUT ROWID;

CREATE TABLE checkpoint (
    cell_id INTEGER NOT NULL REFERENCES cell (id),
    class   TEXT    NOT NULL,
    as_of   INTEGER NOT NULL,
    body    BLOB    NOT NULL,
    PRIMARY KEY (cell_id, class)
) STRICT;

-- +goose Down
DROP TABLE checkpoint;
DROP TABLE hour;
DROP TABLE forecast;
DROP TABLE cell;
