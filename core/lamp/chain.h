#pragma once
// The chain rule by hand, for inner loops: a value computed with plain numbers, and its partial derivatives by the few
// quantities it depends on. Far cheaper than carrying ten derivatives through every operation.

#include <type_traits>

namespace lampload {

template <class T>
struct Partial {
  double slope;
  const T& by;
};

/// The value, with the derivatives sum of slope * by.v. For T = double just the value.
template <class T, class... More>
T chain(double value, const Partial<T>& first, const More&... more) {
  if constexpr (std::is_arithmetic_v<T>) {
    return value;
  } else {
    T result(value);
    result.v = first.slope * first.by.v;
    ((result.v += more.slope * more.by.v), ...);
    return result;
  }
}

}  // namespace lampload
