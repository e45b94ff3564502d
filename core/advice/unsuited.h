#pragma once
// Lamps that cannot hang on a channel at all, or not in a mode that cuts.

#include <optional>
#include <string>

#include "core/advice/recommendation.h"

namespace lampload {

/// Why a lamp cannot hang on a channel, and what it would need.
struct Unsuited {
  std::string sentence;
  std::string remedy;
};

/// Judged by what feeds the lamp's family and by what it was measured on; empty where nothing speaks against it.
std::optional<Unsuited> unsuited(const LampEvidence& evidence, const Channel& channel);

/// Why a lamp is not dimmed by phase cut, by what its family says of itself (one_port.h); empty where it may be.
std::optional<std::string> unsuited_to_cuts(const LampEvidence& evidence);
inline constexpr const char* unsuited_to_cuts_source = "common practice, no source; docs/models has the reason";

}  // namespace lampload
