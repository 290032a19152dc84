-- +goose Up

-- forecast_id has no foreign key: the forecast may be pruned while the verdict
-- still says which one it was made from.
CREATE TABLE verdict (
    bed_id         INTEGER PRIMARY KEY REFERENCES bed (id),
    as_of          INTEGER NOT NULL,
    forecast_id    INTEGER,
    state          TEXT    NOT NULL,
    harvest_before INTEGER,
    likelihood     REAL,
    night          TEXT    NOT NULL,
    body           TEXT,
    watch          TEXT
) STRICT;

CREATE TABLE judgement (
    id            INTEGER PRIMARY KEY,
    farm_id       INTEGER NOT NULL,
    bed_id        INTEGER NOT NULL,
    crop          TEXT    NOT NULL,
    night         TEXT    NOT NULL,
    lead_days     INTEGER NOT NULL,
    issued_at     INTEGER NOT NULL,
    likelihood    REAL    NOT NULL,
    cost_loss     REAL    NOT NULL,
    acted         INTEGER NOT NULL,
    air_min_c     REAL    NOT NULL,
    lost_fraction REAL,
    air_min_was_c REAL,
    UNIQUE (bed_id, night, lead_days),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
) STRICT;
CREATE INDEX judgement_by_farm ON judgement (farm_id, night);
CREATE INDEX judgement_by_night ON judgement (night);

CREATE TABLE notice (
    id             INTEGER PRIMARY KEY,
    farm_id        INTEGER NOT NULL REFERENCES farm (id),
    subject        TEXT    NOT NULL,
    field_id       INTEGER,
    bed_id         INTEGER,
    kind           TEXT    NOT NULL,
    night          TEXT    NOT NULL,
    revision       INTEGER NOT NULL,
    issued_at      INTEGER NOT NULL,
    harvest_before INTEGER,
    likelihood     REAL,
    forecast_id    INTEGER REFERENCES forecast (id),
    facts          TEXT,
    answer         TEXT    NOT NULL DEFAULT '',
    answered_at    INTEGER,
    UNIQUE (farm_id, id),
    UNIQUE (farm_id, subject, night, kind, revision),
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
) STRICT;
CREATE INDEX notice_by_bed ON notice (bed_id, id) WHERE bed_id IS NOT NULL;
CREATE INDEX notice_by_field ON notice (field_id, id) WHERE field_id IS NOT NULL;
CREATE INDEX notice_by_forecast ON notice (forecast_id) WHERE forecast_id IS NOT NULL;

CREATE TABLE answer (
    id           INTEGER PRIMARY KEY,
    farm_id      INTEGER NOT NULL,
    notice_id    INTEGER NOT NULL,
    bed_id       INTEGER,
    recipient_id INTEGER,
    answer       TEXT    NOT NULL,
    harvested_kg REAL,
    at           INTEGER NOT NULL,
    FOREIGN KEY (farm_id, notice_id) REFERENCES notice (farm_id, id),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id),
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
) STRICT;
CREATE INDEX answer_by_notice ON answer (notice_id, id);

CREATE TABLE message (
    id           INTEGER PRIMARY KEY,
    farm_id      INTEGER NOT NULL,
    recipient_id INTEGER NOT NULL,
    channel      TEXT    NOT NULL,
    key          TEXT    NOT NULL UNIQUE,
    test         INTEGER NOT NULL,
    state        TEXT    NOT NULL,
    attempts     INTEGER NOT NULL,
    last_error   TEXT    NOT NULL,
    created_at   INTEGER NOT NULL,
    not_before   INTEGER NOT NULL,
    sent_at      INTEGER,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
) STRICT;
CREATE INDEX message_by_state ON message (state, not_before);

CREATE TABLE message_notice (
    message_id INTEGER NOT NULL,
    position   INTEGER NOT NULL,
    farm_id    INTEGER NOT NULL,
    notice_id  INTEGER NOT NULL,
    PRIMARY KEY (message_id, position),
    FOREIGN KEY (farm_id, message_id) REFERENCES message (farm_id, id),
    FOREIGN KEY (farm_id, notice_id) REFERENCES notice (farm_id, id)
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE message_notice;
DROP TABLE message;
DROP TABLE answer;
DROP TABLE notice;
DROP TABLE judgement;
DROP TABLE verdict;
