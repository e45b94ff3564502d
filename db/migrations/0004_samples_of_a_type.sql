-- A lamp type of which several samples were measured: each has a fit of its own, and the type's fit is their mean, with
-- the spread between them.
ALTER TABLE fits ADD COLUMN type_fit_id INTEGER REFERENCES fits (id) ON DELETE CASCADE;
ALTER TABLE fits ADD COLUMN sample TEXT NOT NULL DEFAULT '' CHECK ((sample = '') = (type_fit_id IS NULL));
ALTER TABLE fits ADD COLUMN spread_source TEXT NOT NULL DEFAULT ''
  CHECK (spread_source IN ('', 'default', 'mixture', 'measured'));
CREATE INDEX fits_by_type_fit ON fits (type_fit_id);

CREATE TABLE fit_spreads (
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  kind TEXT NOT NULL CHECK (kind IN ('parameter', 'derived', 'load')),
  position INTEGER NOT NULL CHECK (position >= 0),
  name TEXT NOT NULL CHECK (length(name) > 0),
  relative INTEGER NOT NULL CHECK (relative IN (0, 1)),
  samples INTEGER NOT NULL CHECK (samples > 0),
  spread REAL NOT NULL CHECK (spread >= 0),
  lower_95 REAL NOT NULL CHECK (lower_95 >= 0),
  upper_95 REAL NOT NULL CHECK (upper_95 >= lower_95),
  measured REAL NOT NULL CHECK (measured >= 0),
  usual_share REAL NOT NULL CHECK (usual_share BETWEEN 0 AND 1),
  PRIMARY KEY (fit_id, kind, position)
) STRICT, WITHOUT ROWID;
