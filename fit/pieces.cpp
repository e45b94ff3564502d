#include "fit/pieces.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "fit/information.h"

namespace lampload {
namespace {

Eigen::MatrixXd square(const std::vector<double>& row_by_row, Eigen::Index n) {
  return Eigen::Map<const Eigen::MatrixXd>(row_by_row.data(), n, n);
}

/// The nearest matrix that can be a covariance.
Eigen::MatrixXd without_negative(const Eigen::MatrixXd& matrix) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(0.5 * (matrix + matrix.transpose()));
  return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0.0).asDiagonal() * solver.eigenvectors().transpose();
}

}  // namespace

std::vector<double> FiguresOfValues::logarithms(const std::vector<double>& values) const {
  std::vector<double> all;
  for (const auto& figures : {derived(values), load(values)}) {
    for (const DerivedFigure& one : figures)
      all.push_back(one.value > 0.0 ? std::max(std::log(one.value), log_of_none) : log_of_none);
  }
  return all;
}

Piece piece_of(const FitResult& fit, const FamilyInfo& family, const FiguresOfValues& figures) {
  const auto n = static_cast<Eigen::Index>(family.parameters.size());
  Piece piece;
  const Eigen::MatrixXd covariance = square(fit.covariance, n);
  piece.shared = square(fit.shared_covariance, n);
  piece.own = without_negative(covariance - piece.shared);
  piece.coordinates = Eigen::VectorXd::Zero(n);
  for (Eigen::Index j = 0; j < n; ++j) {
    const auto at = static_cast<std::size_t>(j);
    piece.values.push_back(fit.parameters[at].value);
    piece.free.push_back(covariance(j, j) > 0.0);
    if (piece.free[at]) piece.coordinates[j] = to_coordinate(family.parameters[at], piece.values[at]);
  }
  piece.log_figures = figures.logarithms(piece.values);
  piece.slopes = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(piece.log_figures.size()), n);
  for (Eigen::Index j = 0; j < n; ++j) {
    const auto at = static_cast<std::size_t>(j);
    if (!piece.free[at]) continue;
    const ParameterSpec& spec = family.parameters[at];
    // Wide enough for what the periodic state is sure to.
    const double step = std::clamp(std::sqrt(covariance(j, j)), 0.01, 0.1);
    const auto moved = [&](double by) {
      std::vector<double> values = piece.values;
      values[at] = spec.within(from_coordinate(spec, piece.coordinates[j] + by));
      return std::pair(figures.logarithms(values), to_coordinate(spec, values[at]));
    };
    const auto [above, high] = moved(step);
    const auto [below, low] = moved(-step);
    for (Eigen::Index f = 0; f < piece.slopes.rows(); ++f) {
      const auto k = static_cast<std::size_t>(f);
      piece.slopes(f, j) = (above[k] - below[k]) / (high - low);
    }
  }
  return piece;
}

double usual_of_parameter(std::span<const Piece> pieces, Eigen::Index parameter, Eigen::Index first_load) {
  double steepest = 1.0;
  for (const Piece& piece : pieces) {
    for (Eigen::Index f = first_load; f < piece.slopes.rows(); ++f)
      steepest = std::max(steepest, std::abs(piece.slopes(f, parameter)));
  }
  return usual_spread / steepest;
}

Mean mean_of(std::span<const Piece> pieces, const std::vector<bool>& used, const Eigen::VectorXd& spread) {
  const Eigen::Index n = spread.size();
  std::vector<Eigen::Index> all;
  for (Eigen::Index j = 0; j < n; ++j) {
    if (used[static_cast<std::size_t>(j)]) all.push_back(j);
  }
  const auto size = static_cast<Eigen::Index>(all.size());
  struct Weighed {
    std::vector<Eigen::Index> own;  ///< the piece's free parameters, in the table
    Eigen::MatrixXd weight;         ///< all x own
  };
  std::vector<Weighed> weighed;
  Eigen::MatrixXd information = Eigen::MatrixXd::Zero(size, size);
  Eigen::VectorXd sum = Eigen::VectorXd::Zero(size);
  for (const Piece& piece : pieces) {
    Weighed one;
    std::vector<Eigen::Index> place;
    for (Eigen::Index a = 0; a < size; ++a) {
      const Eigen::Index j = all[static_cast<std::size_t>(a)];
      if (!piece.free[static_cast<std::size_t>(j)]) continue;
      one.own.push_back(j);
      place.push_back(a);
    }
    Eigen::MatrixXd variance = piece.own(one.own, one.own);
    variance.diagonal() += spread(one.own).cwiseAbs2();
    const Eigen::MatrixXd inverse = inverse_of(variance);
    one.weight = Eigen::MatrixXd::Zero(size, static_cast<Eigen::Index>(one.own.size()));
    for (std::size_t a = 0; a < place.size(); ++a) one.weight.row(place[a]) = inverse.row(static_cast<Eigen::Index>(a));
    for (std::size_t a = 0; a < place.size(); ++a) {
      for (std::size_t b = 0; b < place.size(); ++b)
        information(place[a], place[b]) += inverse(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b));
    }
    sum += one.weight * piece.coordinates(one.own);
    weighed.push_back(std::move(one));
  }
  const Eigen::MatrixXd inverse = inverse_of(information);
  Mean mean{Eigen::VectorXd::Zero(n), Eigen::MatrixXd::Zero(n, n), Eigen::MatrixXd::Zero(n, n),
            Eigen::MatrixXd::Zero(n, n)};
  mean.coordinates(all) = inverse * sum;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    const Eigen::MatrixXd gain = inverse * weighed[i].weight;
    const auto& own = weighed[i].own;
    const Eigen::VectorXd squares = spread(own).cwiseAbs2();
    mean.of_captures(all, all) += gain * pieces[i].own(own, own) * gain.transpose();
    mean.of_pieces(all, all) += gain * squares.asDiagonal() * gain.transpose();
    mean.shared(all, all) += pieces[i].shared(all, all) / static_cast<double>(pieces.size());
  }
  return mean;
}

}  // namespace lampload
