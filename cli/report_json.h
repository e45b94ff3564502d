#pragma once
// The fit report as the JSON text that the library keeps, and back; and what of a report follows from the covariance.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "db/library.h"
#include "fit/fit_report.h"

namespace lampload {

std::string report_to_json(const FitReport& report);
/// Nothing where no report is stored. Throws Error{library} where the text is not what report_to_json() writes.
std::optional<FitReport> report_from_json(const std::string& text);

/// Indices of the parameters whose covariance is not zero.
std::vector<std::size_t> free_parameters(const StoredFit& fit);
/// Of their coordinates (ln of the value, or value over scale); both must be free.
double correlation_of(const StoredFit& fit, std::size_t a, std::size_t b);

/// Two parameters that the captures hardly tell apart.
struct ParameterCorrelation {
  std::string first;
  std::string second;
  double correlation = 0.0;  ///< of their coordinates (ln of the value, or value over scale)
};
inline constexpr double high_correlation = 0.9;  // in magnitude
/// Pairs above high_correlation, from the stored covariance, in the order of the table.
std::vector<ParameterCorrelation> high_correlations(const StoredFit& fit);

/// The stored report with the correlations added: what --json carries under "report"; "null" where there is none.
std::string whole_report_json(const StoredFit& fit);

}  // namespace lampload
