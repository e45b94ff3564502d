#pragma once
// Many lamps for one channel, without a simulation: a few figures of each lamp, found once, scaled by the count.

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/constraint.h"
#include "core/advice/recommendation.h"

namespace lampload {

/// Conduction angles at which figures are kept [degrees of a half cycle].
inline constexpr std::array<double, 12> screening_angles_deg = {20.0,  35.0,  50.0,  65.0,  80.0,  95.0,
                                                                110.0, 125.0, 140.0, 155.0, 170.0, 180.0};

/// Of one lamp at one operating point.
struct ScreenedPoint {
  double rms_a = 0.0;
  double mean_abs_a = 0.0;
  double peak_a = 0.0;
  double cut_a = 0.0;
  double midway_a = 0.0;
  double latch_a = 0.0;
  double lamp_power_w = 0.0;
};

/// Of one lamp's turn-on.
struct ScreenedSurge {
  double peak_a = 0.0;
  double i2t_a2s = 0.0;
  double charge_c = 0.0;
  double width_s = 0.0;
};

/// Of one lamp on its own, on an ordinary supply (core/circuit/simulated_capture.h) at its voltage.
struct ScreeningFigures {
  /// `most`: at the supply's ends (10 % above and below), with the lamp's parameters and the spread between pieces at
  /// their unfavourable end. `least`: likewise where little current is bad. `nominal`: central values.
  struct Margin {
    std::array<ScreenedPoint, screening_angles_deg.size()> leading;
    std::array<ScreenedPoint, screening_angles_deg.size()> trailing;
    ScreenedSurge any_phase;
    ScreenedSurge zero_crossing;
  };
  double voltage_v = 0.0;
  double frequency_hz = 0.0;
  Margin most;
  Margin least;  ///< its surges are not used
  Margin nominal;

  /// All of it in a row, and back; empty where the row has another length.
  [[nodiscard]] std::vector<double> packed() const;
  static std::optional<ScreeningFigures> unpacked(std::span<const double> values);
};

/// Empty for a lamp without a circuit and for one that is fed with DC. Throws Error{calculation} where a simulation
/// fails.
std::optional<ScreeningFigures> screening_figures(const LampEvidence& lamp, double voltage_v, double frequency_hz);

/// The best mode of a channel for a lamp, by its figures.
struct Screened {
  Mode mode = Mode::none;
  int max_lamps = 0;
  int max_lamps_nominal = 0;
  std::string limited_by = {};
};

/// One channel, ready to have many lamps held against it. An estimate to choose by: currents are taken in proportion to
/// the count, with a margin for what they draw beyond it where they share the impedance of source and cable, and
/// between kept angles by a parabola. Constraints that the figures do not decide are named in not_checked().
class Screener {
 public:
  /// Throws Error{input_refused} for a channel with a DC output: there recommend() is a closed form.
  explicit Screener(const Channel& channel);

  /// Empty where the lamp's figures are for another supply (voltage 5 %, frequency 2 % apart). harmed_by_cuts: as its
  /// family says (one_port.h).
  [[nodiscard]] std::optional<Screened> screen(const ScreeningFigures& lamp, std::optional<bool> label_dimmable,
                                               bool harmed_by_cuts = false) const;
  [[nodiscard]] const std::vector<std::string>& not_checked() const { return not_checked_; }

 private:
  struct ModeRules {
    Mode mode = Mode::none;
    std::vector<Constraint> constraints;
    bool zero_crossing = false;
  };
  [[nodiscard]] Screened judge(const ModeRules& rules, const ScreeningFigures& lamp) const;
  [[nodiscard]] double value(const ModeRules& rules, const Constraint& constraint,
                             const ScreeningFigures::Margin& margin, int count) const;

  Channel channel_;
  double inductance_h_ = 0.0;
  std::vector<ModeRules> modes_;
  std::vector<std::string> not_checked_;
};

}  // namespace lampload
