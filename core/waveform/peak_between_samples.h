#pragma once
// How high a surge may have been between the samples that show it.

#include <cstddef>
#include <span>

namespace lampload {

/// The most that the peak at sample `top` may have reached. A surge that rises within a sample, as a capacitor charged
/// through a resistance does, is drawn back along its fall to the sample before; a rounded one by a parabola. At least
/// the sample itself.
double peak_at_most_a(std::span<const double> current_a, double offset_a, std::size_t top);

}  // namespace lampload
