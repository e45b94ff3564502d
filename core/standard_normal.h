#pragma once
// Drawn noise that is the same with every standard library, which std::normal_distribution is not.

#include <random>

namespace lampload {

/// Mean 0, standard deviation 1: a sum of twelve uniform numbers.
inline double standard_normal(std::mt19937_64& random) {
  double sum = -6.0;
  for (int k = 0; k < 12; ++k) sum += static_cast<double>(random() >> 11U) * 0x1p-53;
  return sum;
}

}  // namespace lampload
