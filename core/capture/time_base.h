#pragma once
// From the time stamps of a file to equidistant samples.

#include <cstddef>
#include <string>
#include <vector>

#include "core/capture/capture.h"

namespace lampload {

/// Time stamps as they were read, with what was seen on the way.
struct Stamps {
  std::vector<double> time_s;
  std::size_t repeated = 0;             ///< stamps equal to the one before
  std::size_t first_repeated_line = 0;  ///< 1-based
  double largest_step_s = 0.0;
  std::size_t largest_step_line = 0;

  /// Appends a stamp. False: time runs backwards.
  bool add(double time, std::size_t line);
};

/// Finds start and interval; where the stamps are not those of a uniform clock, resamples both channels (an empty one
/// is left out) linearly, with a note. Throws Error{input_refused} where the stamps make no sense.
void make_uniform(const Stamps& stamps, Capture& capture);

}  // namespace lampload
