-- Captures of finished channels held against what the lamp's fit predicted for them. The capture itself is not kept.
CREATE TABLE comparisons (
  id INTEGER PRIMARY KEY,
  lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  channel TEXT NOT NULL CHECK (length(channel) BETWEEN 1 AND 200),
  mode TEXT NOT NULL CHECK (mode IN ('leading_edge', 'trailing_edge', 'on_off')),
  lamps INTEGER NOT NULL CHECK (lamps > 0),
  conduction_deg REAL NOT NULL CHECK (conduction_deg BETWEEN 0 AND 180),
  supply_v REAL NOT NULL CHECK (supply_v > 0),
  phase_deg REAL CHECK (phase_deg BETWEEN 0 AND 180),
  file TEXT NOT NULL,
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  person TEXT NOT NULL,
  time_utc TEXT NOT NULL,
  instrument TEXT NOT NULL,
  program_version TEXT NOT NULL,
  UNIQUE (lamp_type_id, fit_id, channel, mode, lamps, sha256)
) STRICT;
CREATE INDEX comparisons_by_fit ON comparisons (fit_id);

CREATE TABLE comparison_values (
  comparison_id INTEGER NOT NULL REFERENCES comparisons (id) ON DELETE CASCADE,
  kind TEXT NOT NULL CHECK (kind IN ('figure', 'constraint')),
  position INTEGER NOT NULL CHECK (position >= 0),
  name TEXT NOT NULL CHECK (length(name) > 0),
  unit TEXT NOT NULL,
  measured REAL NOT NULL,
  predicted REAL NOT NULL,
  lower REAL NOT NULL,
  upper REAL NOT NULL,
  limit_value REAL,
  PRIMARY KEY (comparison_id, kind, position)
) STRICT, WITHOUT ROWID;
