#include "db/estimates_json.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "core/error.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

Json rows_of(const std::vector<StoredEstimate>& estimates) {
  Json rows = Json::array();
  for (const StoredEstimate& one : estimates) {
    rows.push_back({one.name, one.unit, one.value, one.standard_uncertainty, one.lower_95, one.upper_95, one.identified,
                    one.remark});
  }
  return rows;
}

std::vector<StoredEstimate> estimates_of(const Json& rows) {
  std::vector<StoredEstimate> estimates;
  for (const Json& row : rows) {
    StoredEstimate& one = estimates.emplace_back();
    row.at(0).get_to(one.name);
    row.at(1).get_to(one.unit);
    row.at(2).get_to(one.value);
    row.at(3).get_to(one.standard_uncertainty);
    row.at(4).get_to(one.lower_95);
    row.at(5).get_to(one.upper_95);
    row.at(6).get_to(one.identified);
    row.at(7).get_to(one.remark);
  }
  return estimates;
}

}  // namespace

std::string estimates_to_json(const FitEstimates& estimates) {
  if (estimates.parameters.empty() && estimates.derived.empty()) return {};
  const Json json = {{"parameters", rows_of(estimates.parameters)}, {"derived", rows_of(estimates.derived)}};
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

FitEstimates estimates_from_json(std::string_view text) {
  if (text.empty()) return {};
  try {
    const Json json = Json::parse(text);
    return {estimates_of(json.at("parameters")), estimates_of(json.at("derived"))};
  } catch (const nlohmann::json::exception& fault) {
    throw Error(ErrorCode::library, fmt::format("the estimates of a fit are damaged: {}", fault.what()));
  }
}

}  // namespace lampload
