#pragma once
// Lamps on channels, to be counted by the program and tried in ngspice with as many, and one more.

#include <string>
#include <vector>

#include "core/advice/load_check.h"

namespace lampload::test {

struct Pair {
  std::string name;             ///< lamp, channel, mode, constraint
  Channel channel;              ///< its one rating is what binds
  std::vector<LoadItem> fixed;  ///< other lamps that are there anyway
  LampEvidence lamp;            ///< the one that is counted; known exactly, pieces all alike
  Mode mode = Mode::on_off;
  std::string constraint;
  int about = 5;  ///< lamps: the rating lies between what so many come to, and what one more does
};

/// All of them, in a fixed order. Lamps and channels are invented.
std::vector<Pair> channel_pairs();

/// A pair counted and tried.
struct Trial {
  int lamps = 0;  ///< the nominal count
  double limit = 0.0;
  std::string unit;
  double setting_deg = 0.0;
  bool at_turn_on = false;
  double ours = 0.0, ours_more = 0.0;      ///< with so many, with one more
  double theirs = 0.0, theirs_more = 0.0;  ///< in ngspice, at the setting where ours is worst
  double highest = 0.0;                    ///< in ngspice with `lamps`, over the settings beside it too
  int helped = 0;                          ///< most that ngspice was helped to converge (channel_circuit.h)

  [[nodiscard]] double deviation() const;  ///< the larger one, relative
  [[nodiscard]] bool holds() const { return highest <= limit; }
  [[nodiscard]] bool fails_with_one_more() const { return theirs_more > limit; }
};

/// beside: looks at the settings 10 degrees to both sides too.
Trial try_pair(const Pair& pair, bool beside);

}  // namespace lampload::test
