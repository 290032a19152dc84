-- +goose Up

-- forecast_id has no foreign key: the forecast may be pruned while the verdict
-- still says which one it was made from.
CREATE TABLE verdict (
    bed_id         BIGINT PRIMARY KEY REFERENCES bed (id),
    as_of          BIGINT NOT NULL,
    forecast_id    BIGINT,
    state          TEXT   NOT NULL,
    harvest_before BIGINT,
    likelihood     DOUBLE PRECISION,
    night          TEXT   NOT NULL,
    body           TEXT,
    watch          TEXT
);

CREATE TABLE judgement (
    id            BIGINT           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id       BIGINT           NOT NULL,
    bed_id        BIGINT           NOT NULL,
    crop          TEXT             NOT NULL,
    night         TEXT             NOT NULL,
    lead_days     BIGINT           NOT NULL,
    issued_at     BIGINT           NOT NULL,
    likelihood    DOUBLE PRECISION NOT NULL,
    cost_loss     DOUBLE PRECISION NOT NULL,
    acted         BOOLEAN          NOT NULL,
    air_min_c     DOUBLE PRECISION NOT NULL,
    lost_fraction DOUBLE PRECISION,
    air_min_was_c DOUBLE PRECISION,
    UNIQUE (bed_id, night, lead_days),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
);
CREATE INDEX judgement_by_farm ON judgement (farm_id, night);
CREATE INDEX judgement_by_night ON judgement (night);

CREATE TABLE notice (
    id             BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id        BIGINT NOT NULL REFERENCES farm (id),
    subject        TEXT   NOT NULL,
    field_id       BIGINT,
    bed_id         BIGINT,
    kind           TEXT   NOT NULL,
    night          TEXT   NOT NULL,
    revision       BIGINT NOT NULL,
    issued_at      BIGINT NOT NULL,
    harvest_before BIGINT,
    likelihood     DOUBLE PRECISION,
    forecast_id    BIGINT REFERENCES forecast (id),
    facts          TEXT,
    answer         TEXT   NOT NULL DEFAULT '',
    answered_at    BIGINT,
    UNIQUE (farm_id, id),
    UNIQUE (farm_id, subject, night, kind, revision),
    FOREIGN KEY (farm_id, field_id) REFERENCES field (farm_id, id),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id)
);
CREATE INDEX notice_by_bed ON notice (bed_id, id) WHERE bed_id IS NOT NULL;
CREATE INDEX notice_by_field ON notice (field_id, id) WHERE field_id IS NOT NULL;
CREATE INDEX notice_by_forecast ON notice (forecast_id) WHERE forecast_id IS NOT NULL;

CREATE TABLE answer (
    id           BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id      BIGINT NOT NULL,
    notice_id    BIGINT NOT NULL,
    bed_id       BIGINT,
    recipient_id BIGINT,
    answer       TEXT   NOT NULL,
    harvested_kg DOUBLE PRECISION,
    at           BIGINT NOT NULL,
    FOREIGN KEY (farm_id, notice_id) REFERENCES notice (farm_id, id),
    FOREIGN KEY (farm_id, bed_id) REFERENCES bed (farm_id, id),
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
);
CREATE INDEX answer_by_notice ON answer (notice_id, id);

CREATE TABLE message (
    id           BIGINT  GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    farm_id      BIGINT  NOT NULL,
    recipient_id BIGINT  NOT NULL,
    channel      TEXT    NOT NULL,
    key          TEXT    NOT NULL UNIQUE,
    test         BOOLEAN NOT NULL,
    state        TEXT    NOT NULL,
    attempts     BIGINT  NOT NULL,
    last_error   TEXT    NOT NULL,
    created_at   BIGINT  NOT NULL,
    not_before   BIGINT  NOT NULL,
    sent_at      BIGINT,
    UNIQUE (farm_id, id),
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
);
CREATE INDEX message_by_state ON message (state, not_before);

CREATE TABLE message_notice (
    message_id BIGINT NOT NULL,
    position   BIGINT NOT NULL,
    farm_id    BIGINT NOT NULL,
    notice_id  BIGINT NOT NULL,
    PRIMARY KEY (message_id, position),
    FOREIGN KEY (farm_id, message_id) REFERENCES message (farm_id, id),
    FOREIGN KEY (farm_id, notice_id) REFERENCES notice (farm_id, id)
);

-- +goose Down
DROP TABLE message_notice;
DROP TABLE message;
DROP TABLE answer;
DROP TABLE notice;
DROP TABLE judgement;
DROP TABLE verdict;
