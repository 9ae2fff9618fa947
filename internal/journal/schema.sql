CREATE TABLE night (
  id        INTEGER PRIMARY KEY,
  began     TEXT NOT NULL,             -- RFC 3339, UTC
  ended     TEXT,                      -- NULL: it was cut off
  version   TEXT NOT NULL,             -- of halocue
  result    TEXT NOT NULL DEFAULT '',  -- of the done cue
  settings  TEXT NOT NULL              -- JSON
);

-- One line for each thing that happened; body is the event as the transcript has it.
CREATE TABLE fact (
  id    INTEGER PRIMARY KEY,
  night INTEGER NOT NULL REFERENCES night(id),
  t     REAL NOT NULL,                 -- seconds since the night's first frame
  kind  TEXT NOT NULL,                 -- say, measure, decide, stage, device, ...
  body  TEXT NOT NULL CHECK (json_valid(body))
);
CREATE INDEX fact_by_kind ON fact (night, kind, t);

CREATE VIEW cue AS SELECT id, night, t, body ->> 'action' AS action, body ->> 'knob' AS knob,
  body ->> 'direction' AS direction, body ->> 'turns' AS turns, body ->> 'text' AS text
  FROM fact WHERE kind = 'say';
CREATE VIEW claim AS SELECT id, night, t, body ->> 'result' AS result, body ->> 'text' AS text
  FROM fact WHERE kind = 'say' AND body ->> 'action' = 'done';
CREATE VIEW fault AS SELECT id, night, t, body ->> 'device' AS device, body ->> 'state' AS state,
  body ->> 'detail' AS detail FROM fact WHERE kind = 'device';
CREATE VIEW measurement AS SELECT id, night, t, body ->> '$.offset_px.x' AS offset_x, body ->> '$.offset_px.y' AS offset_y,
  body ->> '$.sigma_px.x' AS sigma_x, body ->> '$.sigma_px.y' AS sigma_y, body ->> '$.axis_mm.x' AS axis_x,
  body ->> '$.axis_mm.y' AS axis_y, body ->> 'tolerance_ratio' AS ratio FROM fact WHERE kind = 'measure';
