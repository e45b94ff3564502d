-- The first schema. Every column with its unit: docs/library.md.

CREATE TABLE lamp_types (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 200),
  notes TEXT NOT NULL DEFAULT '',
  nominal_voltage_v REAL CHECK (nominal_voltage_v > 0),
  nominal_frequency_hz REAL CHECK (nominal_frequency_hz >= 0),
  rated_power_w REAL CHECK (rated_power_w > 0),
  cold_resistance_ohm REAL CHECK (cold_resistance_ohm > 0),
  label_dimmable INTEGER CHECK (label_dimmable IN (0, 1)),
  changed_utc TEXT NOT NULL,
  -- What the list shows, kept beside the name so that a list of many lamps reads one table.
  family TEXT NOT NULL DEFAULT '',
  load_law TEXT NOT NULL DEFAULT '',
  power_w REAL,
  voltage_rms_v REAL,
  captures INTEGER NOT NULL DEFAULT 0 CHECK (captures >= 0),
  fits INTEGER NOT NULL DEFAULT 0 CHECK (fits >= 0)
) STRICT;

CREATE TABLE samples (
  id INTEGER PRIMARY KEY,
  lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
  label TEXT NOT NULL CHECK (length(label) BETWEEN 1 AND 200),
  UNIQUE (lamp_type_id, label),
  UNIQUE (lamp_type_id, id)
) STRICT;

CREATE TABLE captures (
  id INTEGER PRIMARY KEY,
  lamp_type_id INTEGER NOT NULL,
  sample_id INTEGER NOT NULL,
  file TEXT NOT NULL,
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  voltage_column TEXT NOT NULL DEFAULT '',
  current_column TEXT NOT NULL DEFAULT '',
  start_time_s REAL NOT NULL,
  sample_interval_s REAL NOT NULL CHECK (sample_interval_s > 0),
  sample_count INTEGER NOT NULL CHECK (sample_count > 0),
  voltage_step_v REAL NOT NULL CHECK (voltage_step_v >= 0),
  current_step_a REAL NOT NULL CHECK (current_step_a >= 0),
  codec TEXT NOT NULL CHECK (codec IN ('shuffle-zstd')),
  voltage_v BLOB NOT NULL,
  current_a BLOB NOT NULL,
  clipped BLOB,
  notes TEXT NOT NULL CHECK (json_valid(notes)),
  options TEXT NOT NULL CHECK (json_valid(options)),
  figures TEXT NOT NULL CHECK (json_valid(figures)),
  person TEXT NOT NULL,
  time_utc TEXT NOT NULL,
  instrument TEXT NOT NULL,
  program_version TEXT NOT NULL,
  UNIQUE (lamp_type_id, sha256, voltage_column, current_column),
  FOREIGN KEY (lamp_type_id, sample_id) REFERENCES samples (lamp_type_id, id) ON DELETE CASCADE
) STRICT;
CREATE INDEX captures_by_sample ON captures (lamp_type_id, sample_id);

CREATE TABLE fits (
  id INTEGER PRIMARY KEY,
  lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
  accepted INTEGER NOT NULL CHECK (accepted IN (0, 1)),
  verdict TEXT NOT NULL,
  family TEXT NOT NULL,
  load_law TEXT NOT NULL,
  covariance BLOB NOT NULL CHECK (length(covariance) % 8 = 0),
  residual_rms_a REAL NOT NULL CHECK (residual_rms_a >= 0),
  normalised_residual REAL NOT NULL CHECK (normalised_residual >= 0),
  next_capture TEXT NOT NULL,
  next_narrows TEXT NOT NULL,
  next_sentence TEXT NOT NULL,
  seed INTEGER NOT NULL,
  person TEXT NOT NULL,
  time_utc TEXT NOT NULL,
  instrument TEXT NOT NULL,
  program_version TEXT NOT NULL
) STRICT;
CREATE INDEX fits_by_lamp_type ON fits (lamp_type_id);

CREATE TABLE fit_estimates (
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  kind TEXT NOT NULL CHECK (kind IN ('parameter', 'derived')),
  position INTEGER NOT NULL CHECK (position >= 0),
  name TEXT NOT NULL CHECK (length(name) > 0),
  unit TEXT NOT NULL,
  value REAL NOT NULL,
  standard_uncertainty REAL NOT NULL CHECK (standard_uncertainty >= 0),
  lower_95 REAL NOT NULL,
  upper_95 REAL NOT NULL CHECK (upper_95 >= lower_95),
  identified INTEGER NOT NULL CHECK (identified IN (0, 1)),
  remark TEXT NOT NULL,
  PRIMARY KEY (fit_id, kind, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE fit_rivals (
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  position INTEGER NOT NULL CHECK (position >= 0),
  family TEXT NOT NULL,
  load_law TEXT NOT NULL,
  distance REAL NOT NULL,
  PRIMARY KEY (fit_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE fit_captures (
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  capture_id INTEGER NOT NULL REFERENCES captures (id) ON DELETE CASCADE,
  PRIMARY KEY (fit_id, capture_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX fit_captures_by_capture ON fit_captures (capture_id);

CREATE TABLE channels (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 200),
  description TEXT NOT NULL CHECK (json_valid(description)),
  changed_utc TEXT NOT NULL
) STRICT;
