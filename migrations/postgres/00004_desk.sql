-- +goose Up
CREATE TABLE memo (
    kind       TEXT   NOT NULL,
    owner      TEXT   NOT NULL,
    body       TEXT   NOT NULL,
    updated_at BIGINT NOT NULL,
    PRIMARY KEY (kind, owner)
);

CREATE TABLE reply (
    farm_id      BIGINT NOT NULL REFERENCES farm (id),
    key          TEXT   NOT NULL,
    request_hash TEXT   NOT NULL,
    status       BIGINT NOT NULL,
    header       TEXT   NOT NULL,
    body         BYTEA  NOT NULL,
    until        BIGINT NOT NULL,
    PRIMARY KEY (farm_id, key)
);
CREATE INDEX reply_by_until ON reply (until);

CREATE TABLE session (
    hash         TEXT   NOT NULL PRIMARY KEY,
    farm_id      BIGINT NOT NULL REFERENCES farm (id),
    recipient_id BIGINT,
    scope        TEXT   NOT NULL,
    csrf         TEXT   NOT NULL,
    until        BIGINT NOT NULL,
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
);
CREATE INDEX session_by_until ON session (until);

CREATE TABLE once (
    key   TEXT   NOT NULL PRIMARY KEY,
    until BIGINT NOT NULL
);
CREATE INDEX once_by_until ON once (until);

CREATE TABLE secret (
    name  TEXT  NOT NULL PRIMARY KEY,
    value BYTEA NOT NULL
);

-- +goose Down
DROP TABLE secret;
DROP TABLE once;
DROP TABLE session;
DROP TABLE reply;
DROP TABLE memo;
