#pragma once
// Finding lamps of a library by what their list shows.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "db/library.h"

namespace lampload {

/// All that is given has to hold.
struct LampSearch {
  std::string words =
      {};  ///< each stands in the name or the notes, without regard to ASCII case; 100 of 1,000 bytes at most
  std::string family = {};  ///< empty: any
  std::string load_law = {};
  std::optional<double> least_power_w = {};
  std::optional<double> most_power_w = {};
  std::optional<double> voltage_v = {};  ///< measured, else nominal, within a tenth
  std::string base = {};                 ///< without regard to ASCII case
  std::string technology = {};
  std::size_t most = 0;  ///< how many are wanted; 0: all
};

struct FoundLamps {
  std::vector<LampSummary> lamps;    ///< by name
  std::size_t all = 0;               ///< that were found, wanted or not
  std::vector<std::string> nearest;  ///< names near to the words, where nothing was found
};

}  // namespace lampload
