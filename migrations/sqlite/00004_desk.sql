-- +goose Up
CREATE TABLE memo (
    kind       TEXT    NOT NULL,
    owner      TEXT    NOT NULL,
    body       TEXT    NOT NULL,
    updated_at INTEGER NOT NULL,
    PRIMARY KEY (kind, owner)
) STRICT;

CREATE TABLE reply (
    farm_id      INTEGER NOT NULL REFERENCES farm (id),
    key          TEXT    NOT NULL,
    request_hash TEXT    NOT NULL,
    status       INTEGER NOT NULL,
    header       TEXT    NOT NULL,
    body         BLOB    NOT NULL,
    until        INTEGER NOT NULL,
    PRIMARY KEY (farm_id, key)
) STRICT;
CREATE INDEX reply_by_until ON reply (until);

CREATE TABLE session (
    hash         TEXT    NOT NULL PRIMARY KEY,
    farm_id      INTEGER NOT NULL REFERENCES farm (id),
    recipient_id INTEGER,
    scope        TEXT    NOT NULL,
    csrf         TEXT    NOT NULL,
    until        INTEGER NOT NULL,
    FOREIGN KEY (farm_id, recipient_id) REFERENCES recipient (farm_id, id)
) STRICT;
CREATE INDEX session_by_until ON session (until);

CREATE TABLE once (
    key   TEXT    NOT NULL PRIMARY KEY,
    until INTEGER NOT NULL
) STRICT;
CREATE INDEX once_by_until ON once (until);

CREATE TABLE secret (
    name  TEXT NOT NULL PRIMARY KEY,
    value BLOB NOT NULL
) STRICT;

-- +goose Down
DROP TABLE secret;
DROP TABLE once;
DROP TABLE session;
DROP TABLE reply;
DROP TABLE memo;
