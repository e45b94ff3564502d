#pragma once
// The lamp at the unfavourable end of what is known of it.

#include <string>
#include <vector>

#include "core/advice/recommendation.h"

namespace lampload {

/// The central lamp first, then each identified parameter two standard uncertainties up and down with the others moved
/// as the covariance says, then each parameter that is not identified at both ends of its interval (no further than a
/// factor of ten from the central value). Values stay within the table's bounds.
std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence);

/// Names of the parameters that the captures do not identify, each with the capture that would.
std::vector<std::string> unidentified_parameters(const LampEvidence& evidence);

}  // namespace lampload
