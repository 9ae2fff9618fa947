-- Format 2: what kept the rest of a night from being written, and two small pictures.
ALTER TABLE night ADD COLUMN lost TEXT NOT NULL DEFAULT ''; -- disk-full, or another reason

CREATE TABLE picture (
  night INTEGER NOT NULL REFERENCES night(id),
  name  TEXT NOT NULL,                 -- before, after
  t     REAL NOT NULL,                 -- seconds since the night's first frame
  marks TEXT NOT NULL CHECK (json_valid(marks)), -- what is where in it, px
  png   BLOB NOT NULL,
  PRIMARY KEY (night, name)
);
