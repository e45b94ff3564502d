#include "fit/block_current.h"

namespace lampload {

BlockCurrent::BlockCurrent(const Drive& drive, const std::vector<double>& mean_a, const std::vector<double>& end_a)
    : mean_a_(mean_a) {
  bound_a_.push_back(drive.from_rest ? 0.0 : end_a.front());
  bound_a_.insert(bound_a_.end(), end_a.begin(), end_a.end());
  charge_.push_back(0.0);
  for (std::size_t k = 0; k < mean_a.size(); ++k)
    charge_.push_back(charge_.back() + mean_a[k] * static_cast<double>(drive.bounds[k + 1] - drive.bounds[k]));
}

std::vector<ShiftedMean> BlockCurrent::at(const Drive& drive, double delay_s) const {
  const std::size_t blocks = mean_a_.size();
  std::vector<ShiftedMean> seen(blocks);
  const double shift = delay_s / drive.dt_s;
  const auto bound = [&](std::size_t b) { return static_cast<double>(drive.bounds[b]); };
  std::size_t in = 0;  // the block that holds the place
  double charge_before = 0.0;
  double current_before = 0.0;
  for (std::size_t b = 0; b <= blocks; ++b) {
    const double place = bound(b) + shift;
    while (in + 1 < blocks && place >= bound(in + 1)) ++in;
    double charge = 0.0;
    double current = 0.0;
    if (place <= bound(0)) {
      current = bound_a_.front();
      charge = (place - bound(0)) * current;
    } else if (place >= bound(blocks)) {
      current = bound_a_.back();
      charge = charge_.back() + (place - bound(blocks)) * current;
    } else {
      // A straight line between the block's ends, and a parabola on it that keeps the mean.
      const double length = bound(in + 1) - bound(in);
      const double s = (place - bound(in)) / length;
      const double rise = bound_a_[in + 1] - bound_a_[in];
      const double beyond = mean_a_[in] - 0.5 * (bound_a_[in] + bound_a_[in + 1]);
      current = bound_a_[in] + s * rise + 6.0 * s * (1.0 - s) * beyond;
      charge = charge_[in] + length * s * (bound_a_[in] + 0.5 * s * rise + s * (3.0 - 2.0 * s) * beyond);
    }
    if (b > 0) {
      const double count = bound(b) - bound(b - 1);
      seen[b - 1] = {(charge - charge_before) / count, (current - current_before) / count / drive.dt_s};
    }
    charge_before = charge;
    current_before = current;
  }
  return seen;
}

}  // namespace lampload
