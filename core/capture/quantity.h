#pragma once
// Numbers, clocks and words as instruments and people write them.

#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

std::string_view trimmed(std::string_view text);
/// A cell without outer blanks and the quotes around it.
std::string_view unquoted(std::string_view cell);

enum class Quantity { unknown, time, voltage, current, sample_index, other };

std::string_view quantity_name(Quantity quantity);

enum class CellKind { number, empty, overload, text };

struct Cell {
  CellKind kind = CellKind::empty;
  double value = 0.0;
};

/// One cell of a table, read independent of the locale. "OL", "overload", "----", NaN, infinity and magnitudes of 1e30
/// and more are what instruments write for a value beyond their range: CellKind::overload.
Cell parse_cell(std::string_view text, char decimal);

/// A cell that may carry its unit: "325 V", "12.5ms", "-0,3 mA". value is in SI then, and `quantity` is what the unit
/// says; Quantity::unknown: the cell has no unit. A minus sign of typography (U+2212) is understood.
struct MeasuredCell {
  CellKind kind = CellKind::empty;
  double value = 0.0;
  Quantity quantity = Quantity::unknown;
  bool has_unit = false;
};
MeasuredCell parse_measured(std::string_view text, char decimal);

/// "[Nd - ][date ]HH:MM:SS[.fraction][ AM| pm][Z| UTC|+01:00]" in seconds of the day plus N whole days (neither a date
/// nor a zone counts); a decimal comma is understood.
std::optional<double> parse_clock(std::string_view text);

struct Unit {
  Quantity quantity = Quantity::unknown;
  double factor = 1.0;  ///< to SI
};

/// Lower case ASCII with the accented letters of the five languages folded; micro signs become 'u'.
std::string folded(std::string_view text);

/// Is it one of these?
template <std::size_t n>
bool is_among(std::string_view word, const std::array<std::string_view, n>& list) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

/// Runs of letters and digits of the folded text.
std::vector<std::string> words_of(std::string_view text);

/// Lower case, accents folded, only letters and digits: "Sample Interval" -> "sampleinterval".
std::string plain_key(std::string_view text);

}  // namespace lampload
