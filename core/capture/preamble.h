#pragma once
// What stands above (or beside) the rows of numbers: names, units, and keys with values such as the sample interval.

#include <cstddef>
#include <string>
#include <vector>

#include "core/capture/layout.h"

namespace lampload {

/// Fills names, meanings and the sample interval of a layout whose numbers begin at head[first].
void read_header(const std::vector<std::string>& head, std::size_t first, Layout& layout);

}  // namespace lampload
