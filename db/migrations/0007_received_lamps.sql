-- Lamps that came in lamp model files, and whose signatures on them are accepted.
CREATE TABLE received_lamps (
  lamp_type_id INTEGER PRIMARY KEY REFERENCES lamp_types (id) ON DELETE CASCADE,
  fit_id INTEGER REFERENCES fits (id) ON DELETE SET NULL,
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
  digest TEXT NOT NULL CHECK (length(digest) = 64),
  content_digest TEXT NOT NULL CHECK (length(content_digest) = 64),
  signer TEXT NOT NULL CHECK (length(signer) IN (0, 64)),
  licence TEXT NOT NULL,
  contributor TEXT NOT NULL,
  record BLOB NOT NULL,
  record_bytes INTEGER NOT NULL CHECK (record_bytes > 0),
  file TEXT NOT NULL,
  person TEXT NOT NULL,
  time_utc TEXT NOT NULL,
  program_version TEXT NOT NULL
) STRICT;
CREATE INDEX received_lamps_by_content ON received_lamps (content_digest);
CREATE INDEX received_lamps_by_fit ON received_lamps (fit_id);

CREATE TABLE signer_keys (
  public_key TEXT PRIMARY KEY CHECK (length(public_key) = 64),
  name TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 200),
  accepted INTEGER NOT NULL CHECK (accepted IN (0, 1)),
  reason TEXT NOT NULL,
  changed_utc TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Of a capture: it came with such a file. Of a lamp type: what its newest fit rests on came so.
ALTER TABLE captures ADD COLUMN received INTEGER NOT NULL DEFAULT 0 CHECK (received IN (0, 1));
ALTER TABLE lamp_types ADD COLUMN received INTEGER NOT NULL DEFAULT 0 CHECK (received IN (0, 1));
-- A lamp that another took the place of stays, under a name of its own.
ALTER TABLE lamp_types ADD COLUMN superseded_by INTEGER REFERENCES lamp_types (id) ON DELETE SET NULL;
ALTER TABLE lamp_types ADD COLUMN superseded_utc TEXT NOT NULL DEFAULT '';
CREATE INDEX lamp_types_by_successor ON lamp_types (superseded_by) WHERE superseded_by IS NOT NULL;
