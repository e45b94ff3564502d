#pragma once
// What is known of a lamp from elsewhere, and follows from all its parameters together: the power on its label, steady
// currents at DC. It is combined with what the captures say, each weighed by its uncertainty, and is left out where it
// contradicts them.

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "core/lamp/lamp.h"
#include "core/waveform/figures.h"
#include "fit/fit_report.h"

namespace lampload {

/// Labels are loose: standard uncertainty of the rated power, as a share of it (common practice, no source).
inline constexpr double label_uncertainty = 0.1;
/// Of a DC current where the table does not say: share of the reading (hand-held meters for both quantities, each on a
/// range that fits; common practice, no source), and never less than a last digit's share of the largest.
inline constexpr double dc_reading_uncertainty = 0.02;
inline constexpr double dc_last_digit = 1e-4;
/// In standard deviations, rms: knowledge that lies further from what the captures alone say contradicts them.
inline constexpr double contradiction = 2.0;

/// A figure that follows from the lamp's parameters, as it was observed.
struct FigureObservation {
  std::function<double(std::span<const double> values)> figure;  ///< of the parameters' values, SI
  double observed = 0.0;
  double standard_uncertainty = 0.0;
};

/// One piece of knowledge: a label, a table.
struct OutsideKnowledge {
  std::string what;  ///< as in ObservationReport
  std::vector<FigureObservation> observations;
};

/// What `nominal` says of a lamp of this family. The label's power is stated at the nominal voltage: it is left out
/// where neither that is given nor an uncut capture (`open`: the least cut one) shows it.
std::vector<OutsideKnowledge> outside_knowledge(const FamilyInfo& family, const Nominal& nominal, const Figures& open,
                                                const OperatingPoint& at);

/// What is known of the lamp's parameters: in coordinates, over the family's table.
struct LampKnowledge {
  std::vector<double> full;
  std::vector<bool> free;
  std::vector<double> covariance;  ///< zero rows for what is held
};

/// How it lies to what the captures alone say.
ObservationReport compare(const OutsideKnowledge& knowledge, const FamilyInfo& family, const LampKnowledge& captures);

/// Both together: least squares with the captures' solution and covariance as one observation (generalised least
/// squares, the figures linearised anew until nothing moves). What one meter measured shares its errors: all points of
/// one table together say as much about a common scale as one.
LampKnowledge combine(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                      const LampKnowledge& captures);

/// What is left where both are combined: chi-square, the points of one table together counted as one.
double disagreement(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                    const LampKnowledge& captures);

}  // namespace lampload
