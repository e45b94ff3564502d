#pragma once
// Residuals of one lamp over several captures: shared lamp parameters and bandwidth, and for each capture its own
// offset, delay and start state. The family is behind a template; the rest of fit/ sees LampResiduals.

#include <cmath>
#include <memory>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "core/lamp/lamp.h"
#include "fit/allowances.h"
#include "fit/drive.h"
#include "fit/least_squares.h"

namespace lampload {

/// One unknown of the fit, in its coordinate.
struct Unknown {
  enum class Kind { lamp, bandwidth, offset, delay, state };
  Kind kind = Kind::lamp;
  std::size_t index = 0;    ///< of the parameter or state
  std::size_t capture = 0;  ///< for what belongs to one capture
  double lower = 0.0;
  double upper = 0.0;
  double prior_sd = 0.0;    ///< what is known beforehand: standard deviation (0: nothing)
  double prior_mean = 0.0;  ///< and mean
  double model_sd = 0.0;    ///< of a lamp parameter: see ParameterSpec
};

/// An observation of one lamp parameter from elsewhere, such as an ohmmeter's reading.
struct DirectObservation {
  std::size_t parameter = 0;
  double coordinate = 0.0;
  double standard_uncertainty = 0.0;  ///< in the coordinate
};

class LampResiduals : public Residuals {
 public:
  /// All unknowns, free or not, in order: lamp parameters, bandwidth, then offset, delay and states of each capture.
  [[nodiscard]] virtual const std::vector<Unknown>& layout() const = 0;
  /// Chooses which of them are free and the values of the rest. full: one value for each of layout().
  virtual void set_free(const std::vector<bool>& free, const std::vector<double>& full) = 0;
  /// The whole vector with x in the free places.
  [[nodiscard]] virtual std::vector<double> expand(std::span<const double> x) const = 0;
  [[nodiscard]] virtual std::vector<double> reduce(std::span<const double> full) const = 0;
  /// Index in layout() of each free unknown.
  [[nodiscard]] virtual const std::vector<std::size_t>& free_unknowns() const = 0;
  /// Sets each block's standard deviation to what the current channel has, and what the remaining noise of the voltage
  /// makes of the model's current at `full` (which an input capacitance or a low series resistance passes on).
  virtual void weigh(std::span<const double> full) = 0;
  /// Learns how much of the allowances for what models miss is needed, and how much knowledge from elsewhere counts
  /// beside the blocks; weighs anew. misses: 0 where what the solution leaves is white, as where a model misses
  /// nothing; 1 where every allowance has to stay.
  virtual void learn(std::span<const double> full, double misses) = 0;
  [[nodiscard]] virtual const Learned& learned() const = 0;
  /// What other captures of the lamp have taught; before weigh().
  virtual void take_over(const Learned& learned) = 0;
  /// Standard deviation of every block of every capture, in force now [A].
  using Weights = std::vector<std::vector<double>>;
  [[nodiscard]] virtual const Weights& weights() const = 0;
  /// Robust sum of squares, sum of log variances and count over the blocks of one use.
  struct Score {
    double sum = 0.0;
    double log_variance = 0.0;
    std::size_t count = 0;
  };
  [[nodiscard]] virtual Score score(std::span<const double> full, Use use, const Weights& weights) const = 0;
  /// What the solution leaves of one capture's current, as mean squares over its blocks.
  struct Left {
    double residual_a2 = 0.0;   ///< measured minus model
    double explained_a2 = 0.0;  ///< what noise and all that is allowed for the model make one expect
    double current_a2 = 0.0;    ///< measured, offset removed
  };
  [[nodiscard]] virtual Left left_of(std::span<const double> full, std::size_t capture) const = 0;
  /// Model current at the end of each block of one drive (not necessarily one of the fit), as the current channel shows
  /// it: offset and delay included. Blocks of equal length.
  [[nodiscard]] virtual std::vector<double> current(std::span<const double> full, std::size_t capture,
                                                    const DrivenCapture& drive) const = 0;
  /// The whole vector with the start states replaced by those of a lamp that has been running on each capture's first
  /// cycle for long (captures that begin with a cold lamp keep theirs).
  /// Bounds the start states about them.
  virtual std::vector<double> settle(std::vector<double> full) = 0;
  /// Change of every residual with what every residual shares: a relative change of the voltage channel's scale and of
  /// the current channel's, and junctions whose drop is not constant, as the model has it, but rises with the logarithm
  /// of the current.
  struct SystematicSlopes {
    std::vector<double> by_voltage_scale;
    std::vector<double> by_current_scale;
    std::vector<double> by_softness;
  };
  [[nodiscard]] virtual SystematicSlopes systematic_slopes(std::span<const double> full) const = 0;
  /// Which capture and block each residual belongs to; those past the list are direct observations.
  struct Origin {
    std::size_t capture;
    std::size_t block;
  };
  [[nodiscard]] virtual const std::vector<Origin>& origins() const = 0;
  [[nodiscard]] virtual const std::vector<DrivenCapture>& drives() const = 0;
  /// How many threads share the captures of one evaluation; the result does not depend on it.
  virtual void set_threads(unsigned threads) = 0;
};

/// Drives that several residuals share.
using SharedDrives = std::shared_ptr<const std::vector<DrivenCapture>>;

/// One maker for each entry of lamp_families(), in the same order.
std::unique_ptr<LampResiduals> make_residuals(std::size_t family, SharedDrives drives,
                                              std::vector<DirectObservation> observations,
                                              const std::vector<UsualValue>& usual = {});
inline std::unique_ptr<LampResiduals> make_residuals(std::size_t family, std::vector<DrivenCapture> drives,
                                                     std::vector<DirectObservation> observations,
                                                     const std::vector<UsualValue>& usual = {}) {
  return make_residuals(family, std::make_shared<const std::vector<DrivenCapture>>(std::move(drives)),
                        std::move(observations), usual);
}

/// What is usual for lamps of the family on this supply; empty where it does not depend on it.
std::vector<UsualValue> family_usual(std::size_t family, const StartHints& hints);

/// False: the captures show nothing of such a lamp, which may look like a resistance in them.
bool family_shows_itself(std::size_t family, const StartHints& hints);

/// Start vectors of the family's own parameters, best first.
std::vector<std::vector<double>> family_starts(std::size_t family, const StartHints& hints);

/// Values worth trying of a part that the lamp may have, which `lamp` (the family's table, SI) does without.
std::vector<std::vector<double>> family_part_starts(std::size_t family, std::span<const double> lamp,
                                                    std::string_view part);

/// Limits of the instrument's own unknowns.
inline constexpr double delay_scale_s = 1e-5;  // a delay's coordinate is in this unit
inline constexpr double slowest_bandwidth_hz = 2e3;
inline constexpr double usual_bandwidth_hz = 40e3;  // of a clamp: common practice, no source
inline constexpr double bandwidth_sd = 0.3;         // of its logarithm, likewise
inline constexpr double fastest_bandwidth_hz = 2e7;
inline constexpr double dc_offset_share = 0.01;  // a zeroed clamp's offset under DC, of the largest current, likewise
inline constexpr double usual_delay_s = 20e-6;   // standard deviation between two probes; slow recorders: five samples

/// Standard deviation of the delay's coordinate between captures of one lamp.
double delay_change_sd(double sample_interval_s);

}  // namespace lampload
