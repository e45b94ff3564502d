-- Steady points of a lamp at DC, from a voltage-current table.
CREATE TABLE dc_points (
  lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
  position INTEGER NOT NULL CHECK (position >= 0),
  voltage_v REAL NOT NULL,
  current_a REAL NOT NULL,
  uncertainty_a REAL CHECK (uncertainty_a > 0),
  PRIMARY KEY (lamp_type_id, position)
) STRICT, WITHOUT ROWID;
