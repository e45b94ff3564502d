#include "core/lamp/lamp.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <type_traits>
#include <utility>

#include "core/error.h"
#include "core/lamp/dual.h"
#include "core/lamp/families.h"

namespace lampload {
namespace {

template <class Family>
using Values = std::array<double, Family::parameters.size()>;

/// The whole table, where the parts at its end that the lamp does without may have been left out.
template <class Family>
Values<Family> whole(std::span<const double> given) {
  Values<Family> values;
  for (std::size_t j = 0; j < values.size(); ++j)
    values[j] = j < given.size() ? given[j] : Family::parameters[j].absent;
  return values;
}

template <class Family>
class Device final : public LampDevice {
 public:
  explicit Device(const Values<Family>& parameters) : model_(parameters), dual_(dual_model(parameters)) {
    for (std::size_t i = 0; i < state_.size(); ++i) state_[i] = Family::states[i].rest;
  }

  [[nodiscard]] Response propose(double v0, double v1, double dt_s) const override {
    for (std::size_t i = 0; i < state_.size(); ++i) proposed_[i] = state_[i];
    step_ = dual_.advance(proposed_, Dual(v0), Dual(v1, 1.0), dt_s);
    return {step_.current_a.a, step_.current_a.v, step_.charge_c.a, step_.charge_c.v};
  }

  Step<double> take(double dv) override {
    for (std::size_t i = 0; i < state_.size(); ++i) state_[i] = proposed_[i].a + dv * proposed_[i].v;
    return {step_.current_a.a + dv * step_.current_a.v, step_.charge_c.a + dv * step_.charge_c.v};
  }

  Step<double> advance(double v0, double v1, double dt_s) override { return model_.advance(state_, v0, v1, dt_s); }
  [[nodiscard]] std::span<double> state() override { return state_; }
  [[nodiscard]] std::unique_ptr<LampDevice> clone() const override { return std::make_unique<Device>(*this); }

 private:
  static typename Family::template Model<Dual> dual_model(std::span<const double> parameters) {
    std::array<Dual, Family::parameters.size()> values;
    for (std::size_t i = 0; i < values.size(); ++i) values[i] = parameters[i];
    return typename Family::template Model<Dual>(std::span<const Dual>(values));
  }

  typename Family::template Model<double> model_;
  typename Family::template Model<Dual> dual_;
  std::array<double, Family::states.size()> state_{};
  mutable std::array<Dual, Family::states.size()> proposed_{};
  mutable Step<Dual> step_{};
};

template <class Family>
constexpr auto dc_current_of() -> double (*)(std::span<const double>, double) {
  if constexpr (requires { &Family::dc_current_a; }) {
    return [](std::span<const double> parameters, double voltage_v) {
      return Family::dc_current_a(whole<Family>(parameters), voltage_v);
    };
  } else {
    return nullptr;
  }
}

/// What a family says of itself in a text that most do without; empty where it does not.
template <class Family, class Said>
constexpr std::string_view said_by(Said said) {
  if constexpr (std::is_invocable_v<Said, std::type_identity<Family>>) {
    return said(std::type_identity<Family>{});
  } else {
    return "";
  }
}

constexpr auto light_law = [](auto f) -> decltype(decltype(f)::type::light_law) {
  return decltype(f)::type::light_law;
};
constexpr auto harmed_by_cuts = [](auto f) -> decltype(decltype(f)::type::harmed_by_cuts) {
  return decltype(f)::type::harmed_by_cuts;
};
constexpr auto plain_until = [](auto f) -> decltype(decltype(f)::type::plain_until) {
  return decltype(f)::type::plain_until;
};

template <class Family>
constexpr auto light_of() -> double (*)(std::span<const double>, std::span<const double>, double, double) {
  if constexpr (said_by<Family>(light_law).empty()) {
    return nullptr;
  } else {
    return &Family::light;
  }
}

template <class Family>
FamilyInfo info_of() {
  return {Family::name,
          Family::load_law,
          Family::rarity,
          Family::feed,
          Family::parameters,
          Family::states,
          Family::schematic,
          [](std::span<const double> parameters) -> std::unique_ptr<LampDevice> {
            return std::make_unique<Device<Family>>(whole<Family>(parameters));
          },
          [](std::span<const double> parameters, const OperatingPoint& at) {
            return Family::derived(whole<Family>(parameters), at);
          },
          dc_current_of<Family>(),
          light_of<Family>(),
          said_by<Family>(light_law),
          said_by<Family>(harmed_by_cuts),
          said_by<Family>(plain_until),
          [](std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at) {
            return Family::plausible(whole<Family>(parameters), state, at);
          }};
}

std::vector<FamilyInfo> make_list() {
  std::vector<FamilyInfo> list;
  for_each_family([&]<class Family>() { list.push_back(info_of<Family>()); });
  return list;
}

}  // namespace

std::span<const FamilyInfo> lamp_families() {
  static const std::vector<FamilyInfo> list = make_list();
  return list;
}

const FamilyInfo& find_family(std::string_view name, std::string_view load_law) {
  std::string known;
  for (const FamilyInfo& family : lamp_families()) {
    if (family.name == name && family.load_law == load_law) return family;
    known += fmt::format("{}{}{}{}", known.empty() ? "" : ", ", family.name, family.load_law.empty() ? "" : "/",
                         family.load_law);
  }
  throw Error(ErrorCode::input_refused, fmt::format("no lamp family '{}'{}{}'; known are {}", name,
                                                    load_law.empty() ? "" : " with load law '", load_law, known));
}

Lamp::Lamp(const FamilyInfo& family, std::vector<double> parameters)
    : family_(&family), parameters_(std::move(parameters)) {
  for (std::size_t j = parameters_.size(); j < family.parameters.size() && !family.parameters[j].part.empty(); ++j)
    parameters_.push_back(family.parameters[j].absent);
  if (parameters_.size() != family.parameters.size()) {
    throw Error(ErrorCode::input_refused, fmt::format("family {} has {} parameters, {} were given", family.name,
                                                      family.parameters.size(), parameters_.size()));
  }
  for (std::size_t i = 0; i < parameters_.size(); ++i) {
    const ParameterSpec& spec = family.parameters[i];
    const bool left_out = spec.optional && parameters_[i] == spec.absent;
    if (!left_out && !(parameters_[i] >= spec.lower && parameters_[i] <= spec.upper)) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("{} = {:g} {} is outside {:g} to {:g}", spec.name, parameters_[i], spec.unit, spec.lower,
                              spec.upper),
                  Place{.key = std::string(spec.name)});
    }
    if (!spec.part.empty() && !leads_its_part(family.parameters, i) &&
        left_out != (parameters_[i - 1] == family.parameters[i - 1].absent)) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("{} = {:g} and {} = {:g}: of the part '{}' all parameters are given or none",
                              family.parameters[i - 1].name, parameters_[i - 1], spec.name, parameters_[i], spec.part),
                  Place{.key = std::string(spec.name)});
    }
  }
}

double dc_voltage_v(const FamilyInfo& family, std::span<const double> parameters, double current_a) {
  if (family.dc_current_a == nullptr) {
    throw Error(ErrorCode::input_refused, fmt::format("family {} has no steady current at a DC voltage", family.name));
  }
  constexpr double highest_v = 2000.0;
  double low = 0.0;
  double high = highest_v;
  while (high - low > 1e-9 * highest_v) {
    const double middle = 0.5 * (low + high);
    (family.dc_current_a(parameters, middle) < current_a ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double to_coordinate(const ParameterSpec& spec, double value) {
  return spec.logarithmic ? std::log(value) : value / spec.scale;
}

double from_coordinate(const ParameterSpec& spec, double coordinate) {
  return spec.logarithmic ? std::exp(coordinate) : coordinate * spec.scale;
}

}  // namespace lampload
