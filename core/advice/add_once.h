#pragma once

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

namespace lampload {

/// A sentence that is in the list already is not said again.
inline void add_once(std::vector<std::string>& list, std::string entry) {
  if (std::find(list.begin(), list.end(), entry) == list.end()) list.push_back(std::move(entry));
}

}  // namespace lampload
