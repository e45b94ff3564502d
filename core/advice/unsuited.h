#pragma once
// Lamps that cannot hang on a channel at all.

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

}  // namespace lampload
