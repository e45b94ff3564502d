#pragma once
// The samples of one lamp type as observations of their mean: coordinates and figures with what each sample's captures
// leave uncertain, apart from what all share.

#include <Eigen/Dense>
#include <span>
#include <vector>

#include "core/advice/load_figures.h"
#include "fit/fit.h"

namespace lampload {

/// Of a figure that is not above 0.
inline constexpr double log_of_none = -690.0;

/// Logarithms of the figures of a lamp: derived ones, then those that load a channel.
class FiguresOfValues {
 public:
  FiguresOfValues(const FamilyInfo& family, const OperatingPoint& at) : family_(family), at_(at) {}

  [[nodiscard]] std::vector<DerivedFigure> derived(std::span<const double> values) const {
    return family_.derived(values, at_);
  }

  [[nodiscard]] std::vector<DerivedFigure> load(const std::vector<double>& values) const {
    return load_figures(Lamp(family_, values), at_);
  }

  [[nodiscard]] std::vector<double> logarithms(const std::vector<double>& values) const;

 private:
  const FamilyInfo& family_;
  OperatingPoint at_;
};

/// One sample as the model sees it.
struct Piece {
  std::vector<double> values;
  Eigen::VectorXd coordinates;  ///< of free parameters
  std::vector<bool> free;
  Eigen::MatrixXd own;     ///< covariance that is this sample's alone
  Eigen::MatrixXd shared;  ///< that all samples share
  std::vector<double> log_figures;
  Eigen::MatrixXd slopes;  ///< of the logarithms of the figures, by the coordinates
};

Piece piece_of(const FitResult& fit, const FamilyInfo& family, const FiguresOfValues& figures);

/// What is usual of currents, brought to a parameter: as much as would by itself move a load figure by that, and never
/// more than it.
/// first_load: row of the slopes from which figures load a channel.
double usual_of_parameter(std::span<const Piece> pieces, Eigen::Index parameter, Eigen::Index first_load);

/// The mean of the parameters, by generalised least squares.
struct Mean {
  Eigen::VectorXd coordinates;
  Eigen::MatrixXd of_captures;  ///< covariance because each sample's captures are uncertain
  Eigen::MatrixXd of_pieces;    ///< because pieces differ
  Eigen::MatrixXd shared;
};

/// used: parameters that the mean lamp has. spread: between pieces, in coordinates, one a parameter.
Mean mean_of(std::span<const Piece> pieces, const std::vector<bool>& used, const Eigen::VectorXd& spread);

}  // namespace lampload
