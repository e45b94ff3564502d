-- How a fit came about, beside what it found. Empty for fits made before there was a report.
ALTER TABLE fits ADD COLUMN report TEXT NOT NULL DEFAULT '' CHECK (report = '' OR json_valid(report));
