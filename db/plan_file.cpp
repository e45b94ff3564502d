#include "db/plan_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "core/error.h"
#include "db/channel_parts.h"
#include "db/json_reader.h"
#include "db/nearest.h"
#include "db/plan_keys.h"

namespace lampload {
namespace {

using json::Json;
using json::Object;

/// Names that may stand only once in the plan.
class Names {
 public:
  explicit Names(std::string_view what) : what_(what) {}
  void take(const Object& from, const std::string& name) {
    if (!taken_.insert(name).second) {
      from.refuse("name", fmt::format("the plan has another {} of the name '{}'", what_, name),
                  "Give each its own name");
    }
  }
  [[nodiscard]] std::vector<std::string> all() const { return {taken_.begin(), taken_.end()}; }

 private:
  std::string_view what_;
  std::set<std::string> taken_;
};

void check_plan_format(const Object& from) {
  if (!from.has("format")) {
    from.refuse("format", "is missing", fmt::format("Give a plan file; its format is \"{}\"", plan_keys::format));
  }
  if (const std::string found = from.text("format"); found != plan_keys::format) {
    from.refuse("format", fmt::format("\"{}\" was expected, here is \"{}\"", plan_keys::format, found),
                "This is another file");
  }
  if (const std::string found = from.text("format_version"); found != plan_keys::format_version) {
    from.refuse("format_version",
                fmt::format("this program knows version \"{}\", the file has \"{}\"", plan_keys::format_version, found),
                "Use a lampload that knows it");
  }
}

PlanBreaker read_breaker(const Object& from, Names& names) {
  from.allow_only(plan_keys::breaker);
  PlanBreaker breaker;
  breaker.name = channel_parts::name(from, "name");
  names.take(from, breaker.name);
  breaker.breaker = channel_parts::breaker(from);
  if (from.has("stagger_s")) breaker.stagger_s = from.number("stagger_s", 0.0, plan_keys::longest_stagger_s);
  return breaker;
}

PlanBoard read_board(const Object& from, Names& boards, Names& breakers) {
  from.allow_only(plan_keys::board);
  PlanBoard board;
  board.name = channel_parts::name(from, "name");
  boards.take(from, board.name);
  if (from.has("supply")) {
    const Object supply = from.object("supply");
    for (const std::string_view key : {"voltage_v", "frequency_hz"}) {
      if (!supply.has(key)) supply.refuse(key, "is missing", "Say what the mains are at this place");
    }
    board.supply = channel_parts::supply(supply);
  }
  for (const Object& breaker : from.objects("breakers")) board.breakers.push_back(read_breaker(breaker, breakers));
  return board;
}

/// Parameters by the family's own table: optional ones may be left out.
PlanLamp read_lamp(const Object& from, Names& names) {
  from.allow_only(plan_keys::lamp);
  std::string name = channel_parts::name(from, "name");
  names.take(from, name);
  const FamilyInfo* family = nullptr;
  try {
    family = &find_family(from.text("family"), from.has("load_law") ? from.text("load_law") : "");
  } catch (const Error& error) {
    from.refuse("family", error.message());
  }
  const Object parameters = from.object("parameters");
  std::vector<std::string_view> known;
  for (const ParameterSpec& spec : family->parameters) known.push_back(spec.name);
  parameters.allow_only(known);
  std::vector<double> values;
  for (const ParameterSpec& spec : family->parameters) {
    const bool left_out = spec.optional && !parameters.has(spec.name);
    values.push_back(left_out ? spec.absent : parameters.number(spec.name, spec.lower, spec.upper));
  }
  std::optional<bool> dimmable;
  if (from.has("label_dimmable")) dimmable = from.flag("label_dimmable");
  return {std::move(name), Lamp(*family, std::move(values)), dimmable};
}

std::vector<PlanLoad> read_loads(const Object& from) {
  std::vector<PlanLoad> loads;
  for (const Object& one : from.objects("lamps")) {
    one.allow_only(plan_keys::load);
    loads.push_back({channel_parts::name(one, "lamp"), one.whole("count", 1.0, plan_keys::most_lamps)});
  }
  if (loads.empty()) from.refuse("lamps", "at least one lamp was expected", "Leave the channel out while it is empty");
  return loads;
}

/// The board that has the breaker; null where no breaker is named.
const PlanBoard* board_of(const Object& from, const std::string& breaker, const std::vector<PlanBoard>& boards,
                          const Names& known) {
  if (breaker.empty()) return nullptr;
  for (const PlanBoard& board : boards) {
    for (const PlanBreaker& one : board.breakers) {
      if (one.name == breaker) return &board;
    }
  }
  from.refuse("breaker",
              fmt::format("no board has a breaker '{}'; {}", breaker,
                          nearest_sentence(breaker, known.all(), "the plan has no breakers")),
              "Name one of them, or leave the key out");
}

void read_source(const Object& from, const PlanBoard* board, PlanChannel& channel) {
  std::vector<std::string_view> given;
  for (const std::string_view key : {"library_channel", "channel_file", "description"}) {
    if (from.has(key)) given.push_back(key);
  }
  if (given.size() != 1) {
    from.refuse(
        given.empty() ? "library_channel" : given[1],
        given.empty() ? "is missing, and so are channel_file and description"
                      : fmt::format("{} is there already", given[0]),
        "Say once what the channel is: by its name in the library, by a channel file, or by a description here");
  }
  if (given[0] == "library_channel") {
    channel.in_library = channel_parts::name(from, "library_channel");
  } else if (given[0] == "channel_file") {
    channel.file = from.text("channel_file");
    if (channel.file.empty()) from.refuse("channel_file", "the path of a channel file was expected");
  } else {
    const Object description = from.object("description");
    description.allow_only(plan_keys::description);
    channel.described = channel_parts::described(description, board != nullptr ? board->supply : std::nullopt);
    channel.described->name = channel.name;
  }
}

PlanChannel read_channel(const Object& from, const std::vector<PlanBoard>& boards, const Names& breakers,
                         Names& names) {
  from.allow_only(plan_keys::channel);
  PlanChannel channel;
  channel.name = channel_parts::name(from, "name");
  names.take(from, channel.name);
  if (from.has("breaker")) channel.breaker = channel_parts::name(from, "breaker");
  read_source(from, board_of(from, channel.breaker, boards, breakers), channel);
  if (from.has("cable")) channel.cable = channel_parts::cable(from.object("cable"));
  if (from.has("mode")) channel.mode = static_cast<Mode>(from.choice("mode", plan_keys::modes));
  if (from.has("starts_with")) channel.starts_with = channel_parts::name(from, "starts_with");
  channel.lamps = read_loads(from);
  return channel;
}

}  // namespace

Plan parse_plan(const std::string& json_text, const std::string& origin) {
  const Json document = json::parse(json_text, origin, 12);
  const Object from(document, origin, "");
  check_plan_format(from);
  from.allow_only(plan_keys::top);
  Plan plan;
  plan.name = channel_parts::name(from, "name");
  Names boards("board");
  Names breakers("breaker");
  Names lamps("lamp");
  Names rooms("room");
  Names channels("channel");
  if (from.has("boards")) {
    for (const Object& board : from.objects("boards")) plan.boards.push_back(read_board(board, boards, breakers));
  }
  if (from.has("lamps")) {
    for (const Object& lamp : from.objects("lamps")) plan.lamps.push_back(read_lamp(lamp, lamps));
  }
  bool any = false;
  for (const Object& one : from.objects("rooms")) {
    one.allow_only(plan_keys::room);
    PlanRoom& room = plan.rooms.emplace_back();
    room.name = channel_parts::name(one, "name");
    rooms.take(one, room.name);
    for (const Object& channel : one.objects("channels")) {
      room.channels.push_back(read_channel(channel, plan.boards, breakers, channels));
      any = true;
    }
  }
  if (!any) from.refuse("rooms", "no room has a channel", "Put the channels of each room into its list");
  return plan;
}

Plan read_plan_file(const std::string& path) { return parse_plan(json::read_file(path), path); }

}  // namespace lampload
