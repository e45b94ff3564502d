#pragma once
// A current known by its mean over each block and its value at each block's end, read at other times.

#include <cstddef>
#include <vector>

#include "fit/drive.h"

namespace lampload {

class BlockCurrent {
 public:
  BlockCurrent() = default;
  /// mean_a, end_a: one for each block of the drive.
  BlockCurrent(const Drive& drive, const std::vector<double>& mean_a, const std::vector<double>& end_a);

  /// Its mean over each block of the drive, read delay_s later, and the slope by the delay. Past the ends of the
  /// record the current stays what it is there.
  [[nodiscard]] std::vector<ShiftedMean> at(const Drive& drive, double delay_s) const;

 private:
  std::vector<double> mean_a_;
  std::vector<double> bound_a_;  ///< at the blocks' bounds
  std::vector<double> charge_;   ///< up to each of them [A samples]
};

}  // namespace lampload
