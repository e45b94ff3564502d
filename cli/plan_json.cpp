#include <nlohmann/json.hpp>

#include "cli/json_text.h"
#include "cli/plan_output.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

Json json_of(const CheckedConstraint& constraint) {
  return {{"name", constraint.name},
          {"value", constraint.value},
          {"value_nominal", constraint.nominal_value},
          {"limit", constraint.limit},
          {"unit", constraint.unit},
          {"holds", constraint.holds},
          {"holds_nominal", constraint.holds_nominal},
          {"source", constraint.source},
          {"sentence", constraint.sentence},
          {"advice", constraint.advice}};
}

Json json_of(const PlannedChannel& planned, const ChannelVerdict& verdict, const Installation& plan) {
  Json constraints = Json::array();
  for (const CheckedConstraint& constraint : verdict.check.constraints) constraints.push_back(json_of(constraint));
  Json lamps = Json::array();
  for (const LoadItem& item : planned.lamps) lamps.push_back({{"lamp", item.evidence.name}, {"count", item.count}});
  Json suggestions = Json::array();
  for (const Remedy& remedy : verdict.remedies) {
    suggestions.push_back({{"kind", remedy_name(remedy.kind)}, {"sentence", remedy.sentence}});
  }
  return {{"channel", verdict.channel},
          {"mode", mode_name(verdict.check.mode)},
          {"holds", verdict.check.holds},
          {"constraints", std::move(constraints)},
          {"room", verdict.room},
          {"breaker", planned.breaker ? Json(plan.breakers[*planned.breaker].name) : Json(nullptr)},
          {"lamps", std::move(lamps)},
          {"mode_chosen", verdict.mode_chosen},
          {"holds_nominal", verdict.check.holds_nominal},
          {"limited_by", verdict.check.limited_by.empty() ? Json(nullptr) : Json(verdict.check.limited_by)},
          {"suggestions", std::move(suggestions)},
          {"not_checked", verdict.check.not_checked},
          {"cautions", verdict.check.cautions}};
}

Json json_of(const BreakerVerdict& verdict) {
  Json starts = Json::array();
  for (const StartVerdict& start : verdict.starts) {
    starts.push_back({{"channels", start.channels},
                      {"inrush", json_of(start.inrush)},
                      {"together_a", start.together_a},
                      {"stagger_s", start.stagger_s},
                      {"least_stagger_s", start.least_stagger_s ? Json(*start.least_stagger_s) : Json(nullptr)}});
  }
  return {{"board", verdict.board},
          {"breaker", verdict.name},
          {"curve", std::string(1, verdict.breaker.curve)},
          {"rating_a", verdict.breaker.rating_a},
          {"holds", verdict.holds},
          {"channels", verdict.channels},
          {"load", json_of(verdict.load)},
          {"starts", std::move(starts)},
          {"suggestions", verdict.suggestions},
          {"not_checked", verdict.not_checked}};
}

}  // namespace

std::string plan_json(const Installation& plan, const PlanVerdict& verdict) {
  Json channels = Json::array();
  for (std::size_t i = 0; i < verdict.channels.size(); ++i) {
    channels.push_back(json_of(plan.channels[i], verdict.channels[i], plan));
  }
  Json breakers = Json::array();
  for (const BreakerVerdict& breaker : verdict.breakers) breakers.push_back(json_of(breaker));
  const Json document = {{"plan", plan.name},
                         {"holds", verdict.holds},
                         {"channels", std::move(channels)},
                         {"breakers", std::move(breakers)}};
  return document_text(document);
}

}  // namespace lampload
