#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/advice/constraint.h"

namespace lampload {
namespace {

constexpr double wear_exponent = 2.0;  // operations go with the current to minus this; common practice, no source

}  // namespace

// Contacts bounce: they touch, open and touch again within some milliseconds, wherever the supply then stands. The
// simulation makes twice, and a relay that aims at the zero crossing may make for good anywhere within its bounce.
std::optional<Constraint> contact_make(const Channel& channel, Mode /*mode*/, Missing& missing) {
  const Output& output = channel.output;
  if (output.switch_kind != SwitchKind::relay) return std::nullopt;
  if (!output.contact_make_a) {
    missing.emplace_back("contact_make: output.contact_make_a");
    return std::nullopt;
  }
  if (!output.contact_bounce_s) missing.emplace_back("contact_make: output.contact_bounce_s (bounce)");
  double limit_a = *output.contact_make_a;
  std::string source = "channel rating, output.contact_make_a";
  if (output.contact_operations && channel.limits.operations) {
    const double share = std::pow(*output.contact_operations / *channel.limits.operations, 1.0 / wear_exponent);
    limit_a *= std::min(1.0, share);
    if (share < 1.0) {
      source += fmt::format(
          ", lowered for {:g} operations instead of {:g} by the square of the current (common "
          "practice, no source)",
          *channel.limits.operations, *output.contact_operations);
    }
  } else {
    missing.emplace_back("contact_make: output.contact_operations and limits.operations (electrical life)");
  }
  return Constraint{.name = "contact_make",
                    .quantity = "current that the contacts make",
                    .unit = "A",
                    .source = std::move(source),
                    .limit = limit_a,
                    .of_turn_on = [](const TurnOnFigures& figures) { return figures.peak_a; }};
}

}  // namespace lampload
