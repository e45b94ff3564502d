#include "core/waveform/cycles.h"

#include <algorithm>
#include <vector>

namespace lampload {
namespace {

constexpr double kLowest = 44.5;
constexpr double kHighest = 65.5;
constexpr double kEnoughRate = 20e3;    // samples a second that place a lag well enough
constexpr double kEnoughCycles = 60.0;  // of the lowest frequency
constexpr double kLargestMisfit = 0.25;

// Mean removed, thinned by averaging, only the last part of a long record.
std::vector<double> thinned(std::span<const double> values, std::size_t factor, double rate) {
  const auto keep = static_cast<std::size_t>(kEnoughCycles * rate / kLowest);
  if (values.size() > keep) values = values.last(keep);
  std::vector<double> thin;
  thin.reserve(values.size() / factor);
  double mean = 0.0;
  for (std::size_t k = 0; k + factor <= values.size(); k += factor) {
    double sum = 0.0;
    for (std::size_t j = 0; j < factor; ++j) sum += values[k + j];
    thin.push_back(sum / static_cast<double>(factor));
    mean += thin.back();
  }
  mean /= static_cast<double>(std::max<std::size_t>(thin.size(), 1));
  for (double& value : thin) value -= mean;
  return thin;
}

// 0: the waveform repeats after `lag` (sign +1) or repeats inverted (sign -1); 1: no relation.
double misfit(const std::vector<double>& x, std::size_t lag, double sign) {
  double difference = 0.0;
  double energy = 0.0;
  for (std::size_t k = 0; k + lag < x.size(); ++k) {
    const double d = x[k] - sign * x[k + lag];
    difference += d * d;
    energy += x[k] * x[k] + x[k + lag] * x[k + lag];
  }
  return energy > 0.0 ? difference / energy : 1.0;
}

struct Lag {
  double samples;
  double misfit;
};

std::optional<Lag> best_lag(const std::vector<double>& x, double from, double to, double sign) {
  const auto low = static_cast<std::size_t>(std::max(1.0, std::floor(from)));
  const auto high = static_cast<std::size_t>(std::ceil(to));
  if (high + 2 >= x.size()) return std::nullopt;
  std::vector<double> d;
  for (std::size_t lag = low; lag <= high; ++lag) d.push_back(misfit(x, lag, sign));
  const auto best = static_cast<std::size_t>(std::min_element(d.begin(), d.end()) - d.begin());
  double shift = 0.0;
  if (best > 0 && best + 1 < d.size()) {
    const double curvature = d[best - 1] - 2.0 * d[best] + d[best + 1];
    if (curvature > 0.0) shift = std::clamp(0.5 * (d[best - 1] - d[best + 1]) / curvature, -0.5, 0.5);
  }
  return Lag{static_cast<double>(low + best) + shift, d[best]};
}

}  // namespace

std::optional<double> mains_frequency(std::span<const double> values, double interval_s,
                                      std::optional<double> expected_hz) {
  // The mains of another country than was said is found all the same.
  const double low = expected_hz ? std::min(kLowest, 0.9 * *expected_hz) : kLowest;
  const double high = expected_hz ? std::max(kHighest, 1.1 * *expected_hz) : kHighest;
  const double full_rate = 1.0 / interval_s;
  const auto factor = static_cast<std::size_t>(std::max(1.0, std::floor(full_rate / kEnoughRate)));
  const std::vector<double> x = thinned(values, factor, full_rate);
  const double rate = full_rate / static_cast<double>(factor);
  const auto count = static_cast<double>(x.size());

  if (count < 1.9 * rate / low) {
    const auto half = best_lag(x, 0.5 * rate / high, 0.5 * rate / low, -1.0);
    if (!half || half->misfit > kLargestMisfit || count < 1.96 * half->samples) return std::nullopt;
    // One cycle alone does not place its length to better than distortion allows; the two mains are exact.
    const double found = rate / (2.0 * half->samples);
    for (const double mains : {50.0, 60.0}) {
      if (std::abs(found / mains - 1.0) < 0.015 && count >= 0.98 * rate / mains) return mains;
    }
    return found;
  }
  auto period = best_lag(x, rate / high, rate / low, 1.0);
  if (!period || period->misfit > kLargestMisfit) return std::nullopt;
  // Over many cycles the same lag is placed better.
  const double many = std::floor((count - period->samples) / period->samples);
  if (many >= 2.0) {
    const double around = many * period->samples;
    const double reach = 2.0 + 0.1 * many;
    if (const auto span = best_lag(x, around - reach, around + reach, 1.0); span && span->misfit < kLargestMisfit) {
      return rate * many / span->samples;
    }
  }
  return rate / period->samples;
}

CycleWindow whole_cycles(std::size_t first, std::size_t available, double cycle_samples) {
  constexpr double kMissing = 0.02;
  return {first, cycle_samples, static_cast<std::size_t>(static_cast<double>(available) / cycle_samples + kMissing)};
}

}  // namespace lampload
