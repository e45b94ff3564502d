#pragma once
// What packed parts of fits have in common, without which they cannot be read: the files of db/dictionaries.

#include <string_view>

namespace lampload::packing {

/// Never changed once released: another one would get another name, and its frames another column.
std::string_view report_dictionary();
std::string_view estimates_dictionary();

}  // namespace lampload::packing
