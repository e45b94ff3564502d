#pragma once
// How a family is drawn: its parts from the terminals inwards, between an upper and a lower rail. Drawing itself is the
// program's; here stands only what is connected to what, and which parameters belong to each part.

#include <array>
#include <cstddef>
#include <string_view>

namespace lampload {

enum class Symbol {
  resistor,
  thermistor,
  capacitor,
  inductor,
  filament,
  bridge,      ///< rectifier; between both rails, what follows lies on its bus
  led_string,  ///< a threshold voltage
  diode,       ///< an exponential
  current_source,
  converter,
  wire,
};

enum class Placement {
  in_series,      ///< in the upper rail
  across,         ///< from the upper rail to the lower one
  with_previous,  ///< beside the part before: below it where that is across the rails, in parallel where it is in
                  ///< series
};

struct SchematicPart {
  Symbol symbol = Symbol::wire;
  Placement placement = Placement::across;
  /// Parameters of the family that are this part's, most important first; unused ones are empty. A part is drawn where
  /// one of them is not `absent`, or where it has none.
  std::array<std::string_view, 5> parameters = {};
};

/// Two lists one after the other.
template <std::size_t A, std::size_t B>
constexpr std::array<SchematicPart, A + B> joined(const std::array<SchematicPart, A>& first,
                                                  const std::array<SchematicPart, B>& second) {
  std::array<SchematicPart, A + B> all{};
  for (std::size_t i = 0; i < A; ++i) all[i] = first[i];
  for (std::size_t i = 0; i < B; ++i) all[A + i] = second[i];
  return all;
}

}  // namespace lampload
