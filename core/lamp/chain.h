#pragma once
// The chain rule by hand, for inner loops: a value computed with plain numbers, and its partial derivatives by the few
// quantities it depends on. Far cheaper than carrying ten derivatives through every operation.

#include <cstddef>
#include <type_traits>

#include "core/lamp/dual.h"

namespace lampload {

template <class T>
struct Partial {
  double slope;
  const T& by;

  template <class Result>
  void add_to(Result& result) const {
    if constexpr (!std::is_arithmetic_v<T>) result.v += slope * by.v;
  }
};

/// A quantity that depends on one of the unknowns alone, as most parameters do: it takes one multiplication, where a
/// quantity that depends on all of them takes one for each.
template <class T>
class Lone {
 public:
  explicit Lone(const T& quantity) : whole_(quantity) {
    if constexpr (has_slots) {
      std::size_t found = 0;
      for (std::size_t k = 0; k < static_cast<std::size_t>(quantity.v.size()); ++k) {
        const double slope = quantity.v[static_cast<Slot>(k)];
        if (slope == 0.0) continue;
        slot_ = static_cast<Slot>(k);
        slope_ = slope;
        ++found;
      }
      lone_ = found <= 1;
    }
  }
  [[nodiscard]] const T& whole() const { return whole_; }
  [[nodiscard]] double value() const { return value_of(whole_); }
  /// Depends on nothing.
  [[nodiscard]] bool fixed() const { return std::is_arithmetic_v<T> || (lone_ && slope_ == 0.0); }

  template <class Result>
  void add_to(Result& result, double slope) const {
    if constexpr (has_slots) {
      if (lone_) {
        result.v[slot_] += slope * slope_;
        return;
      }
    }
    Partial<T>{slope, whole_}.add_to(result);
  }

 private:
  static constexpr bool has_slots = requires(const T& quantity) { quantity.v.size(); };
  using Slot = std::ptrdiff_t;
  T whole_;
  Slot slot_ = 0;
  double slope_ = 0.0;
  bool lone_ = false;
};

template <class T>
struct LonePartial {
  double slope;
  const Lone<T>& by;

  template <class Result>
  void add_to(Result& result) const {
    by.add_to(result, slope);
  }
};
template <class T>
LonePartial(double, const Lone<T>&) -> LonePartial<T>;

/// The value, with the derivatives sum of slope * by.v. For T = double just the value. Partials by plain numbers count
/// for nothing.
template <class T, class... More>
T chain(double value, const Partial<T>& first, const More&... more) {
  if constexpr (std::is_arithmetic_v<T>) {
    return value;
  } else {
    T result(value);
    result.v = first.slope * first.by.v;
    (more.add_to(result), ...);
    return result;
  }
}

}  // namespace lampload
