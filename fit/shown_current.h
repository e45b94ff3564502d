#pragma once
// The current that a late channel shows: the model's, read at the time before. It is known by charge and current at the
// bounds of blocks, and by a cubic of the charge between them. The measured current is never read between samples: it
// has less noise there than at them, and a fit would take that for a better delay.

#include <cmath>
#include <cstddef>
#include <span>
#include <type_traits>
#include <vector>

#include "core/lamp/dual.h"

namespace lampload {

/// What the channel shows over one block.
template <class T>
struct ShownBlock {
  std::size_t block;
  T mean_a;        ///< of a block of one sample: that of its two ends, as samples make it
  double by_late;  ///< slope of the mean by the delay [A by the sample]
  double end_a;    ///< at its end
};

/// Blocks go in as they are simulated, and come out as soon as the current is known for as long as they need.
template <class T>
class ShownCurrent {
 public:
  /// bounds: of the blocks, in samples; late: of the channel, in samples, negative where it is early.
  ShownCurrent(std::span<const std::size_t> bounds, double late)
      : bounds_(bounds), late_(late), beyond_(std::abs(late) + 1.0), knots_(64) {}

  /// The current that flows before the first block.
  void begin(const T& first_a) {
    push(-beyond_, first_a, first_a);
    push(0.0, first_a, first_a);
  }

  [[nodiscard]] bool begun() const { return count_ > 0; }

  /// A part of the next block, up to this share of it: its own mean current, and the current at its end. What is left
  /// of the block follows with add().
  void add_part(double share, const T& mean_a, const T& end_a) {
    const double from = place(added_);
    push(from + share * (place(added_ + 1) - from), mean_a, end_a);
  }

  /// The next block's mean current, and the current at its end. Calls take(ShownBlock) for what is known by now.
  template <class Take>
  void add(const T& mean_a, const T& end_a, Take&& take) {
    const double end = place(++added_);
    push(end, mean_a, end_a);
    while (read_ < added_ && place(read_ + 1) - late_ <= end) read(take);
  }

  /// After the last block the current stands.
  template <class Take>
  void finish(Take&& take) {
    const T last_a = knot(count_ - 1).current_a;
    push(knot(count_ - 1).place + beyond_, last_a, last_a);
    while (read_ < added_) read(take);
  }

 private:
  /// Ends one stretch and begins the next.
  struct Knot {
    double place = 0.0;  ///< samples since the first bound
    T mean_a{};          ///< of the stretch before it
    T current_a{};
  };
  /// Shares of a stretch's beginning current, mean and ending current in something that depends on them.
  struct Shares {
    double begin = 0.0, mean = 0.0, end = 0.0;
  };
  struct Moment {
    std::size_t knot = 0;  ///< that begins its stretch
    double length = 1.0;   ///< of the stretch
    double u = 0.0;        ///< share of it that has passed
    double current_a = 0.0, change_a = 0.0;

    /// In the charge since the stretch's beginning [samples].
    [[nodiscard]] Shares of_charge() const {
      const double v = 1.0 - u;
      return {length * u * v * v, length * u * u * (3.0 - 2.0 * u), -length * u * u * v};
    }
    [[nodiscard]] Shares of_current() const {
      const double v = 1.0 - u;
      return {v * (1.0 - 3.0 * u), 6.0 * u * v, -u * (2.0 - 3.0 * u)};
    }
    /// In the current's change by the sample.
    [[nodiscard]] Shares of_change() const {
      return {(6.0 * u - 4.0) / length, 6.0 * (1.0 - 2.0 * u) / length, (6.0 * u - 2.0) / length};
    }
  };

  [[nodiscard]] double place(std::size_t bound) const { return static_cast<double>(bounds_[bound] - bounds_.front()); }
  [[nodiscard]] const Knot& knot(std::size_t k) const { return knots_[k & (knots_.size() - 1)]; }

  /// Knots that are still to be read between lie in a ring, whose size is a power of two.
  void push(double at, const T& mean_a, const T& current_a) {
    if (count_ - before_.knot == knots_.size()) {
      std::vector<Knot> larger(2 * knots_.size());
      for (std::size_t k = before_.knot; k < count_; ++k) larger[k & (larger.size() - 1)] = knot(k);
      knots_ = std::move(larger);
    }
    Knot& next = knots_[count_++ & (knots_.size() - 1)];
    next.place = at;
    next.mean_a = mean_a;
    next.current_a = current_a;
  }

  /// Times asked for must not fall.
  [[nodiscard]] Moment moment(double at) const {
    Moment found;
    found.knot = before_.knot;
    while (found.knot + 2 < count_ && knot(found.knot + 1).place <= at) ++found.knot;
    const Knot& a = knot(found.knot);
    const Knot& b = knot(found.knot + 1);
    found.length = b.place - a.place;
    found.u = (at - a.place) / found.length;
    const auto sum = [&](const Shares& by) {
      return by.begin * value_of(a.current_a) + by.mean * value_of(b.mean_a) + by.end * value_of(b.current_a);
    };
    found.current_a = sum(found.of_current());
    found.change_a = sum(found.of_change());
    return found;
  }

  static void add_to(T& sum, double share, const T& one) {
    if constexpr (std::is_arithmetic_v<T>) {
      sum += share * one;
    } else {
      sum.a += share * one.a;
      sum.v += share * one.v;
    }
  }

  template <class Take>
  void read(Take&& take) {
    if (read_ == 0) before_ = moment(-late_);
    const Moment after = moment(place(read_ + 1) - late_);
    const std::size_t samples = bounds_[read_ + 1] - bounds_[read_];
    const double each = 1.0 / static_cast<double>(samples);
    ShownBlock<T> shown{read_, T(0.0), 0.0, after.current_a};
    // Samples next to each other make a trapezoid of a pulse between them, whatever its charge.
    if (samples == 1) {
      shown.by_late = -0.5 * (before_.change_a + after.change_a);
      sum_up(shown.mean_a, 0.5, before_.of_current(), 0.5, after.of_current(), after.knot, 0.0);
    } else {
      shown.by_late = -each * (after.current_a - before_.current_a);
      sum_up(shown.mean_a, -each, before_.of_charge(), each, after.of_charge(), after.knot, each);
    }
    before_ = after;
    ++read_;
    take(shown);
  }

  /// Shares in the stretches of before_ and of `last_knot`, and whole stretches in between, each with its factor.
  void sum_up(T& sum, double first_factor, const Shares& first, double last_factor, const Shares& last,
              std::size_t last_knot, double whole_factor) const {
    for (std::size_t k = before_.knot; k <= last_knot + 1; ++k) {
      const Knot& here = knot(k);
      double current = 0.0;
      double mean = 0.0;
      if (k == before_.knot) current += first_factor * first.begin;
      if (k == last_knot) current += last_factor * last.begin;
      if (k == before_.knot + 1) {
        current += first_factor * first.end;
        mean += first_factor * first.mean;
      }
      if (k == last_knot + 1) {
        current += last_factor * last.end;
        mean += last_factor * last.mean;
      } else if (k > before_.knot) {
        mean += whole_factor * (here.place - knot(k - 1).place);
      }
      if (current != 0.0) add_to(sum, current, here.current_a);
      if (mean != 0.0) add_to(sum, mean, here.mean_a);
    }
  }

  std::span<const std::size_t> bounds_;
  double late_;
  double beyond_;  ///< how far the current stands before the first bound and past the last [samples]
  std::vector<Knot> knots_;
  std::size_t count_ = 0;  ///< of knots so far
  std::size_t added_ = 0;  ///< blocks that went in
  std::size_t read_ = 0;   ///< and came out
  Moment before_;          ///< at the beginning of the block that comes out next
};

}  // namespace lampload
