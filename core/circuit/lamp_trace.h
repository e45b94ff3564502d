#pragma once
// What each lamp of a network sees during a run: its own current, and how far its reservoir goes up and down.

#include <cstddef>
#include <span>
#include <vector>

#include "core/circuit/network.h"
#include "core/circuit/switch_course.h"

namespace lampload {

/// Of one lamp of a group.
struct LampFigures {
  double rms_a = 0.0;     ///< into the lamp
  double ripple_v = 0.0;  ///< of its reservoir, peak to peak; 0: its family has none
};

class LampTrace {
 public:
  /// Begins at the network's present instant, which must outlive it. reservoirs: by group, which of its lamp's states
  /// is a reservoir; beyond them: none.
  LampTrace(const Network& network, std::span<const std::size_t> reservoirs);

  /// After each step of the network.
  void step(double dt_s);
  /// By group; length_s: of the whole run.
  [[nodiscard]] std::vector<LampFigures> figures(double length_s) const;

 private:
  struct Record {
    double last_a, square, lowest_v, highest_v;
  };
  [[nodiscard]] double reservoir_v(std::size_t group) const;

  const Network& network_;
  std::span<const std::size_t> reservoirs_;
  std::vector<Record> records_;
};

}  // namespace lampload
