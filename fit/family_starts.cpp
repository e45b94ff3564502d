// What each family knows of its own start values, behind its index in the list.

#include <span>
#include <string_view>
#include <vector>

#include "core/lamp/families.h"
#include "fit/lamp_residuals.h"

namespace lampload {

std::vector<UsualValue> family_usual(std::size_t family, const StartHints& hints) {
  std::vector<UsualValue> usual;
  std::size_t index = 0;
  for_each_family([&]<class Family>() {
    if constexpr (requires { Family::usual(hints); }) {
      if (index == family) usual = Family::usual(hints);
    }
    ++index;
  });
  return usual;
}

bool family_shows_itself(std::size_t family, const StartHints& hints) {
  bool shows = true;
  std::size_t index = 0;
  for_each_family([&]<class Family>() {
    if constexpr (requires { Family::shows_itself(hints); }) {
      if (index == family) shows = Family::shows_itself(hints);
    }
    ++index;
  });
  return shows;
}

std::vector<std::vector<double>> family_part_starts(std::size_t family, std::span<const double> lamp,
                                                    std::string_view part) {
  std::vector<std::vector<double>> starts;
  std::size_t index = 0;
  for_each_family([&]<class Family>() {
    if constexpr (requires { Family::part_starts(lamp, part); }) {
      if (index == family) starts = Family::part_starts(lamp, part);
    }
    ++index;
  });
  return starts;
}

std::vector<std::vector<double>> family_starts(std::size_t family, const StartHints& hints) {
  std::vector<std::vector<double>> starts;
  std::size_t index = 0;
  for_each_family([&]<class Family>() {
    if (index++ == family) starts = Family::starts(hints);
  });
  return starts;
}

}  // namespace lampload
