-- The estimates of a fit are kept packed beside its covariance (db/packing.h): as rows they took a quarter of a library.
ALTER TABLE fits ADD COLUMN estimates BLOB NOT NULL DEFAULT x'';
UPDATE fits SET estimates = (
  SELECT packed_estimates_1(kind, position, name, unit, value, standard_uncertainty, lower_95, upper_95, identified, remark)
  FROM fit_estimates WHERE fit_id = fits.id);
DROP TABLE fit_estimates;
