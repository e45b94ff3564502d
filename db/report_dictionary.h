#pragma once
// What the reports of fits have in common, without which the packed ones cannot be read.

#include <string_view>

namespace lampload::packing {

/// Never changed once released: another one would get another name, and its frames another column.
std::string_view report_dictionary();

}  // namespace lampload::packing
