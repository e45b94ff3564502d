#pragma once
// Units, and figures with units, as a name or a preamble spells them.

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

/// "ms", "(mV)", "Volts", "milliamperes", "mA, DC", "in mA", ... Empty optional: not a unit this program knows.
std::optional<Unit> parse_unit(std::string_view text);

/// What a preamble states of the clock. decimal: of the table's numbers. beside: the next cell, which may hold the
/// unit. Empty optional: no number, a unit of something else, or a number that may be meant in two ways.
std::optional<double> parse_seconds(std::string_view text, std::string_view beside, char decimal,
                                    const std::optional<Unit>& usual = {});
/// Likewise, in samples per second.
std::optional<double> parse_rate(std::string_view text, std::string_view beside, char decimal);

/// Blanks, brackets and dashes of typography as ASCII, invisible characters left out, micro signs mended that were
/// encoded twice.
std::string plain_spelling(std::string_view text);

}  // namespace lampload
