#pragma once
// The keys of a JSON object, in the order they are printed.

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace lampload::test {

using Keys = std::vector<std::string>;

inline Keys keys(const nlohmann::ordered_json& object) {
  Keys names;
  for (const auto& item : object.items()) names.push_back(item.key());
  return names;
}

}  // namespace lampload::test
