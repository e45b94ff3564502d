#pragma once
// Numbers, units and column names as instruments and people write them.

#include <optional>
#include <string>
#include <string_view>

namespace lampload {

std::string_view trimmed(std::string_view text);

enum class CellKind { number, empty, overload, text };

struct Cell {
  CellKind kind = CellKind::empty;
  double value = 0.0;
};

/// One cell of a table, read independent of the locale. "OL", "overload", "----", NaN, infinity and magnitudes of 1e30
/// and more are what instruments write for a value beyond their range: CellKind::overload.
Cell parse_cell(std::string_view text, char decimal);

/// "[Nd - ][date ]HH:MM:SS[.fraction]" in seconds of the day plus whole days; a decimal comma is understood.
std::optional<double> parse_clock(std::string_view text);

enum class Quantity { unknown, time, voltage, current, sample_index, other };

std::string_view quantity_name(Quantity quantity);

struct Unit {
  Quantity quantity = Quantity::unknown;
  double factor = 1.0;  ///< to SI
};

/// "ms", "(mV)", "Volts", "uA", ... Empty optional: not a unit this program knows.
std::optional<Unit> parse_unit(std::string_view text);

/// A number with an optional prefix and unit, such as "20us" or "50 kHz", in SI.
std::optional<double> parse_quantity(std::string_view text);

/// What a column holds, from its name (English, German, French, Spanish, Italian) and the unit inside the name.
/// A name that says one thing and a unit that says another give Quantity::other.
Unit column_meaning(std::string_view name, std::optional<Unit> unit_row);

/// Lower case, accents folded, only letters and digits: "Sample Interval" -> "sampleinterval".
std::string plain_key(std::string_view text);

}  // namespace lampload
