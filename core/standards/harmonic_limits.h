#pragma once
// Limits of harmonic currents after IEC 61000-3-2, as far as they could be confirmed without the standard itself.

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace lampload {

inline constexpr int highest_limited_order = 40;
/// Nothing is set for supplies below this, line to neutral (two secondary sources agree).
inline constexpr double least_limited_supply_v = 220.0;

/// One row of the table. A row for orders 15 to 39 holds for every odd one (even: for even) between.
struct HarmonicLimit {
  std::string_view rule;  ///< "class_a", "class_c_over_25_w", "class_c_per_watt", "class_c_waveform", "class_c_total"
  int first_order;
  int last_order;
  double limit;            ///< at the first order where it falls as 1 / order
  bool falls;              ///< as first_order / order
  std::string_view unit;   ///< "A", "% of I1", "mA/W"
  std::string_view known;  ///< how sure it is: "two sources", "one source", "from memory"
};
std::span<const HarmonicLimit> harmonic_limits();

/// Currents of one load, and what the rules of class C ask of its waveform besides.
struct HarmonicCurrents {
  std::array<double, highest_limited_order + 1> rms_a{};  ///< by order; [0] is not looked at
  double power_w = 0.0;
  double power_factor = 1.0;
  /// Of the half cycle of the supply: where the current first passes 5 % of its peak, peaks, and last falls below 5 %.
  double start_deg = 0.0;
  double peak_deg = 90.0;
  double stop_deg = 180.0;
};

/// Sets the three angles. half_cycle: the current from one zero crossing of the supply to the next, in equal steps.
void set_waveform_angles(std::span<const double> half_cycle, HarmonicCurrents& currents);

/// How much of a limit is in use.
struct HarmonicUse {
  double share = 0.0;     ///< of the limit; up to 1 it is kept
  int order = 0;          ///< that uses most of it; 0: none (no limit, distortion as a whole, or the waveform's angles)
  std::string rule = {};  ///< in words
  std::string known = {};  ///< how sure the least sure row is
};

/// Limits in ampere, for a whole channel: independent phase-control dimmers (three summaries agree).
HarmonicUse class_a_use(const HarmonicCurrents& currents);
/// Limits of lighting equipment: by power over 25 W; up to 25 W the most favourable of per watt, waveform and total
/// distortion; none below 5 W. Over 25 W the third order keeps to 30 % times the power factor (up to edition 5.0) and
/// to 27 % (edition 5.1).
HarmonicUse class_c_use(const HarmonicCurrents& currents);
/// What class C allows of one order of these currents [A]: over 25 W by share of the first, from 5 to 25 W per watt
/// (one of three choices there); empty: the rule has no row for it, or there is no limit.
std::optional<double> class_c_limit_a(const HarmonicCurrents& currents, int order);
/// The three choices up to 25 W one by one.
HarmonicUse class_c_per_watt_use(const HarmonicCurrents& currents);
HarmonicUse class_c_waveform_use(const HarmonicCurrents& currents);
HarmonicUse class_c_total_use(const HarmonicCurrents& currents);

}  // namespace lampload
