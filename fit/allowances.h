#pragma once
// What the variance of a block's residual is made of: noise of both channels, and allowances for what a model may miss,
// of which a fit may learn how much is needed.

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "fit/drive.h"

namespace lampload {

/// Blocks are correlated: about this many carry what one independent observation would, until a fit has learned it.
inline constexpr double blocks_per_observation = 10.0;

/// For the model's current, for instants a little off, and at jumps.
inline constexpr std::size_t allowances = 3;
/// How much of each is counted, 0 to 1.
using AllowanceShares = std::array<double, allowances>;
inline constexpr AllowanceShares whole_allowances = {1.0, 1.0, 1.0};

/// What a fit has learned of its own blocks.
struct Learned {
  AllowanceShares needed = whole_allowances;
  /// About this many blocks carry what one independent observation would: knowledge from elsewhere counts accordingly.
  double emphasis = blocks_per_observation;
};

/// Of one capture's blocks [A^2].
struct Variances {
  std::vector<double> noise;
  std::array<std::vector<double>, allowances> allowed;

  [[nodiscard]] double of_block(std::size_t k, const AllowanceShares& shares) const;
};

/// model_a: mean current that the channel would show over each block; passed_on_a2: mean square of what the voltage's
/// noise changes of it.
Variances variances_of(const DrivenCapture& drive, std::span<const double> model_a, double delay_s,
                       std::span<const double> passed_on_a2);

/// Shares of the allowances that the residuals' squares [A^2] over the fitted blocks ask for, by weighted least squares
/// of the squares less the noise. What few blocks say counts beside the whole allowance; about `alike` blocks say the
/// same. At least `least` of each.
AllowanceShares needed_shares(std::span<const DrivenCapture> drives, const std::vector<Variances>& parts,
                              const std::vector<std::vector<double>>& square_a2, double alike, double least);

/// Standard deviation of every block of every capture, and how knowledge from elsewhere counts beside them.
class BlockWeights {
 public:
  /// By what the current channel alone says.
  explicit BlockWeights(const std::vector<DrivenCapture>& drives);

  void set(const std::vector<Variances>& parts);
  /// Learns what of the allowances the squares [A^2] of a solution's residuals ask for, then sets. misses: 0 where the
  /// residuals are white, 1 where every allowance has to stay.
  void learn(const std::vector<DrivenCapture>& drives, const std::vector<Variances>& parts,
             const std::vector<std::vector<double>>& square_a2, double misses);

  [[nodiscard]] const std::vector<double>& operator[](std::size_t capture) const { return sd_a_[capture]; }
  [[nodiscard]] const std::vector<std::vector<double>>& sd_a() const { return sd_a_; }
  /// Mean square that noise and whole allowances make one expect [A^2].
  [[nodiscard]] double expected_a2(std::size_t capture, std::size_t block) const {
    return expected_a2_[capture][block];
  }
  [[nodiscard]] const Learned& learned() const { return learned_; }
  /// Counts from the next set() on.
  void take_over(const Learned& learned) { learned_ = learned; }

 private:
  std::vector<std::vector<double>> sd_a_;
  std::vector<std::vector<double>> expected_a2_;
  Learned learned_;
};

}  // namespace lampload
