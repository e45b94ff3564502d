#include "core/standards/harmonic_limits.h"

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

constexpr std::string_view two = "two sources";
constexpr std::string_view one = "one source";
constexpr std::string_view memory = "from memory";

constexpr std::string_view a = "class_a";
constexpr std::string_view over_25 = "class_c_over_25_w";
constexpr std::string_view per_watt = "class_c_per_watt";
constexpr std::string_view waveform = "class_c_waveform";
constexpr std::string_view total = "class_c_total";

constexpr std::array<HarmonicLimit, 32> table = {{
    {a, 2, 2, 1.08, false, "A", two},
    {a, 3, 3, 2.30, false, "A", two},
    {a, 4, 4, 0.43, false, "A", two},
    {a, 5, 5, 1.14, false, "A", two},
    {a, 6, 6, 0.30, false, "A", two},
    {a, 7, 7, 0.77, false, "A", two},
    {a, 8, 40, 0.23, true, "A", two},
    {a, 9, 9, 0.40, false, "A", two},
    {a, 11, 11, 0.33, false, "A", two},
    {a, 13, 13, 0.21, false, "A", two},
    {a, 15, 39, 0.15, true, "A", two},
    {over_25, 2, 2, 2.0, false, "% of I1", one},
    {over_25, 3, 3, 30.0, false, "% of I1", two},  // times the power factor; at most 27 (edition 5.1, one source)
    {over_25, 5, 5, 10.0, false, "% of I1", one},
    {over_25, 7, 7, 7.0, false, "% of I1", one},
    {over_25, 9, 9, 5.0, false, "% of I1", one},
    {over_25, 11, 39, 3.0, false, "% of I1", one},
    {per_watt, 3, 3, 3.4, false, "mA/W", one},
    {per_watt, 5, 5, 1.9, false, "mA/W", one},
    {per_watt, 7, 7, 1.0, false, "mA/W", one},
    {per_watt, 9, 9, 0.5, false, "mA/W", one},
    {per_watt, 11, 11, 0.35, false, "mA/W", one},
    {per_watt, 13, 39, 3.85 / 13.0, true, "mA/W", one},
    {waveform, 3, 3, 86.0, false, "% of I1", memory},
    {waveform, 5, 5, 61.0, false, "% of I1", memory},
    {total, 2, 2, 5.0, false, "% of I1", memory},
    {total, 3, 3, 35.0, false, "% of I1", memory},
    {total, 5, 5, 25.0, false, "% of I1", memory},
    {total, 7, 7, 30.0, false, "% of I1", memory},
    {total, 9, 9, 20.0, false, "% of I1", memory},
    {total, 11, 11, 20.0, false, "% of I1", memory},
    {total, 0, 0, 70.0, false, "% of I1", memory},  // all orders from 2 on together
}};

constexpr double least_limited_w = 5.0;  // edition 5; two test houses agree
constexpr double small_w = 25.0;
constexpr double flowing_share = 0.05;      // of the peak: what counts as current (IEC 61000-3-2, from memory)
constexpr double start_at_most_deg = 60.0;  // all three from one quotation of the clause
constexpr double peak_at_most_deg = 65.0;
constexpr double stop_at_least_deg = 90.0;
constexpr double third_at_most_percent = 27.0;

double distortion_percent(const HarmonicCurrents& currents) {
  double square = 0.0;
  for (std::size_t n = 2; n < currents.rms_a.size(); ++n) square += currents.rms_a[n] * currents.rms_a[n];
  return 100.0 * std::sqrt(square) / currents.rms_a[1];
}

double in_unit(const HarmonicCurrents& currents, int order, std::string_view unit) {
  if (order == 0) return distortion_percent(currents);
  const double current_a = currents.rms_a.at(static_cast<std::size_t>(order));
  if (unit == "A") return current_a;
  if (unit == "mA/W") return 1e3 * current_a / currents.power_w;
  return 100.0 * current_a / currents.rms_a[1];
}

double limit_of(const HarmonicLimit& row, const HarmonicCurrents& currents, int order) {
  if (row.rule == over_25 && order == 3) return std::min(row.limit * currents.power_factor, third_at_most_percent);
  return row.falls ? row.limit * row.first_order / order : row.limit;
}

HarmonicUse use_of(std::string_view rule, std::string in_words, const HarmonicCurrents& currents) {
  HarmonicUse use{.rule = std::move(in_words)};
  for (const HarmonicLimit& row : table) {
    if (row.rule != rule) continue;
    if (use.known != memory && !(use.known == one && row.known == two)) use.known = row.known;
    for (int order = row.first_order; order <= row.last_order; order += 2) {
      const double share = in_unit(currents, order, row.unit) / limit_of(row, currents, order);
      if (share <= use.share) continue;
      use.share = share;
      use.order = order;
    }
  }
  return use;
}

}  // namespace

std::span<const HarmonicLimit> harmonic_limits() { return table; }

void set_waveform_angles(std::span<const double> half_cycle, HarmonicCurrents& currents) {
  std::size_t peak = 0;
  for (std::size_t k = 1; k < half_cycle.size(); ++k) {
    if (std::abs(half_cycle[k]) > std::abs(half_cycle[peak])) peak = k;
  }
  const auto flows = [&](std::size_t k) {
    return std::abs(half_cycle[k]) > flowing_share * std::abs(half_cycle[peak]);
  };
  std::size_t first = 0;
  while (first < peak && !flows(first)) ++first;
  std::size_t last = half_cycle.size() - 1;
  while (last > peak && !flows(last)) --last;
  const auto degrees = [&](std::size_t k) {
    return 180.0 * static_cast<double>(k) / static_cast<double>(half_cycle.size());
  };
  currents.start_deg = degrees(first);
  currents.peak_deg = degrees(peak);
  currents.stop_deg = degrees(last);
}

HarmonicUse class_a_use(const HarmonicCurrents& currents) { return use_of(a, "class A", currents); }

HarmonicUse class_c_per_watt_use(const HarmonicCurrents& currents) {
  return use_of(per_watt, "class C, 5 to 25 W, per watt", currents);
}

HarmonicUse class_c_waveform_use(const HarmonicCurrents& currents) {
  HarmonicUse use = use_of(waveform, "class C, 5 to 25 W, by the waveform", currents);
  for (const double share : {currents.start_deg / start_at_most_deg, currents.peak_deg / peak_at_most_deg,
                             stop_at_least_deg / std::max(currents.stop_deg, 1.0)}) {
    // an angle has no scale on which half of it is half as bad: it counts where it is beyond
    if (share <= 1.0 || share <= use.share) continue;
    use.share = share;
    use.order = 0;
  }
  return use;
}

HarmonicUse class_c_total_use(const HarmonicCurrents& currents) {
  return use_of(total, "class C, 5 to 25 W, by total distortion", currents);
}

HarmonicUse class_c_use(const HarmonicCurrents& currents) {
  if (currents.power_w < least_limited_w) {
    return {.rule = "class C, no limit below 5 W (edition 5)", .known = std::string(two)};
  }
  if (currents.power_w > small_w) return use_of(over_25, "class C, over 25 W", currents);
  HarmonicUse best = class_c_per_watt_use(currents);
  for (HarmonicUse other : {class_c_waveform_use(currents), class_c_total_use(currents)}) {
    if (other.share < best.share) best = std::move(other);
  }
  return best;
}

std::optional<double> class_c_limit_a(const HarmonicCurrents& currents, int order) {
  if (currents.power_w < least_limited_w) return std::nullopt;
  const std::string_view rule = currents.power_w > small_w ? over_25 : per_watt;
  for (const HarmonicLimit& row : table) {
    if (row.rule != rule || order < row.first_order || order > row.last_order) continue;
    if ((order - row.first_order) % 2 != 0) continue;
    const double limit = limit_of(row, currents, order);
    return row.unit == "mA/W" ? 1e-3 * limit * currents.power_w : 0.01 * limit * currents.rms_a[1];
  }
  return std::nullopt;
}

}  // namespace lampload
