#pragma once
// What a column holds, from its name.

#include <optional>
#include <string>
#include <string_view>

#include "core/capture/quantity.h"

namespace lampload {

/// What a column holds, from its name (English, German, French, Spanish, Italian) and the unit inside the name.
/// A name that says one thing and a unit that says another give Quantity::other.
Unit column_meaning(std::string_view name, std::optional<Unit> unit_row);

/// The unit inside a column's name; empty optional: none, or none that is understood.
std::optional<Unit> unit_in_name(std::string_view name);

/// What stands in a column's name where a unit or a factor would, and is not understood; empty: nothing does.
std::string unread_unit(std::string_view name);

}  // namespace lampload
