#pragma once
// What a lamp model file says held against what its own figures give: told or refused.

#include <string>
#include <vector>

#include "cli/sharing_output.h"

namespace lampload {

/// Relative differences: told from the first on, refused from the second (own choice, no source).
struct Tolerance {
  double told;
  double refused;
};

/// Of one lamp; `place` is that of its record in the file, such as lamps[0].
class Differences {
 public:
  Differences(const SharedLamp& lamp, std::string place) : lamp_(lamp), place_(std::move(place)) {}

  /// `key`: below the record; `what`: for people. Differences below `floor` do not matter. Throws
  /// Error{input_refused}.
  void compare(const std::string& key, const std::string& what, double stated, double found, const std::string& unit,
               Tolerance tolerance, double floor);
  /// The same for a value that must lie between two, which `share` (above 1) widens on both sides.
  void within(const std::string& key, const std::string& what, double stated, double least, double most,
              const std::string& unit, double share, double floor);
  /// Throws Error{input_refused}: the file and its own figures say different things.
  [[noreturn]] void refuse(const std::string& key, const std::string& what, const std::string& stated,
                           const std::string& found) const;
  void tell(const std::string& what, double stated, double found, const std::string& unit) {
    list_.push_back({lamp_.lamp.name, what, stated, found, unit});
  }
  [[nodiscard]] const std::vector<Difference>& list() const { return list_; }

 private:
  const SharedLamp& lamp_;
  std::string place_;
  std::vector<Difference> list_;
};

}  // namespace lampload
