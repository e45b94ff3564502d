-- What else is printed on a lamp: its cap by IEC 60061, and how it makes its light.
ALTER TABLE lamp_types ADD COLUMN base TEXT CHECK (length(base) BETWEEN 1 AND 30);
ALTER TABLE lamp_types ADD COLUMN technology TEXT CHECK (length(technology) BETWEEN 1 AND 30);
