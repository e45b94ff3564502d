#pragma once
// The plan file: JSON, "format":"lampload-plan", "format_version":"1.0". docs/formats/plan.md describes every key.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/channel.h"
#include "core/lamp/lamp.h"

namespace lampload {

struct PlanBreaker {
  std::string name;  ///< unique in the plan
  Breaker breaker;
  double stagger_s = 0.0;  ///< between the starts of channels that start together
};

struct PlanBoard {
  std::string name;
  std::optional<Supply> supply;  ///< takes the place of what the channels' descriptions say
  std::vector<PlanBreaker> breakers;
};

/// A lamp that the plan itself describes, by its circuit.
struct PlanLamp {
  std::string name;
  Lamp lamp;
  std::optional<bool> label_dimmable;
};

struct PlanLoad {
  std::string lamp;  ///< one of the plan, else one of the library
  int count = 1;
};

/// Exactly one of in_library, file and described says what the channel is.
struct PlanChannel {
  std::string name;  ///< unique in the plan
  std::string in_library;
  std::string file;  ///< as written; relative to the plan's folder
  std::optional<Channel> described;
  std::optional<Cable> cable;  ///< takes the place of what the description says
  std::string breaker;         ///< empty: none of the plan's
  std::optional<Mode> mode;    ///< empty: the program chooses
  std::string starts_with;     ///< empty: with all others that say nothing
  std::vector<PlanLoad> lamps;
};

struct PlanRoom {
  std::string name;
  std::vector<PlanChannel> channels;
};

struct Plan {
  std::string name;
  std::vector<PlanBoard> boards;
  std::vector<PlanLamp> lamps;
  std::vector<PlanRoom> rooms;
};

/// Reads and checks a plan file. Throws Error{input_refused} with file and key for every fault, as read_channel_file()
/// does; also for names that stand twice, a breaker that no board has, a lamp out of physical bounds, a plan without
/// channels.
Plan read_plan_file(const std::string& path);

/// The same from text; `origin` names it in errors.
Plan parse_plan(const std::string& json_text, const std::string& origin);

}  // namespace lampload
