#include "fit/allowances.h"

#include <algorithm>
#include <cmath>

#include "fit/tamed.h"

namespace lampload {

double Variances::of_block(std::size_t k, const AllowanceShares& shares) const {
  double sum = noise[k];
  for (std::size_t a = 0; a < allowances; ++a) sum += shares[a] * allowed[a][k];
  return sum;
}

Variances variances_of(const DrivenCapture& drive, std::span<const double> model_a, double delay_s,
                       std::span<const double> passed_on_a2) {
  const std::vector<double> at_jumps = jump_sigma(drive, model_a, delay_s);
  Variances parts;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    // Few draws: neighbouring blocks share their estimate.
    const std::size_t first = k >= 2 ? k - 2 : 0;
    const std::size_t last = std::min(drive.blocks() - 1, k + 2);
    double passed_on = 0.0;
    for (std::size_t b = first; b <= last; ++b) passed_on += passed_on_a2[b];
    passed_on /= static_cast<double>(last - first + 1);
    parts.noise.push_back(drive.noise_a[k] * drive.noise_a[k] + passed_on);
    parts.allowed[0].push_back(drive.allowed_a[k] * drive.allowed_a[k]);
    parts.allowed[1].push_back(drive.timing_a[k] * drive.timing_a[k]);
    parts.allowed[2].push_back(at_jumps[k] * at_jumps[k]);
  }
  return parts;
}

AllowanceShares needed_shares(std::span<const DrivenCapture> drives, const std::vector<Variances>& parts,
                              const std::vector<std::vector<double>>& square_a2, double alike, double least) {
  constexpr int rounds = 4;
  AllowanceShares shares = whole_allowances;
  for (int round = 0; round < rounds; ++round) {
    AllowanceShares sum;  // beside one observation of a whole one
    AllowanceShares count;
    sum.fill(1.0);
    count.fill(1.0);
    for (std::size_t c = 0; c < drives.size(); ++c) {
      for (std::size_t k = 0; k < drives[c].blocks(); ++k) {
        if (!is_fitted(drives[c].use[k])) continue;
        const double expected = parts[c].of_block(k, shares);
        const double left = std::min(square_a2[c][k], glitch_sigmas * glitch_sigmas * expected) - expected;
        for (std::size_t a = 0; a < allowances; ++a) {
          const double unit = parts[c].allowed[a][k] / expected;
          // A square has twice its square for variance.
          sum[a] += 0.5 * unit * (left / expected + shares[a] * unit) / alike;
          count[a] += 0.5 * unit * unit / alike;
        }
      }
    }
    for (std::size_t a = 0; a < allowances; ++a) shares[a] = std::clamp(sum[a] / count[a], least, 1.0);
  }
  return shares;
}

BlockWeights::BlockWeights(const std::vector<DrivenCapture>& drives) {
  for (const DrivenCapture& drive : drives) {
    std::vector<double>& own = sd_a_.emplace_back();
    for (std::size_t k = 0; k < drive.blocks(); ++k)
      own.push_back(std::hypot(drive.noise_a[k], drive.allowed_a[k], drive.timing_a[k]));
    expected_a2_.emplace_back(drive.blocks(), 0.0);
  }
}

void BlockWeights::set(const std::vector<Variances>& parts) {
  for (std::size_t c = 0; c < parts.size(); ++c) {
    for (std::size_t k = 0; k < parts[c].noise.size(); ++k) {
      sd_a_[c][k] = std::sqrt(parts[c].of_block(k, learned_.needed));
      expected_a2_[c][k] = parts[c].of_block(k, whole_allowances);
    }
  }
}

void BlockWeights::learn(const std::vector<DrivenCapture>& drives, const std::vector<Variances>& parts,
                         const std::vector<std::vector<double>>& square_a2, double misses) {
  constexpr double least_share = 0.001;  // of an allowance that is not needed
  learned_.emphasis = 1.0 + misses * (blocks_per_observation - 1.0);
  learned_.needed = needed_shares(drives, parts, square_a2, learned_.emphasis, std::max(misses, least_share));
  set(parts);
}

}  // namespace lampload
