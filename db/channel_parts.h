#pragma once
// Parts of a channel description that stand inside other documents, read and checked as in a channel file of the newest
// version.

#include <optional>
#include <string>
#include <string_view>

#include "core/circuit/channel.h"
#include "db/json_reader.h"

namespace lampload::channel_parts {

Supply supply(const json::Object& from);
Cable cable(const json::Object& from);
/// Of "curve" and "rating_a" alone; other keys are the caller's.
Breaker breaker(const json::Object& from);
/// From the keys "supply", "cable", "output" and "limits"; other keys are the caller's. A supply that is known from
/// elsewhere takes the place of the one described, which may then be absent.
Channel described(const json::Object& from, const std::optional<Supply>& known_supply);

/// A name as channels have it.
std::string name(const json::Object& from, std::string_view key);

}  // namespace lampload::channel_parts
