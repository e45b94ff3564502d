#include "cli/report/plot.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>

#include "cli/terminal.h"
#include "db/base64.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

const char* role_name(Role role) {
  switch (role) {
    case Role::voltage:
      return "voltage";
    case Role::model:
      return "model";
    case Role::residual:
      return "residual";
    case Role::second:
      return "second";
    case Role::measured:
      break;
  }
  return "measured";
}

const char* kind_name(Plot::Kind kind) {
  switch (kind) {
    case Plot::Kind::steps:
      return "steps";
    case Plot::Kind::bars:
      return "bars";
    case Plot::Kind::lines:
      break;
  }
  return "lines";
}

Json packed(const PlotSeries& series, std::size_t buckets) {
  constexpr double most_steps = 65535.0;
  const Decimated few = decimated(series.y, buckets);
  double low = 0.0;
  double high = 0.0;
  if (!few.values.empty()) {
    const auto [least, most] = std::minmax_element(few.values.begin(), few.values.end());
    low = *least;
    high = *most;
  }
  const double step = high > low ? (high - low) / most_steps : 1.0;
  std::string bytes;  // little endian
  for (const double value : few.values) {
    const auto steps = static_cast<std::uint16_t>(std::lround((value - low) / step));
    bytes.push_back(static_cast<char>(steps & 0xFFU));
    bytes.push_back(static_cast<char>(steps >> 8U));
  }
  return {{"envelope", few.envelope},
          {"x0", few.envelope ? series.x0 + 0.5 * (few.step - 1.0) * series.dx : series.x0},
          {"dx", few.step * series.dx},
          {"offset", low},
          {"step", step},
          {"values", to_base64(bytes)}};
}

/// Six digits are more than any plot shows.
Json rounded(const std::vector<double>& values) {
  Json list = Json::array();
  for (const double value : values) {
    if (value == 0.0 || !std::isfinite(value)) {
      list.push_back(0);
      continue;
    }
    const double unit = std::pow(10.0, 5.0 - std::floor(std::log10(std::abs(value))));
    list.push_back(std::round(value * unit) / unit);
  }
  return list;
}

Json json_of(const PlotSeries& series, std::size_t buckets) {
  Json json = {{"label", printable(series.label)}, {"role", role_name(series.role)}};
  if (series.dx > 0.0) {
    json["packed"] = packed(series, buckets);
  } else {
    json["x"] = rounded(series.x);
    json["y"] = rounded(series.y);
  }
  return json;
}

Json json_of(const Plot& plot, std::size_t buckets) {
  Json panels = Json::array();
  for (const PlotPanel& panel : plot.panels) {
    Json series = Json::array();
    for (const PlotSeries& one : panel.series) series.push_back(json_of(one, buckets));
    Json lines = Json::array();
    for (const PlotLevel& level : panel.levels) {
      if (std::isfinite(level.value)) lines.push_back({{"label", printable(level.label)}, {"value", level.value}});
    }
    panels.push_back({{"label", printable(panel.label)},
                      {"unit", panel.unit},
                      {"height", panel.height},
                      {"series", std::move(series)},
                      {"lines", std::move(lines)}});
  }
  Json x = {{"label", plot.x_label}, {"unit", plot.x_unit}};
  if (!plot.x_ticks.empty()) x["ticks"] = plot.x_ticks;
  Json json = {{"kind", kind_name(plot.kind)}, {"title", printable(plot.title)}, {"x", std::move(x)}};
  if (!plot.shown.empty()) json["shown"] = plot.shown;
  json["zoom"] = plot.zoom;
  json["panels"] = std::move(panels);
  return json;
}

}  // namespace

Decimated decimated(std::span<const double> samples, std::size_t buckets) {
  Decimated few;
  if (samples.size() <= 2 * buckets) {
    few.values.assign(samples.begin(), samples.end());
    return few;
  }
  few.envelope = true;
  const std::size_t step = (samples.size() + buckets - 1) / buckets;
  few.step = static_cast<double>(step);
  for (std::size_t from = 0; from < samples.size(); from += step) {
    const auto part = samples.subspan(from, std::min(step, samples.size() - from));
    const auto [low, high] = std::minmax_element(part.begin(), part.end());
    few.values.push_back(*low);
    few.values.push_back(*high);
  }
  return few;
}

std::string plots_json(const std::vector<Plot>& plots, std::size_t buckets) {
  Json list = Json::array();
  for (const Plot& plot : plots) list.push_back(json_of(plot, buckets));
  return Json{{"plots", std::move(list)}}.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace lampload
