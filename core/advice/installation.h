#pragma once
// A whole installation as it is planned: breakers, channels behind them, lamps on the channels.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/advice/load_check.h"
#include "core/circuit/channel.h"

namespace lampload {

struct PlannedBreaker {
  std::string board;
  std::string name;
  Breaker breaker;
  double stagger_s = 0.0;  ///< between the starts of channels that start together; 0: all at once
};

struct PlannedChannel {
  std::string room;
  Channel channel;  ///< as it stands there: name, cable and supply of the place, the breaker's rating
  std::optional<std::size_t> breaker;  ///< index into Installation::breakers
  std::optional<Mode> mode;            ///< empty: the one with most margin
  std::string starts_with;             ///< channels of one breaker with the same text start together
  std::vector<LoadItem> lamps;
};

struct Installation {
  std::string name;
  std::vector<PlannedBreaker> breakers;
  std::vector<PlannedChannel> channels;
};

}  // namespace lampload
