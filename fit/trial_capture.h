#pragma once
// What a capture that could still be taken would tell of the ways in which a lamp may differ from the fitted one
// (core/advice/left_open.h): its Fisher information, beside that of the captures there are.

#include <Eigen/Core>
#include <memory>
#include <vector>

#include "core/advice/left_open.h"
#include "core/circuit/simulated_capture.h"
#include "fit/family_search.h"
#include "fit/lamp_residuals.h"
#include "fit/uncertainty.h"

namespace lampload {

/// The information of the captures there are, by least squares, about what a new one shares with them: the open ways
/// (each in its standard deviations), bandwidth, delay.
struct KnownBefore {
  bool bandwidth = false;
  bool delay = false;
  Eigen::MatrixXd information;
  Learned learned;
};

/// solution: on the captures there are, its free unknowns as the uncertainty was computed with; it is left as it was.
KnownBefore known_before(LampResiduals& solution, const Candidate& candidate, const Uncertainty& uncertainty,
                         const LeftOpen& open);

/// A capture that could be taken, simulated with the fitted lamp, and the fit's residuals on it.
class TrialCapture {
 public:
  /// Throws Error where such a capture would show nothing of this lamp.
  TrialCapture(const Candidate& candidate, const Lamp& lamp, const OperatingPoint& at, const CaptureSetup& setup,
               const KnownBefore& known);

  /// What is known of the open ways with it among the others: their covariance by least squares. Throws
  /// Error{calculation} where the model cannot be evaluated.
  [[nodiscard]] Eigen::MatrixXd covariance_with(const LeftOpen& open);

 private:
  [[nodiscard]] Eigen::VectorXd residuals_at(const std::vector<double>& by, const Eigen::VectorXd& otherwise);

  const FamilyInfo& family_;
  const KnownBefore& known_;
  std::unique_ptr<LampResiduals> residuals_;
  std::vector<double> full_;
  std::vector<bool> free_;
};

}  // namespace lampload
