#pragma once
// Units as a name or a preamble spells them.

#include <optional>
#include <string>
#include <string_view>

#include "core/capture/quantity.h"

namespace lampload {

struct SpelledUnit {
  Unit unit;
  bool of_many = false;  ///< said to be of an rms value, a peak and the like
};

/// What an entry is in: minutes and hours count only where nothing but a unit can stand.
enum class UnitPlace { brackets, last_word };

std::optional<SpelledUnit> read_unit(std::string_view text, UnitPlace place);

/// Blanks, brackets and dashes of typography as ASCII, invisible characters left out, micro signs mended that were
/// encoded twice.
std::string plain_spelling(std::string_view text);

}  // namespace lampload
