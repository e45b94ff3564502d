#pragma once
// Where a map meets itself, x = F(x), seen from a few of its values (Anderson's method).

#include <span>
#include <vector>

namespace lampload {

/// Keeps the last differences between evaluations of F. Along them F is taken as straight.
class Secants {
 public:
  struct Estimate {
    std::vector<double> value;  ///< the last value, moved to where the residual vanishes as far as known
    double unexplained = 0.0;   ///< largest part of the residual that no difference speaks of
    int own = 0;                ///< differences in use that were added since begin()
  };

  /// A new map begins, near the last one: differences are kept, and the next evaluation makes none with the one before.
  void begin();
  /// One evaluation at x. residual: what of F(x) - x counts, in units of its tolerance; value: F(x), and anything else
  /// that is wanted where the residual vanishes.
  void add(std::span<const double> residual, std::span<const double> value);
  void forget() { pairs_.clear(); }
  [[nodiscard]] Estimate estimate() const;
  /// Entries of the values change their unit.
  void scale(std::size_t entry, double factor);

 private:
  struct Pair {
    std::vector<double> residual, value;
    bool own = true;
  };
  std::vector<Pair> pairs_;  ///< newest last
  std::vector<double> residual_, value_;
};

}  // namespace lampload
