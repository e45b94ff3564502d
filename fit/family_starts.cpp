// What each family knows of its own start values, behind its index in the list.

#include <span>
#include <string_view>
#include <vector>

#include "core/lamp/families.h"
#include "fit/lamp_residuals.h"

namespace lampload {
namespace {

/// Calls f.template operator()<Family>() for the family at an index of the list.
template <class F>
void with_family(std::size_t family, F&& f) {
  std::size_t index = 0;
  for_each_family([&]<class Family>() {
    if (index++ == family) f.template operator()<Family>();
  });
}

}  // namespace

std::vector<UsualValue> family_usual(std::size_t family, const StartHints& hints) {
  std::vector<UsualValue> usual;
  with_family(family, [&]<class Family>() {
    if constexpr (requires { Family::usual(hints); }) usual = Family::usual(hints);
  });
  return usual;
}

bool family_shows_itself(std::size_t family, const StartHints& hints) {
  bool shows = true;
  with_family(family, [&]<class Family>() {
    if constexpr (requires { Family::shows_itself(hints); }) shows = Family::shows_itself(hints);
  });
  return shows;
}

std::vector<std::vector<double>> family_part_starts(std::size_t family, std::span<const double> lamp,
                                                    std::string_view part) {
  std::vector<std::vector<double>> starts;
  with_family(family, [&]<class Family>() {
    if constexpr (requires { Family::part_starts(lamp, part); }) starts = Family::part_starts(lamp, part);
  });
  return starts;
}

std::vector<std::vector<double>> family_starts(std::size_t family, const StartHints& hints) {
  std::vector<std::vector<double>> starts;
  with_family(family, [&]<class Family>() { starts = Family::starts(hints); });
  return starts;
}

}  // namespace lampload
