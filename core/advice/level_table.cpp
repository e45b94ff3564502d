#include "core/advice/level_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "core/error.h"

namespace lampload {
namespace {

constexpr int most_levels = 65535;
constexpr std::int64_t most_count = 4294967295;

/// CIE 15 and ISO/CIE 11664-4: L* = 116 f(Y) - 16, f(Y) = Y^(1/3) above (24/116)^3, 841/108 Y + 16/116 below.
double luminance_of_lightness(double lightness) {
  const double f = (lightness + 16.0) / 116.0;
  return f > 24.0 / 116.0 ? f * f * f : (f - 16.0 / 116.0) * 108.0 / 841.0;
}

/// The rising sweep as a share of what the upper limit gives, made to never fall: a monotone cubic through its points
/// (Fritsch and Carlson 1980).
class RisingShare {
 public:
  RisingShare(const DimmingCurve& curve, const DimmingRange& range, bool of_light)
      : least_setting_(range.min_setting), most_setting_(range.max_setting) {
    double highest = 0.0;
    for (const DimmingPoint& point : curve.rising) {
      highest = std::max(highest, of_light ? point.light.value_or(0.0) : point.power_w);
      setting_.push_back(point.setting);
      share_.push_back(highest);
    }
    make_slopes();
    whole_ = value(most_setting_);
  }

  /// At a setting between the limits.
  [[nodiscard]] double at(double setting) const { return whole_ > 0.0 ? value(setting) / whole_ : 1.0; }
  [[nodiscard]] double least() const { return at(least_setting_); }

  /// Least setting between the limits that gives the share.
  [[nodiscard]] double setting_for(double share) const {
    double low = least_setting_;
    double high = most_setting_;
    if (share <= at(low)) return low;
    for (int i = 0; i < 60; ++i) {
      const double middle = 0.5 * (low + high);
      (at(middle) < share ? low : high) = middle;
    }
    return high;
  }

 private:
  [[nodiscard]] double value(double setting) const {
    if (setting <= setting_.front()) return share_.front();
    if (setting >= setting_.back()) return share_.back();
    const auto above = std::upper_bound(setting_.begin(), setting_.end(), setting);
    const auto i = static_cast<std::size_t>(above - setting_.begin()) - 1;
    const double h = setting_[i + 1] - setting_[i];
    const double t = (setting - setting_[i]) / h;
    const double s = 1.0 - t;
    return share_[i] * s * s * (1.0 + 2.0 * t) + share_[i + 1] * t * t * (3.0 - 2.0 * t) +
           h * t * s * (slope_[i] * s - slope_[i + 1] * t);
  }

  void make_slopes() {
    const std::size_t n = setting_.size();
    slope_.assign(n, 0.0);
    if (n < 2) return;
    const auto chord = [&](std::size_t i) { return (share_[i + 1] - share_[i]) / (setting_[i + 1] - setting_[i]); };
    slope_.front() = chord(0);
    slope_.back() = chord(n - 2);
    for (std::size_t i = 1; i + 1 < n; ++i) {
      const double h0 = setting_[i] - setting_[i - 1];
      const double h1 = setting_[i + 1] - setting_[i];
      // of the parabola through three points
      slope_[i] = chord(i - 1) * chord(i) > 0.0 ? (h1 * chord(i - 1) + h0 * chord(i)) / (h0 + h1) : 0.0;
    }
    for (std::size_t i = 0; i + 1 < n; ++i) {
      const double d = chord(i);
      if (d <= 0.0) {
        slope_[i] = slope_[i + 1] = 0.0;
        continue;
      }
      const double a = slope_[i] / d;
      const double b = slope_[i + 1] / d;
      const double size = std::hypot(a, b);
      if (size > 3.0) {
        slope_[i] = 3.0 * a / size * d;
        slope_[i + 1] = 3.0 * b / size * d;
      }
    }
  }

  double least_setting_, most_setting_;
  double whole_ = 0.0;  ///< at the upper limit
  std::vector<double> setting_, share_, slope_;
};

void check(const DimmingCurve& curve, const DimmingRange& range, const LevelTableOptions& options) {
  if (!range.runs) {
    throw Error(ErrorCode::input_refused, "the lamps get no power at any setting of this mode", Place{},
                "Try another mode, or more lamps");
  }
  if (options.of_light && curve.light_law.empty()) {
    throw Error(ErrorCode::input_refused, "the light of this lamp is not estimated: its circuit does not show it",
                Place{}, "Ask for a curve of power");
  }
  if (options.levels < 1 || options.levels > most_levels) {
    throw Error(ErrorCode::input_refused, fmt::format("{} levels; expected 1 to {}", options.levels, most_levels));
  }
  if (options.full_count < 1 || options.full_count > most_count) {
    throw Error(ErrorCode::input_refused,
                fmt::format("a full count of {}; expected 1 to {}", options.full_count, most_count));
  }
  if (options.count_delay && curve.mode != Mode::leading_edge) {
    throw Error(ErrorCode::input_refused, "a delay to the firing is counted at a leading edge only", Place{},
                "Count the conduction instead");
  }
}

}  // namespace

std::string_view law_name(LevelLaw law) {
  switch (law) {
    case LevelLaw::linear:
      return "linear";
    case LevelLaw::square:
      return "square";
    case LevelLaw::lightness:
      return "lightness";
    case LevelLaw::logarithmic:
      return "logarithmic";
  }
  return "";
}

double target_share(LevelLaw law, double level, int levels) {
  if (level <= 0.0) return 0.0;
  const double part = level / levels;
  switch (law) {
    case LevelLaw::linear:
      return part;
    case LevelLaw::square:
      return part * part;
    case LevelLaw::lightness:
      return luminance_of_lightness(100.0 * part);
    case LevelLaw::logarithmic:
      return levels < 2 ? 1.0 : std::pow(10.0, 3.0 * (level - 1.0) / (levels - 1.0) - 3.0);
  }
  return 0.0;
}

LevelTable level_table(const DimmingCurve& curve, const DimmingRange& range, const LevelTableOptions& options) {
  check(curve, range, options);
  const RisingShare shares(curve, range, options.of_light);
  const double whole = setting_of(curve.mode) == Setting::conduction_deg ? 180.0 : 1.0;
  const auto full = static_cast<double>(options.full_count);
  // rounding must not leave the limits
  const double least_count = std::min(std::ceil(range.min_setting / whole * full - 1e-9), full);
  const double most = std::max(std::floor(range.max_setting / whole * full + 1e-9), least_count);

  LevelTable table;
  table.least_share = shares.least();
  double first_level = 1.0;  // where the law has the least share
  if (options.below == BelowRange::spread) {
    double low = 0.0;
    double high = options.levels;
    for (int i = 0; i < 60; ++i) {
      const double middle = 0.5 * (low + high);
      (target_share(options.law, middle, options.levels) < table.least_share ? low : high) = middle;
    }
    first_level = high;
  }
  std::set<std::int64_t> counts;
  for (int level = 0; level <= options.levels; ++level) {
    LevelRow& row = table.rows.emplace_back();
    row.level = level;
    row.count = options.count_delay ? options.full_count : 0;
    if (level == 0) continue;
    const double along = options.levels > 1 ? (level - 1.0) / (options.levels - 1.0) : 1.0;
    const double asked =
        options.below == BelowRange::spread ? std::lerp(first_level, 1.0 * options.levels, along) : 1.0 * level;
    row.target = std::min(1.0, target_share(options.law, asked, options.levels));
    row.reached = row.target >= table.least_share * (1.0 - 1e-9);
    if (row.reached && table.first_reached == 0) table.first_reached = level;
    if (!row.reached && options.below == BelowRange::off) continue;
    const double count = std::clamp(std::round(shares.setting_for(row.target) / whole * full), least_count, most);
    row.setting = count / full * whole;
    row.share = shares.at(row.setting);
    row.count = static_cast<std::int64_t>(options.count_delay ? full - count : count);
    counts.insert(row.count);
  }
  table.distinct = static_cast<int>(counts.size());
  return table;
}

}  // namespace lampload
