-- +goose Up
-- What people decided is told too.
ALTER TABLE history DROP CONSTRAINT history_one_thing_happened;
ALTER TABLE history ADD CONSTRAINT history_one_thing_happened CHECK (
    num_nonnulls(event -> 'finding', event -> 'application', event -> 'inspection', event -> 'not_done',
        event -> 'approval', event -> 'ending', event -> 'done', event -> 'decision')
    BETWEEN CASE WHEN event ? 'corrects' THEN 0 ELSE 1 END AND 1);

-- +goose Down
ALTER TABLE history DROP CONSTRAINT history_one_thing_happened;
DELETE FROM history WHERE event ? 'decision';
ALTER TABLE history ADD CONSTRAINT history_one_thing_happened CHECK (
    num_nonnulls(event -> 'finding', event -> 'application', event -> 'inspection', event -> 'not_done',
        event -> 'approval', event -> 'ending', event -> 'done')
    BETWEEN CASE WHEN event ? 'corrects' THEN 0 ELSE 1 END AND 1);
