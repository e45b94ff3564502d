-- What the newest accepted fit of a lamp type means to a channel, in figures: many lamps are looked through by them.
CREATE TABLE screening (
  lamp_type_id INTEGER PRIMARY KEY REFERENCES lamp_types (id) ON DELETE CASCADE,
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  voltage_v REAL NOT NULL CHECK (voltage_v > 0),
  frequency_hz REAL NOT NULL CHECK (frequency_hz > 0),
  figures BLOB NOT NULL CHECK (length(figures) % 8 = 0)
) STRICT;
CREATE INDEX screening_by_fit ON screening (fit_id);
