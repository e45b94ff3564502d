#pragma once
// What is printed on a lamp, or seen on it, that no capture tells: its cap and how it makes its light.

#include <array>
#include <string>
#include <string_view>

namespace lampload {

/// Of a lamp without a cap: on wires or terminals.
inline constexpr std::string_view no_base = "none";

/// Whether a text has the form of the designations of IEC 60061-4: one digit where there are several caps (2G11),
/// capital letters for the type, its main dimension in mm, small letters for the contacts, and further marks behind
/// '-', '/' and 'x', such as E27, GU10, B22d-3, G24q-3, R7s, B15d/19. `no_base` will do too. Returns what is wrong,
/// with how it may have been meant; empty: nothing. No list of caps is held against it, since new ones keep coming.
std::string fault_of_base(std::string_view text);

/// How a lamp makes its light, or what else it is. Lamp model files of version 1.1 know these.
inline constexpr std::array<std::string_view, 9> technologies = {
    "incandescent", "halogen", "led", "compact_fluorescent", "fluorescent", "discharge", "motor", "heater", "other"};

/// What is wrong where a text is none of them; empty: nothing.
std::string fault_of_technology(std::string_view text);

/// All of them, comma-separated.
std::string technologies_in_words();

}  // namespace lampload
