#pragma once
// The keys of a plan file, in the order of docs/formats/plan.md.

#include <array>
#include <string_view>

namespace lampload::plan_keys {

inline constexpr std::string_view format = "lampload-plan";
inline constexpr std::string_view format_version = "1.0";

inline constexpr std::array<std::string_view, 6> top = {"format", "format_version", "name", "boards", "lamps", "rooms"};
inline constexpr std::array<std::string_view, 3> board = {"name", "supply", "breakers"};
inline constexpr std::array<std::string_view, 4> breaker = {"name", "curve", "rating_a", "stagger_s"};
inline constexpr std::array<std::string_view, 5> lamp = {"name", "family", "load_law", "parameters", "label_dimmable"};
inline constexpr std::array<std::string_view, 2> room = {"name", "channels"};
inline constexpr std::array<std::string_view, 9> channel = {
    "name", "library_channel", "channel_file", "description", "cable", "breaker", "mode", "starts_with", "lamps"};
inline constexpr std::array<std::string_view, 4> description = {"supply", "cable", "output", "limits"};
inline constexpr std::array<std::string_view, 2> load = {"lamp", "count"};

/// In the order of the enumerators of Mode.
inline constexpr std::array<std::string_view, 5> modes = {"leading_edge", "trailing_edge", "on_off", "dc_pwm",
                                                          "dc_constant_current"};

inline constexpr double longest_stagger_s = 60.0;
inline constexpr double most_lamps = 10'000.0;

}  // namespace lampload::plan_keys
