-- A farm whose zone nobody set has none: its lists and letters go by its first
-- field. UTC was what every new farm was given, and cannot be told from one that
-- was chosen.
-- +goose Up
UPDATE farm SET time_zone = '' WHERE time_zone = 'UTC';

-- +goose Down
UPDATE farm SET time_zone = 'UTC' WHERE time_zone = '';
