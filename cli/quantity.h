#pragma once
// Quantities for people: engineering prefixes, digits that the uncertainty supports, names in words.

#include <string>
#include <string_view>

namespace lampload {

/// "47.3 uF", "12.1 Ohm", "1.69 A2s": `digits` significant digits, ASCII only. Units that take no prefix stay plain.
std::string quantity(double value, std::string_view unit, int digits = 4);

/// A value, its standard uncertainty and its 95 % interval under one common prefix, rounded to two digits of the
/// uncertainty.
struct QuantityWithUncertainty {
  std::string value;
  std::string standard_uncertainty;
  std::string interval_95;
};
QuantityWithUncertainty quantity(double value, double standard_uncertainty, double lower_95, double upper_95,
                                 std::string_view unit);

/// A name of the program's interfaces in words, without its unit: "input_capacitance_f" is "input capacitance".
std::string spoken(std::string_view name);

/// A sentence with such names in it, all of them in words. Keys of the channel file ("output.pwm_hz") stay as they are.
std::string spoken_sentence(std::string_view sentence);

/// "1 lamp", "3 lamps".
std::string counted(int count, std::string_view what);

}  // namespace lampload
