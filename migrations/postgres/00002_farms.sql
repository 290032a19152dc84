-- Every table of a farm is unique on (farm_id, id), so that a row can only
-- point at rows of its own farm; the same index gives the lists by ID.

-- +goose Up
CREATE TABLE farm (
    id                 BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name               TEXT             NOT NULL UNIQUE,
    units              TEXT             NOT NULL,
    language           TEXT             NOT NULL,
    time_zone          TEXT             NOT NULL,
    currency           TEXT             NOT NULL,
    notice_lead_s      BIGINT           NOT NULL,
    moved_step_s       BIGINT           NOT NULL,
    blind_after_s      BIGINT           NOT NULL,
    wind_chill_limit_c DOUBLE PRECISION NOT NULL,
    still_watching     BOOLEAN          NOT NULL,
    crew               TEXT             NOT NULL,
    wanted             TEXT             NOT NULL,
    calendar_secret    TEXT             UNIQUE,
    created_at         BIGINT           NOT NULL,
    version            BIGINT           NOT NULL DEFAULT 1
);

CREATE TABLE token (
    hash       TEXT   NOT NULL PRIMARY KEY,
    farm_id    BIGINT NOT NULL REFERENCES farm (id),
    scope      TEXT   NOT NULL,
    created_at BIGINT NOT NULL,
    revoked_at BIGINT
);

CREATE TABLE field (
    id          BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id     BIGINT           NOT NULL REFERENCES farm (id),
    cell_id     BIGINT           REFERENCES cell (id),
    name        TEXT             NOT NULL,
    latitude    DOUBLE PRECISION NOT NULL,
    longitude   DOUBLE PRECISION NOT NULL,
    elevation_m DOUBLE PRECISION,
    soil        TEXT             NOT NULL,
    low_spot_k  DOUBLE PRECISION NOT NULL,
    time_zone   TEXT             NOT NULL,
    removed_at  BIGINT,
    created_at  BIGINT           NOT NULL,
    version     BIGINT           NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
);
CREATE INDEX field_by_cell ON field (cell_id, id);

CREATE TABLE bed (
    id                BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id           BIGINT NOT NULL,
    field_id          BIGINT NOT NULL,
    name              TEXT   NOT NULL,
    crop              TEXT   NOT NULL,
    variety           TEXT   NOT NULL,
    purpose           TEXT   NOT NULL,
    sown_on           TEXT,
    standing_kg       DOUBLE PRECISION,
    price_per_kg      DOUBLE PRECISION,
    lift_kg_per_hour  DOUBLE PRECISION,
    cost_loss         DOUBLE PRECISION,
    tolerance_shift_k DOUBLE PRECISION,
    covers            TEXT   NOT NULL,
    mulches           TEXT   NOT NULL,
    cleared_at        BIGINT,
    quiet_until       BIGINT,
    created_at        BIGINT NOT NULL,
    version           BIGINT NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id)
);
CREATE INDEX bed_by_field ON bed (field_id, id);
CREATE INDEX bed_standing ON bed (field_id, id) WHERE cleared_at IS NULL;

CREATE TABLE recipient (
    id         BIGINT  GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id    BIGINT  NOT NULL REFERENCES farm (id),
    name       TEXT    NOT NULL,
    email      TEXT    NOT NULL,
    phone      TEXT    NOT NULL,
    language   TEXT    NOT NULL,
    units      TEXT    NOT NULL,
    quiet_from TEXT    NOT NULL,
    quiet_to   TEXT    NOT NULL,
    kinds      TEXT    NOT NULL,
    muted_sms  BOOLEAN NOT NULL,
    muted_mail TEXT    NOT NULL,
    removed_at BIGINT,
    created_at BIGINT  NOT NULL,
    version    BIGINT  NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
);
CREATE INDEX recipient_by_phone ON recipient (phone) WHERE phone <> '';
CREATE INDEX recipient_by_email ON recipient (lower(email)) WHERE email <> '';

CREATE TABLE room (
    id            BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id       BIGINT           NOT NULL REFERENCES farm (id),
    name          TEXT             NOT NULL,
    kind          TEXT             NOT NULL,
    temperature_c DOUBLE PRECISION NOT NULL,
    humidity      DOUBLE PRECISION,
    capacity_kg   DOUBLE PRECISION,
    removed_at    BIGINT,
    created_at    BIGINT           NOT NULL,
    version       BIGINT           NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id)
);

CREATE TABLE lot (
    id           BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id      BIGINT           NOT NULL,
    room_id      BIGINT           NOT NULL,
    crop         TEXT             NOT NULL,
    variety      TEXT             NOT NULL,
    kg           DOUBLE PRECISION NOT NULL,
    harvested_at BIGINT           NOT NULL,
    container    TEXT             NOT NULL,
    cured_at     BIGINT,
    from_bed_id  BIGINT,
    ended_at     BIGINT,
    created_at   BIGINT           NOT NULL,
    version      BIGINT           NOT NULL DEFAULT 1,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, room_id) REFERENCES room (farm_id, id),
    FOREIGN KEY (farm_id, from_bed_id) REFERENCES bed (farm_id, id)
);

CREATE TABLE reading (
    id       BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id  BIGINT           NOT NULL,
    field_id BIGINT           NOT NULL,
    at       BIGINT           NOT NULL,
    quantity TEXT             NOT NULL,
    depth_cm DOUBLE PRECISION,
    value    DOUBLE PRECISION NOT NULL,
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id)
);
CREATE INDEX reading_by_field ON reading (field_id, at, id);

CREATE TABLE finding (
    id            BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id       BIGINT           NOT NULL,
    bed_id        BIGINT           NOT NULL,
    night         TEXT             NOT NULL,
    lost_fraction DOUBLE PRECISION NOT NULL,
    note          TEXT             NOT NULL,
    created_at    BIGINT           NOT NULL,
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
);
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
