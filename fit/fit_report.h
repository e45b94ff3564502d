#pragma once
// How a fit came about, for whoever wants to check it: what was compared, what each capture left, where every start
// ended, and why parameters are held. What the covariance alone gives (correlations) is not repeated here.

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace lampload {

struct CaptureReport {
  std::string file;
  std::size_t blocks = 0;  ///< compared
  double current_offset_a = 0.0;
  double current_delay_s = 0.0;
  double residual_rms_a = 0.0;
};

/// One start of one family, solved on the coarse and short records.
struct StartReport {
  /// -2 ln(likelihood), robust, where it ended: only differences between starts mean something.
  double misfit = 0.0;
  /// Against the family's best start: "best", "same_optimum", "as_good_elsewhere" (other values explain the coarse
  /// records as well), "worse_optimum"; or "not_converged", with misfit 0 and no parameters.
  std::string ended;
  /// False: the values it ended at only mimic another kind of lamp.
  bool plausible = false;
  std::vector<std::pair<std::string, double>> parameters;  ///< where it ended: the family's table, SI
};

struct FamilyReport {
  std::string family;
  std::string load_law;
  /// "chosen", "rival"; "set_aside": its best values only mimic another kind of lamp; "not_refined": too far behind on
  /// the coarse records to go on with; "ruled_out": the waveform leaves it no start values; "no_start" converged.
  std::string outcome;
  std::optional<double>
      distance;  ///< information criterion above the best; of "chosen", "rival" and "not_refined" alone
  std::vector<StartReport> starts;  ///< in the order tried: least misfit before solving first
};

/// Why a parameter has no free value.
struct HeldReport {
  std::string parameter;
  /// "at_lower_bound", "at_upper_bound"; of an optional one that stays out: "does_not_pay", "vanished" (freed, it ran
  /// to nothing), "leans_on_bound" (freed, it pushed one that the family needs to its bound), "enough_freed" (others
  /// helped more), "as_nearest" (the nearest load law of the same front end does without), "not_converged",
  /// "not_tried"; "not_asked_for": a part of the circuit (ParameterSpec::part) that the residuals say nothing of.
  std::string reason;
  std::optional<double> gain;  ///< what freeing it gained, in the measure in which `worth` pays
  double worth = 0.0;
  std::string sentence;
};

/// Knowledge from elsewhere, against what the captures alone say.
struct ObservationReport {
  std::string what;        ///< "rated_power", "dc_table"
  double deviation = 0.0;  ///< in standard deviations of both together; rms over the points of a table
  bool counted = false;    ///< false: it disagrees and was left out
  std::string sentence;
};

struct FitReport {
  std::size_t blocks = 0;                  ///< compared, over all captures
  std::size_t unknowns = 0;                ///< free
  double residual_autocorrelation = 0.0;   ///< at lag one block
  double correlation_length_blocks = 1.0;  ///< over which residuals stay correlated; white: 1
  double repetition = 1.0;                 ///< half cycles that repeat the same residual; white: 1
  std::optional<double> bandwidth_hz;      ///< of the current channel, where the captures show it
  std::vector<CaptureReport> captures;
  std::vector<ObservationReport> observations;
  std::vector<HeldReport> held;
  std::vector<FamilyReport> families;  ///< those tried, in the order of the list of families
};

}  // namespace lampload
