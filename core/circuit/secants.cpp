#include "core/circuit/secants.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace lampload {
namespace {

constexpr std::size_t most_pairs = 4;
constexpr double least_change = 1e-3;  // in units of the tolerance; below it a difference is noise of the simulation
constexpr double least_share = 0.1;    // of a difference, that newer ones do not already say

double dot(const std::vector<double>& a, const std::vector<double>& b) {
  return std::inner_product(a.begin(), a.end(), b.begin(), 0.0);
}

void subtract(std::vector<double>& from, double times, const std::vector<double>& what) {
  for (std::size_t i = 0; i < from.size(); ++i) from[i] -= times * what[i];
}

}  // namespace

void Secants::begin() {
  residual_.clear();
  value_.clear();
  for (Pair& pair : pairs_) pair.own = false;
}

void Secants::add(std::span<const double> residual, std::span<const double> value) {
  if (!residual_.empty()) {
    Pair pair{{residual.begin(), residual.end()}, {value.begin(), value.end()}};
    subtract(pair.residual, 1.0, residual_);
    subtract(pair.value, 1.0, value_);
    if (pairs_.size() == most_pairs) pairs_.erase(pairs_.begin());
    pairs_.push_back(std::move(pair));
  }
  residual_.assign(residual.begin(), residual.end());
  value_.assign(value.begin(), value.end());
}

// The newest difference first, each later one without what those before it say.
Secants::Estimate Secants::estimate() const {
  Estimate result{value_, 0.0, 0};
  std::vector<double> rest = residual_;
  std::vector<Pair> used;
  for (std::size_t k = pairs_.size(); k-- > 0;) {
    Pair pair = pairs_[k];
    const double size = std::sqrt(dot(pair.residual, pair.residual));
    if (size < least_change) continue;
    for (const Pair& before : used) {
      const double share = dot(before.residual, pair.residual);
      subtract(pair.residual, share, before.residual);
      subtract(pair.value, share, before.value);
    }
    const double left = std::sqrt(dot(pair.residual, pair.residual));
    if (left < least_share * size) continue;
    for (double& x : pair.residual) x /= left;
    for (double& x : pair.value) x /= left;
    const double share = dot(pair.residual, rest);
    subtract(rest, share, pair.residual);
    subtract(result.value, share, pair.value);
    if (pair.own) ++result.own;
    used.push_back(std::move(pair));
  }
  for (const double x : rest) result.unexplained = std::max(result.unexplained, std::abs(x));
  return result;
}

void Secants::scale(std::size_t entry, double factor) {
  for (Pair& pair : pairs_) pair.value[entry] *= factor;
}

}  // namespace lampload
