-- What is long in a fit is kept packed (db/packing.h, whose functions these are), and what the list is looked through by
-- is indexed. Rows of earlier versions are packed here.
CREATE TABLE fits_packed (
  id INTEGER PRIMARY KEY,
  lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
  accepted INTEGER NOT NULL CHECK (accepted IN (0, 1)),
  verdict TEXT NOT NULL,
  family TEXT NOT NULL,
  load_law TEXT NOT NULL,
  residual_rms_a REAL NOT NULL CHECK (residual_rms_a >= 0),
  normalised_residual REAL NOT NULL CHECK (normalised_residual >= 0),
  next_capture TEXT NOT NULL,
  next_narrows TEXT NOT NULL,
  next_sentence TEXT NOT NULL,
  seed INTEGER NOT NULL,
  person TEXT NOT NULL,
  time_utc TEXT NOT NULL,
  instrument TEXT NOT NULL,
  program_version TEXT NOT NULL,
  type_fit_id INTEGER REFERENCES fits (id) ON DELETE CASCADE,
  sample TEXT NOT NULL DEFAULT '' CHECK ((sample = '') = (type_fit_id IS NULL)),
  spread_source TEXT NOT NULL DEFAULT '' CHECK (spread_source IN ('', 'default', 'mixture', 'measured')),
  covariance BLOB NOT NULL,
  report BLOB NOT NULL DEFAULT x''
) STRICT;
INSERT INTO fits_packed
  SELECT id, lamp_type_id, accepted, verdict, family, load_law, residual_rms_a, normalised_residual, next_capture,
         next_narrows, next_sentence, seed, person, time_utc, instrument, program_version, type_fit_id, sample,
         spread_source, packed_bytes_1(covariance), packed_report_1(report)
  FROM fits;
DROP TABLE fits;
ALTER TABLE fits_packed RENAME TO fits;
CREATE INDEX fits_by_lamp_type ON fits (lamp_type_id);
CREATE INDEX fits_by_type_fit ON fits (type_fit_id) WHERE type_fit_id IS NOT NULL;

CREATE TABLE screening_packed (
  lamp_type_id INTEGER PRIMARY KEY REFERENCES lamp_types (id) ON DELETE CASCADE,
  fit_id INTEGER NOT NULL REFERENCES fits (id) ON DELETE CASCADE,
  voltage_v REAL NOT NULL CHECK (voltage_v > 0),
  frequency_hz REAL NOT NULL CHECK (frequency_hz > 0),
  figures BLOB NOT NULL
) STRICT;
INSERT INTO screening_packed
  SELECT lamp_type_id, fit_id, voltage_v, frequency_hz, packed_screening_1(figures) FROM screening;
DROP TABLE screening;
ALTER TABLE screening_packed RENAME TO screening;
CREATE INDEX screening_by_fit ON screening (fit_id);

CREATE INDEX lamp_types_shown ON lamp_types (name) WHERE superseded_by IS NULL;
CREATE INDEX lamp_types_noted ON lamp_types (id) WHERE notes <> '';
CREATE INDEX lamp_types_by_power ON lamp_types (coalesce(power_w, rated_power_w));
CREATE INDEX lamp_types_by_voltage ON lamp_types (coalesce(voltage_rms_v, nominal_voltage_v));
