#pragma once
// What is long in a fit, as zstd frames with their checksums: its report, its estimates, its covariance, and the
// figures that many lamps are looked through by. An empty array or text is an empty frame.

#include <SQLiteCpp/SQLiteCpp.h>

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "db/estimates_json.h"

namespace lampload::packing {

/// With the dictionary db/dictionaries/fit_report_1.txt, as `zstd -D` uses it.
std::string packed_report(std::string_view text);
/// Throws Error{library} where the frame is damaged.
std::string report_of(std::string_view frame);

/// Their JSON text, with the dictionary db/dictionaries/fit_estimates_1.txt.
std::string packed_estimates(const FitEstimates& estimates);
FitEstimates estimates_of(std::string_view frame);

/// Bit for bit: plain little-endian float64 in the frame.
std::string packed_covariance(std::span<const double> values);
std::vector<double> covariance_of(std::string_view frame);

/// Rounded to 16 binary digits (8 parts in a million), as float32 in little-endian order, the bytes sorted by place as
/// in waveform_blob.h. Throws Error{input_refused} where a value is not finite.
std::string packed_screening(std::span<const double> values);
std::vector<double> screening_of(std::string_view frame);

/// Adds the functions that migrations pack old rows with: packed_report_1, packed_bytes_1 (of a plain float64 array),
/// packed_screening_1, and packed_estimates_1 over all rows of a fit in the former table of estimates (kind, position,
/// name, unit, value, standard uncertainty, lower and upper end, identified, remark). A migration is never edited, so
/// neither is what they do.
void add_functions(SQLite::Database& db);

}  // namespace lampload::packing
