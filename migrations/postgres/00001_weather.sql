-- Instants are Unix seconds UTC, days are text 2006-01-02, nested lists are JSON
-- text; every quantity carries its unit in its name, and NULL is missing.

-- +goose Up
CREATE TABLE cell (
    id          BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    key         TEXT             NOT NULL UNIQUE,
    latitude    DOUBLE PRECISION NOT NULL,
    longitude   DOUBLE PRECISION NOT NULL,
    elevation_m DOUBLE PRECISION,
    time_zone   TEXT             NOT NULL,
    sources     TEXT             NOT NULL,
    warnings    TEXT             NOT NULL,
    resolved_at BIGINT
);

CREATE TABLE forecast (
    id            BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    cell_id       BIGINT NOT NULL REFERENCES cell (id),
    source        TEXT   NOT NULL,
    issued_at     BIGINT NOT NULL,
    fetched_at    BIGINT NOT NULL,
    checked_at    BIGINT NOT NULL,
    expires_at    BIGINT,
    last_modified TEXT   NOT NULL,
    etag          TEXT   NOT NULL,
    body          BYTEA  NOT NULL,
    UNIQUE (cell_id, source, issued_at)
);

CREATE TABLE hour (
    cell_id        BIGINT   NOT NULL REFERENCES cell (id),
    at             BIGINT   NOT NULL,
    origin_rank    SMALLINT NOT NULL,
    air_c          DOUBLE PRECISION,
    dew_point_c    DOUBLE PRECISION,
    wind_ms        DOUBLE PRECISION,
    cloud_fraction DOUBLE PRECISION,
    precip_mm      DOUBLE PRECISION,
    snow_depth_cm  DOUBLE PRECISION,
    shortwave_wm2  DOUBLE PRECISION,
    PRIMARY KEY (cell_id, at)
);

CREATE TABLE checkpoint (
    cell_id BIGINT NOT NULL REFERENCES cell (id),
    class   TEXT   NOT NULL,
    as_of   BIGINT NOT NULL,
    body    BYTEA  NOT NULL,
    PRIMARY KEY (cell_id, class)
);

-- +goose Down
DROP TABLE checkpoint;
DROP TABLE hour;
DROP TABLE forecast;
DROP TABLE cell;
