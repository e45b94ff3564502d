#include "db/channel_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <type_traits>
#include <utility>
#include <vector>

#include "core/error.h"
#include "db/channel_keys.h"
#include "db/channel_parts.h"
#include "db/json_reader.h"

namespace lampload {
namespace {

namespace keys = channel_keys;
using json::Json;
using json::Object;

constexpr std::string_view format = "lampload-channel";

template <class Keys>
void add_names(std::vector<std::string_view>& names, const Keys& list) {
  for (const auto& key : list) names.push_back(key.name);
}

/// A file says which version it keeps to, and has no keys of a later one: a program that knows only that version must
/// be able to read it.
void check_version(const Object& from, std::string_view key, int key_minor, int minor) {
  if (key_minor <= minor || !from.has(key)) return;
  const std::string_view needed = keys::format_versions.at(static_cast<std::size_t>(key_minor));
  from.refuse(key,
              fmt::format("is a key of version \"{}\", and the file says \"{}\"", needed,
                          keys::format_versions.at(static_cast<std::size_t>(minor))),
              fmt::format("Write \"format_version\": \"{}\"", needed));
}

template <class Target, class Keys>
void read_numbers(const Object& from, int minor, const Keys& list, Target& target) {
  for (const auto& key : list) {
    check_version(from, key.name, key.minor, minor);
    if (key.required || from.has(key.name)) target.*key.field = from.number(key.name, key.lower, key.upper);
  }
}

template <class Target>
void read_flag(const Object& from, int minor, const keys::Flag<Target>& key, Target& target) {
  check_version(from, key.name, key.minor, minor);
  if (from.has(key.name)) target.*key.field = from.flag(key.name);
}

SupplyHarmonic read_harmonic(const Object& from, int minor) {
  std::vector<std::string_view> names = {keys::harmonic_order};
  add_names(names, keys::harmonic);
  from.allow_only(names);
  SupplyHarmonic harmonic;
  harmonic.order = from.whole(keys::harmonic_order, keys::least_order, keys::highest_order);
  read_numbers(from, minor, keys::harmonic, harmonic);
  return harmonic;
}

Supply read_supply(const Object& from, int minor) {
  std::vector<std::string_view> names;
  add_names(names, keys::supply);
  names.push_back(keys::dc_offset.name);
  names.push_back(keys::supply_harmonics);
  from.allow_only(names);
  Supply supply;
  read_numbers(from, minor, keys::supply, supply);
  read_numbers(from, minor, std::array{keys::dc_offset}, supply);
  check_version(from, keys::supply_harmonics, keys::supply_harmonics_minor, minor);
  if (!from.has(keys::supply_harmonics)) return supply;
  for (const Object& one : from.objects(keys::supply_harmonics)) {
    supply.harmonics.push_back(read_harmonic(one, minor));
    const int order = supply.harmonics.back().order;
    if (std::count_if(supply.harmonics.begin(), supply.harmonics.end(),
                      [&](const SupplyHarmonic& known) { return known.order == order; }) > 1) {
      one.refuse(keys::harmonic_order, fmt::format("{} stands twice in the list", order), "Give each order once");
    }
  }
  return supply;
}

Cable read_cable(const Object& from, int minor) {
  std::vector<std::string_view> names;
  add_names(names, keys::cable);
  add_names(names, keys::conductor);
  names.push_back(keys::shared_neutral.name);
  from.allow_only(names);
  Cable cable;
  read_numbers(from, minor, keys::cable, cable);
  read_numbers(from, minor, keys::conductor, cable);
  read_flag(from, minor, keys::shared_neutral, cable);
  return cable;
}

Limits read_limits(const Object& from, int minor) {
  std::vector<std::string_view> names;
  add_names(names, keys::limits);
  names.push_back(keys::harmonics.name);
  from.allow_only(names);
  Limits limits;
  read_numbers(from, minor, keys::limits, limits);
  read_flag(from, minor, keys::harmonics, limits);
  return limits;
}

Breaker read_breaker(const Object& from) {
  Breaker breaker;
  breaker.curve = keys::breaker_curves[from.choice("curve", keys::breaker_curves)].front();
  breaker.rating_a = from.number(keys::breaker_rating.name, keys::breaker_rating.lower, keys::breaker_rating.upper);
  return breaker;
}

SwitchKind usual_switch(OutputKind kind) {
  switch (kind) {
    case OutputKind::phase_cut:
      return SwitchKind::mosfet_pair;
    case OutputKind::relay:
      return SwitchKind::relay;
    case OutputKind::dc_pwm:
    case OutputKind::dc_constant_current:
      break;
  }
  return SwitchKind::mosfet;
}

/// What the kind of output allows, beyond the single keys.
void check_output(const Object& from, const Output& output) {
  const bool mains = output.kind == OutputKind::phase_cut || output.kind == OutputKind::relay;
  if (mains == (output.switch_kind == SwitchKind::mosfet) ||
      (output.kind == OutputKind::phase_cut && output.switch_kind == SwitchKind::relay)) {
    from.refuse("switch", fmt::format("a {} cannot switch an output of kind {}",
                                      keys::switch_kinds[static_cast<std::size_t>(output.switch_kind)],
                                      keys::output_kinds[static_cast<std::size_t>(output.kind)]));
  }
  if (output.kind == OutputKind::phase_cut && output.edges.empty()) {
    from.refuse("edges", "a phase_cut output must name the edges it can cut",
                "Write [\"leading\"], [\"trailing\"] or both");
  }
  if (output.kind != OutputKind::phase_cut && !output.edges.empty()) {
    from.refuse("edges", "only an output of kind phase_cut has edges", "Leave the key out");
  }
  if (output.switch_kind == SwitchKind::triac &&
      std::find(output.edges.begin(), output.edges.end(), Edge::trailing) != output.edges.end()) {
    from.refuse("edges", "a triac cannot cut the trailing edge: it conducts until its current ends",
                "Leave \"trailing\" out, or name the switch that is there");
  }
  const auto in_order = [&](std::string_view low_key, const std::optional<double>& low, std::string_view high_key,
                            const std::optional<double>& high) {
    if (low && high && *low >= *high) {
      from.refuse(low_key, fmt::format("{} must be below {}, which is {}", *low, high_key, *high));
    }
  };
  in_order("min_conduction_deg", output.min_conduction_deg, "max_conduction_deg", output.max_conduction_deg);
  in_order("compliance_min_v", output.compliance_min_v, "compliance_max_v", output.compliance_max_v);
  in_order("ambient_c", output.ambient_c, "max_junction_c", output.max_junction_c);
  in_order("derate_from_c", output.derate_from_c, "max_junction_c", output.max_junction_c);
  if (output.parallel_chains && *output.parallel_chains != std::floor(*output.parallel_chains)) {
    from.refuse("parallel_chains", fmt::format("a whole number was expected, here is {}", *output.parallel_chains));
  }
}

Output read_output(const Object& from, int minor) {
  std::vector<std::string_view> names = {"kind", "edges", "switch"};
  add_names(names, keys::ratings);
  names.push_back(keys::neutral.name);
  add_names(names, keys::starting);
  names.push_back(keys::zero_cross_turn_on.name);
  add_names(names, keys::range);
  add_names(names, keys::details);
  from.allow_only(names);

  Output output;
  output.kind = static_cast<OutputKind>(from.choice("kind", keys::output_kinds));
  if (from.has("edges")) {
    for (const std::size_t edge : from.choices("edges", keys::edges)) {
      output.edges.push_back(edge == 0 ? Edge::leading : Edge::trailing);
    }
  }
  output.switch_kind = from.has("switch") ? static_cast<SwitchKind>(from.choice("switch", keys::switch_kinds))
                                          : usual_switch(output.kind);
  read_numbers(from, minor, keys::ratings, output);
  read_flag(from, minor, keys::neutral, output);
  read_numbers(from, minor, keys::starting, output);
  read_flag(from, minor, keys::zero_cross_turn_on, output);
  read_numbers(from, minor, keys::range, output);
  read_numbers(from, minor, keys::details, output);
  check_output(from, output);
  return output;
}

/// Returns the minor version.
int check_channel_format(const Object& from) {
  if (!from.has("format")) {
    from.refuse("format", "is missing", fmt::format("Give a channel file; its format is \"{}\"", format));
  }
  if (const std::string found = from.text("format"); found != format) {
    from.refuse("format", fmt::format("\"{}\" was expected, here is \"{}\"", format, found),
                found == "lampload-plan" ? "'lampload plan FILE' checks a plan" : "This is another file");
  }
  const std::string found = from.text("format_version");
  const auto known = std::find(keys::format_versions.begin(), keys::format_versions.end(), found);
  if (known == keys::format_versions.end()) {
    from.refuse("format_version",
                fmt::format("this program knows versions \"{}\" to \"{}\", the file has \"{}\"",
                            keys::format_versions.front(), keys::format_versions.back(), found),
                "Use a lampload that knows it");
  }
  return static_cast<int>(known - keys::format_versions.begin());
}

std::string read_name(const Object& from, std::string_view key) {
  std::string name = from.text(key);
  const bool control =
      std::any_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
  constexpr std::size_t longest = 200;
  if (name.empty() || name.size() > longest || control) {
    from.refuse(key, fmt::format("1 to {} bytes without control characters were expected", longest));
  }
  return name;
}

/// The voltage and frequency of the mains differ between countries, and the lamp count hangs on them.
void require_mains(const Object& from, const Channel& channel) {
  if (channel.output.kind != OutputKind::phase_cut && channel.output.kind != OutputKind::relay) return;
  const Object supply = from.object("supply");
  for (const std::string_view key : {"voltage_v", "frequency_hz"}) {
    if (!supply.has(key)) supply.refuse(key, "is missing", "Say what the mains are at this place");
  }
  if (channel.output.kind == OutputKind::phase_cut && channel.supply.frequency_hz <= 0.0) {
    supply.refuse("frequency_hz", "a phase_cut output needs an alternating supply");
  }
}

template <class Source, class Keys>
void write_numbers(Json& to, const Keys& list, const Source& source) {
  for (const auto& key : list) {
    if constexpr (std::is_same_v<std::decay_t<decltype(source.*key.field)>, double>) {
      to[std::string(key.name)] = source.*key.field;
    } else {
      if (source.*key.field) to[std::string(key.name)] = *(source.*key.field);
    }
  }
}

template <class Source>
void write_flag(Json& to, const keys::Flag<Source>& key, const Source& source) {
  if (source.*key.field) to[std::string(key.name)] = *(source.*key.field);
}

/// The highest of `so_far` and of what the keys in use ask for.
template <class Source, class Keys>
int minor_in_use(int so_far, const Keys& list, const Source& source) {
  for (const auto& key : list) {
    if constexpr (!std::is_same_v<std::decay_t<decltype(source.*key.field)>, double>) {
      if (source.*key.field) so_far = std::max(so_far, key.minor);
    }
  }
  return so_far;
}

/// The oldest version that has all keys in use, so that older programs can read what they understand.
int minor_in_use(const Channel& channel) {
  int minor = minor_in_use(0, keys::details, channel.output);
  if (channel.supply.dc_offset_v != 0.0) minor = std::max(minor, keys::dc_offset.minor);
  if (!channel.supply.harmonics.empty()) minor = std::max(minor, keys::supply_harmonics_minor);
  minor = minor_in_use(minor, keys::limits, channel.limits);
  minor = minor_in_use(minor, std::array{keys::harmonics}, channel.limits);
  if (channel.cable) {
    minor = minor_in_use(minor, keys::conductor, *channel.cable);
    minor = minor_in_use(minor, std::array{keys::shared_neutral}, *channel.cable);
  }
  return minor;
}

Json supply_json(const Supply& supply) {
  Json to = Json::object();
  write_numbers(to, keys::supply, supply);
  if (supply.dc_offset_v != 0.0) write_numbers(to, std::array{keys::dc_offset}, supply);
  for (const SupplyHarmonic& harmonic : supply.harmonics) {
    Json& one = to[std::string(keys::supply_harmonics)].emplace_back(Json::object());
    one[std::string(keys::harmonic_order)] = harmonic.order;
    write_numbers(one, keys::harmonic, harmonic);
  }
  return to;
}

Json output_json(const Output& output) {
  Json to = Json::object();
  to["kind"] = keys::output_kinds.at(static_cast<std::size_t>(output.kind));
  for (const Edge edge : output.edges) to["edges"].push_back(edge == Edge::leading ? keys::edges[0] : keys::edges[1]);
  to["switch"] = keys::switch_kinds.at(static_cast<std::size_t>(output.switch_kind));
  write_numbers(to, keys::ratings, output);
  write_flag(to, keys::neutral, output);
  write_numbers(to, keys::starting, output);
  write_flag(to, keys::zero_cross_turn_on, output);
  write_numbers(to, keys::range, output);
  write_numbers(to, keys::details, output);
  return to;
}

}  // namespace

namespace channel_parts {

constexpr int newest_minor = static_cast<int>(keys::format_versions.size()) - 1;

Supply supply(const Object& from) { return read_supply(from, newest_minor); }
Cable cable(const Object& from) { return read_cable(from, newest_minor); }
Breaker breaker(const Object& from) { return read_breaker(from); }
std::string name(const Object& from, std::string_view key) { return read_name(from, key); }

Channel described(const Object& from, const std::optional<Supply>& known_supply) {
  Channel channel;
  if (from.has("supply")) channel.supply = supply(from.object("supply"));
  if (from.has("cable")) channel.cable = cable(from.object("cable"));
  channel.output = read_output(from.object("output"), newest_minor);
  if (from.has(keys::limits_key)) channel.limits = read_limits(from.object(keys::limits_key), newest_minor);
  const bool mains = channel.output.kind == OutputKind::phase_cut || channel.output.kind == OutputKind::relay;
  if (known_supply && mains) {
    channel.supply = *known_supply;
  } else {
    require_mains(from, channel);
  }
  return channel;
}

}  // namespace channel_parts

Channel parse_channel(const std::string& json_text, const std::string& origin) {
  const Json document = json::parse(json_text, origin);
  const Object from(document, origin, "");
  const int minor = check_channel_format(from);
  from.allow_only(keys::top);
  check_version(from, keys::limits_key, keys::limits_minor, minor);
  Channel channel;
  channel.name = read_name(from, "name");
  if (from.has("supply")) channel.supply = read_supply(from.object("supply"), minor);
  if (from.has("cable")) channel.cable = read_cable(from.object("cable"), minor);
  if (from.has("breaker")) {
    const Object breaker = from.object("breaker");
    breaker.allow_only(std::array<std::string_view, 2>{"curve", keys::breaker_rating.name});
    channel.breaker = read_breaker(breaker);
  }
  channel.output = read_output(from.object("output"), minor);
  if (from.has(keys::limits_key)) channel.limits = read_limits(from.object(keys::limits_key), minor);
  require_mains(from, channel);
  return channel;
}

Channel read_channel_file(const std::string& path) { return parse_channel(json::read_file(path), path); }

std::string channel_json(const Channel& channel) {
  Json to = Json::object();
  to["format"] = format;
  to["format_version"] = keys::format_versions.at(static_cast<std::size_t>(minor_in_use(channel)));
  to["name"] = channel.name;
  to["supply"] = supply_json(channel.supply);
  if (channel.cable) {
    to["cable"] = Json::object();
    write_numbers(to["cable"], keys::cable, *channel.cable);
    write_numbers(to["cable"], keys::conductor, *channel.cable);
    write_flag(to["cable"], keys::shared_neutral, *channel.cable);
  }
  if (channel.breaker) {
    to["breaker"] = {{"curve", std::string(1, channel.breaker->curve)}, {"rating_a", channel.breaker->rating_a}};
  }
  to["output"] = output_json(channel.output);
  Json limits = Json::object();
  write_numbers(limits, keys::limits, channel.limits);
  write_flag(limits, keys::harmonics, channel.limits);
  if (!limits.empty()) to[std::string(keys::limits_key)] = std::move(limits);
  return to.dump(2) + "\n";
}

}  // namespace lampload
