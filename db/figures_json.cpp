#include "db/figures_json.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <utility>

#include "core/error.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

std::string text_of(const Json& json) { return json.dump(-1, ' ', false, Json::error_handler_t::replace); }

// JSON has no way to write a value that is not finite, and a figure that is not finite is a fault upstream.
class Writer {
 public:
  void put(const char* key, double value) {
    if (!std::isfinite(value)) {
      throw Error(ErrorCode::input_refused, fmt::format("{} is not a finite number", key), Place{.key = key});
    }
    json[key] = value;
  }
  template <class T>
  void put(const char* key, const T& value) {
    json[key] = value;
  }
  template <class T>
  void put(const char* key, const std::optional<T>& value) {
    if (value) put(key, *value);
  }
  void put(const char* key, Json value) { json[key] = std::move(value); }

  Json json = Json::object();
};

template <class T>
void take(const Json& json, const char* key, T& value) {
  json.at(key).get_to(value);
}
template <class T>
void take(const Json& json, const char* key, std::optional<T>& value) {
  if (json.contains(key)) value = json.at(key).get<T>();
}

constexpr std::array severity_names = {"note", "warning", "error"};
constexpr std::array edge_names = {"none", "leading", "trailing"};

template <class Enum, std::size_t N>
Enum from_name(const std::array<const char*, N>& names, const std::string& name) {
  for (std::size_t i = 0; i < N; ++i) {
    if (name == names[i]) return static_cast<Enum>(i);
  }
  throw Error(ErrorCode::library, fmt::format("stored text '{}' is not known", name));
}

Json notes_json(const std::vector<QualityNote>& notes) {
  Json list = Json::array();
  for (const QualityNote& note : notes) {
    Json one = {{"code", note.code},
                {"severity", severity_names.at(static_cast<std::size_t>(note.severity))},
                {"message", note.message}};
    for (const Evidence& figure : note.evidence) one["evidence"][figure.name] = figure.value;
    list.push_back(std::move(one));
  }
  return list;
}

std::vector<QualityNote> notes_of(const Json& list) {
  std::vector<QualityNote> notes;
  for (const Json& note : list) {
    notes.push_back({note.at("code").get<std::string>(),
                     from_name<Severity>(severity_names, note.at("severity").get<std::string>()),
                     note.at("message").get<std::string>()});
    if (!note.contains("evidence")) continue;
    for (const auto& [name, value] : note.at("evidence").items())
      notes.back().evidence.push_back({name, value.get<double>()});
  }
  return notes;
}

template <class Read>
auto parsed(const std::string& text, const char* column, Read read) {
  try {
    return read(Json::parse(text));
  } catch (const nlohmann::json::exception& fault) {
    throw Error(ErrorCode::library, fmt::format("the stored {} are damaged: {}", column, fault.what()));
  }
}

}  // namespace

std::string notes_to_json(const std::vector<QualityNote>& notes) { return text_of(notes_json(notes)); }

std::vector<QualityNote> notes_from_json(const std::string& text) {
  return parsed(text, "notes", [](const Json& json) { return notes_of(json); });
}

std::string options_to_json(const CaptureOptions& options) {
  Writer out;
  out.put("time_column", options.time_column);
  out.put("voltage_column", options.voltage_column);
  out.put("current_column", options.current_column);
  out.put("voltage_scale", options.voltage_scale);
  out.put("current_scale", options.current_scale);
  out.put("voltage_offset_v", options.voltage_offset_v);
  out.put("current_offset_a", options.current_offset_a);
  out.put("invert_current", options.invert_current);
  out.put("current_delay_s", options.current_delay_s);
  out.put("sample_interval_s", options.sample_interval_s);
  out.put("segment", options.segment);
  return text_of(out.json);
}

CaptureOptions options_from_json(const std::string& text) {
  return parsed(text, "options", [](const Json& json) {
    CaptureOptions options;
    take(json, "time_column", options.time_column);
    take(json, "voltage_column", options.voltage_column);
    take(json, "current_column", options.current_column);
    take(json, "voltage_scale", options.voltage_scale);
    take(json, "current_scale", options.current_scale);
    take(json, "voltage_offset_v", options.voltage_offset_v);
    take(json, "current_offset_a", options.current_offset_a);
    take(json, "invert_current", options.invert_current);
    take(json, "current_delay_s", options.current_delay_s);
    take(json, "sample_interval_s", options.sample_interval_s);
    take(json, "segment", options.segment);
    return options;
  });
}

std::string figures_to_json(const Figures& figures) {
  Writer out;
  out.put("samples", figures.samples);
  out.put("sample_rate_hz", figures.sample_rate_hz);
  out.put("duration_s", figures.duration_s);
  out.put("mains_frequency_hz", figures.mains_frequency_hz);
  out.put("voltage_rms_v", figures.voltage_rms_v);
  out.put("current_rms_a", figures.current_rms_a);
  out.put("current_peak_a", figures.current_peak_a);
  out.put("active_power_w", figures.active_power_w);
  out.put("apparent_power_va", figures.apparent_power_va);
  out.put("power_factor", figures.power_factor);
  out.put("displacement_factor", figures.displacement_factor);
  out.put("current_crest_factor", figures.current_crest_factor);
  out.put("current_thd_percent", figures.current_thd_percent);

  Writer cut;
  cut.put("edge", std::string(edge_names.at(static_cast<std::size_t>(figures.cut.edge))));
  cut.put("conduction_angle_deg", figures.cut.conduction_angle_deg);
  cut.put("supply_side_voltage", figures.cut.supply_side_voltage);
  out.put("cut", std::move(cut.json));
  if (figures.direct) {
    Writer direct;
    direct.put("voltage_mean_v", figures.direct->voltage_mean_v);
    direct.put("current_mean_a", figures.direct->current_mean_a);
    direct.put("on_voltage_v", figures.direct->on_voltage_v);
    direct.put("on_current_a", figures.direct->on_current_a);
    direct.put("voltage_ripple_percent", figures.direct->voltage_ripple_percent);
    direct.put("current_ripple_percent", figures.direct->current_ripple_percent);
    if (figures.direct->pulses) {
      direct.put("pulse_frequency_hz", figures.direct->pulses->frequency_hz);
      direct.put("duty", figures.direct->pulses->duty);
    }
    out.put("direct", std::move(direct.json));
  }
  if (figures.turn_on) {
    Writer turn_on;
    turn_on.put("sample", figures.turn_on->sample);
    turn_on.put("phase_deg", figures.turn_on->phase_deg);
    turn_on.put("supply_side_voltage", figures.turn_on->supply_side_voltage);
    out.put("turn_on", std::move(turn_on.json));
  }
  if (figures.inrush) {
    Writer inrush;
    inrush.put("peak_a", figures.inrush->peak_a);
    inrush.put("i2t_a2s", figures.inrush->i2t_a2s);
    inrush.put("width_s", figures.inrush->width_s);
    inrush.put("phase_deg", figures.inrush->phase_deg);
    out.put("inrush", std::move(inrush.json));
  }
  out.put("current_offset_a", figures.current_offset_a);
  out.put("steady_first", figures.steady_first);
  out.put("steady_last", figures.steady_last);
  out.put("steady_phase_deg", figures.steady_phase_deg);
  out.put("quality", notes_json(figures.quality));
  return text_of(out.json);
}

Figures figures_from_json(const std::string& text) {
  return parsed(text, "figures", [](const Json& json) {
    Figures figures;
    take(json, "samples", figures.samples);
    take(json, "sample_rate_hz", figures.sample_rate_hz);
    take(json, "duration_s", figures.duration_s);
    take(json, "mains_frequency_hz", figures.mains_frequency_hz);
    take(json, "voltage_rms_v", figures.voltage_rms_v);
    take(json, "current_rms_a", figures.current_rms_a);
    take(json, "current_peak_a", figures.current_peak_a);
    take(json, "active_power_w", figures.active_power_w);
    take(json, "apparent_power_va", figures.apparent_power_va);
    take(json, "power_factor", figures.power_factor);
    take(json, "displacement_factor", figures.displacement_factor);
    take(json, "current_crest_factor", figures.current_crest_factor);
    take(json, "current_thd_percent", figures.current_thd_percent);
    const Json& cut = json.at("cut");
    figures.cut.edge = from_name<Edge>(edge_names, cut.at("edge").get<std::string>());
    take(cut, "conduction_angle_deg", figures.cut.conduction_angle_deg);
    take(cut, "supply_side_voltage", figures.cut.supply_side_voltage);
    if (json.contains("direct")) {
      const Json& from = json.at("direct");
      Direct& direct = figures.direct.emplace();
      take(from, "voltage_mean_v", direct.voltage_mean_v);
      take(from, "current_mean_a", direct.current_mean_a);
      take(from, "on_voltage_v", direct.on_voltage_v);
      take(from, "on_current_a", direct.on_current_a);
      take(from, "voltage_ripple_percent", direct.voltage_ripple_percent);
      take(from, "current_ripple_percent", direct.current_ripple_percent);
      if (from.contains("pulse_frequency_hz")) {
        Pulses& pulses = direct.pulses.emplace();
        take(from, "pulse_frequency_hz", pulses.frequency_hz);
        take(from, "duty", pulses.duty);
      }
    }
    if (json.contains("turn_on")) {
      const Json& from = json.at("turn_on");
      TurnOn& turn_on = figures.turn_on.emplace();
      take(from, "sample", turn_on.sample);
      take(from, "phase_deg", turn_on.phase_deg);
      take(from, "supply_side_voltage", turn_on.supply_side_voltage);
    }
    if (json.contains("inrush")) {
      const Json& from = json.at("inrush");
      Inrush& inrush = figures.inrush.emplace();
      take(from, "peak_a", inrush.peak_a);
      take(from, "i2t_a2s", inrush.i2t_a2s);
      take(from, "width_s", inrush.width_s);
      take(from, "phase_deg", inrush.phase_deg);
    }
    take(json, "current_offset_a", figures.current_offset_a);
    take(json, "steady_first", figures.steady_first);
    take(json, "steady_last", figures.steady_last);
    take(json, "steady_phase_deg", figures.steady_phase_deg);
    figures.quality = notes_of(json.at("quality"));
    return figures;
  });
}

}  // namespace lampload
