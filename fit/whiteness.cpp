#include "fit/whiteness.h"

#include <algorithm>
#include <numeric>

#include "fit/uncertainty.h"

namespace lampload {
namespace {

/// Sum of the products of neighbouring residuals that white noise makes: their blocks share the sample between them.
double shared_noise(const LampResiduals& residuals) {
  const auto& origins = residuals.origins();
  double sum = 0.0;
  for (std::size_t row = 0; row + 1 < origins.size(); ++row) {
    const auto [c, k] = origins[row];
    if (origins[row + 1].capture != c || origins[row + 1].block != k + 1) continue;
    const DrivenCapture& drive = residuals.drives()[c];
    // Half of the sample belongs to each.
    const double of_each = 0.5 * drive.current_noise_a * drive.dt_s;
    const auto& weights = residuals.weights()[c];
    sum += of_each / drive.length_s(k) / weights[k] * of_each / drive.length_s(k + 1) / weights[k + 1];
  }
  return sum;
}

}  // namespace

double missing(const LampResiduals& residuals, const std::vector<double>& full) {
  if (residuals.drives().front().frequency_hz <= 0.0) return 1.0;
  constexpr double by_chance = 1.2;  // blocks that say the same
  constexpr double plainly = 2.2;
  std::vector<double> left(residuals.count());
  if (!residuals.evaluate(residuals.reduce(full).data(), left.data(), nullptr)) return 1.0;
  const Correlation correlation = residual_correlation(residuals, left);
  const auto blocks = static_cast<std::ptrdiff_t>(residuals.origins().size());
  const double square = std::inner_product(left.begin(), left.begin() + blocks, left.begin(), 0.0);
  const double length = std::max(1.0, correlation.length - 2.0 * shared_noise(residuals) / square);
  return std::clamp((length * correlation.repetition - by_chance) / (plainly - by_chance), 0.0, 1.0);
}

}  // namespace lampload
