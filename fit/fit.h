#pragma once
// The fit: captures of one lamp in, an equivalent circuit with honest uncertainty out.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/capture/capture.h"
#include "core/waveform/figures.h"
#include "fit/capture_value.h"
#include "fit/fit_report.h"

namespace lampload {

struct FitOptions {
  Nominal nominal;
  std::uint64_t seed = 20240229;  ///< of the scattered starts; recorded with the fit
  unsigned threads = 0;           ///< 0: as many as the machine has; the result does not depend on it
  /// Standard uncertainty of the instrument's own scale, taken as common practice where the person gives none.
  double voltage_gain_uncertainty = 0.005;
  double current_gain_uncertainty = 0.01;
  /// Indices into lamp_families() of those to try; empty: all. Where the family is known, the rest need not be fitted.
  std::vector<std::size_t> families;
  bool advise_next_capture = true;  ///< false saves its time, and leaves FitResult::next_capture empty
  /// Called now and then from the calling thread with a share done, 0 to 1. May be empty.
  std::function<void(double)> progress;
};

/// A parameter or derived figure with what is known of it.
struct Estimate {
  std::string name;
  std::string unit;
  double value = 0.0;
  double standard_uncertainty = 0.0;  ///< JCGM 100; 0 where not identified
  double lower_95 = 0.0;              ///< where not identified: the bound that holds
  double upper_95 = 0.0;
  bool identified = true;
  std::string remark;  ///< "at bound", "not identified by these captures", "held at 0", or empty
};

/// What belongs to one capture alone.
struct CaptureFit {
  std::string file;
  double current_offset_a = 0.0;
  double current_delay_s = 0.0;
  std::vector<double> start_state;
  double residual_rms_a = 0.0;
  /// Of the rms current, beyond what noise and the known errors of instruments explain.
  double unexplained_share = 0.0;
  double quiet_power_share = 0.0;        ///< of the power, flowing while the fitted lamp draws next to nothing
  std::vector<double> fitted_current_a;  ///< one a sample, as the instrument would have shown it
};

struct Rival {
  std::string family;
  std::string load_law;
  double distance = 0.0;  ///< information criterion on held-out cycles, above the best
};

struct NextCapture {
  std::string capture;  ///< "turn_on", "leading_edge", ...; empty: nothing left to ask for
  std::string narrows;  ///< load figure, by the constraint that it decides: "surge_peak", ...; or "family"
  std::string sentence;
  std::vector<CaptureValue> considered;  ///< in the order in which a person would rather take them
  std::optional<std::size_t> advised;    ///< index into `considered`
};

struct FitResult {
  bool accepted = false;  ///< false: no family describes this lamp
  std::string verdict;    ///< sentence: why
  std::string family;     ///< best one, accepted or not
  std::string load_law;
  std::vector<Estimate> parameters;  ///< the family's whole table, in its order
  std::vector<Estimate> derived;
  std::vector<double> covariance;  ///< row by row over `parameters`, in the coordinates of to_coordinate()
  /// The part of the covariance that pieces measured with the same instruments share; it is no difference between them.
  std::vector<double> shared_covariance;
  OperatingPoint at;       ///< where derived figures are stated
  LoadSpread load_spread;  ///< between pieces of the lamp type; from one piece's captures alone: what is usual
  double residual_rms_a = 0.0;
  double normalised_residual = 0.0;       ///< residual over what the instrument's noise explains; 1 is perfect
  double residual_autocorrelation = 0.0;  ///< at lag one
  std::vector<Rival> rivals;              ///< the best excluded, nearest first
  std::vector<CaptureFit> captures;
  NextCapture next_capture;
  std::optional<double> bandwidth_hz;  ///< of the current channel, where the captures show it
  std::uint64_t seed = 0;
  FitReport report;
};

/// Where derived figures are stated: the nominal voltage, else that of `open`, the least cut capture.
OperatingPoint operating_point(const Figures& open, const Nominal& nominal);

/// captures and figures go together, one lamp, any mix of steady, turn-on and cut ones.
/// Throws Error{input_refused} where the captures cannot belong together or hold no lamp current,
/// Error{calculation} where no start converges.
FitResult fit_lamp(std::span<const Capture> captures, std::span<const Figures> figures, const FitOptions& options = {});

/// What advice needs from a fit.
LampEvidence evidence(const std::string& lamp_name, const FitResult& fit, std::span<const Figures> figures,
                      const Nominal& nominal);

}  // namespace lampload
