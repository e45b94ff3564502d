#pragma once

#include <cstddef>
#include <vector>

namespace lampload {

/// Straight-line values at equidistant instants of a waveform that is known at its own, ascending ones; past its ends,
/// the value there. Where two instants are the same the later value follows. time_s and value: the same length, not
/// empty.
std::vector<double> sampled(const std::vector<double>& time_s, const std::vector<double>& value, double from_s,
                            double interval_s, std::size_t count);

}  // namespace lampload
