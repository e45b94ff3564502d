// The derivatives a fit works with, against central differences, for every parameter of every family.

#include <ceres/jet.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "core/lamp/families.h"

namespace lampload::lamp_derivatives_test {
namespace {

constexpr double dt_s = 20e-6;
constexpr int steps = 2500;

// Behind an edge at 70 degrees that rises within 20 us, cut again at 150 degrees.
double voltage(int i) {
  const double phase = std::fmod(i * dt_s * 50.0 * 360.0, 180.0);
  const double open =
      std::min(std::clamp((phase - 70.0) / 0.36, 0.0, 1.0), std::clamp((150.0 - phase) / 0.9, 0.0, 1.0));
  return 325.27 * std::sin(i * dt_s * 100.0 * std::numbers::pi) * open;
}

/// Charge in every 20th step, and the state at the end.
template <class Family, class T>
std::vector<T> run(std::span<const T> parameters) {
  const typename Family::template Model<T> model(parameters);
  std::array<T, Family::states.size()> state;
  for (std::size_t i = 0; i < state.size(); ++i) state[i] = T(Family::states[i].rest);
  std::vector<T> seen;
  T charge(0.0);
  for (int i = 0; i < steps; ++i) {
    charge += model.advance(state, T(voltage(i)), T(voltage(i + 1)), dt_s).charge_c;
    if (i % 20 == 19) seen.push_back(charge);
  }
  seen.insert(seen.end(), state.begin(), state.end());
  return seen;
}

template <class Family>
void check(const std::vector<double>& lamp, double tolerance) {
  constexpr std::size_t count = Family::parameters.size();
  using Jet = ceres::Jet<double, static_cast<int>(count)>;
  std::vector<Jet> jets;
  for (std::size_t p = 0; p < count; ++p) jets.emplace_back(lamp[p], static_cast<int>(p));
  const auto exact = run<Family, Jet>(jets);
  const auto plain = run<Family, double>(lamp);
  for (std::size_t p = 0; p < count; ++p) {
    if (Family::parameters[p].optional && lamp[p] == 0.0) continue;  // held
    const double h = 1e-5 * (lamp[p] == 0.0 ? 1.0 : lamp[p]);
    auto up = lamp;
    auto down = lamp;
    up[p] += h;
    down[p] -= h;
    const auto high = run<Family, double>(up);
    const auto low = run<Family, double>(down);
    double largest = 0.0;
    for (std::size_t k = 0; k < exact.size(); ++k)
      largest = std::max(largest, std::abs(exact[k].v[static_cast<int>(p)]));
    for (std::size_t k = 0; k < exact.size(); ++k) {
      // the states at the end have units of their own
      const double scale = k + Family::states.size() < exact.size()
                               ? largest
                               : std::max(std::abs(exact[k].v[static_cast<int>(p)]), 1e-6 * largest);
      ASSERT_NEAR(exact[k].v[static_cast<int>(p)], (high[k] - low[k]) / (2.0 * h), tolerance * scale)
          << Family::parameters[p].name << " at " << k << " of " << Family::parameters[0].name << "...";
      ASSERT_NEAR(exact[k].a, plain[k], 1e-9 * std::abs(plain[k]) + 1e-15);
    }
  }
}

TEST(LampDerivatives, Resistor) { check<Resistor>({529.0}, 1e-6); }
TEST(LampDerivatives, Filament) {
  check<Filament>({66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}, 1e-4);
  check<Filament>({66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 1e-3}, 1e-4);
  check<Filament>({66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.1}, 1e-4);
}

TEST(LampDerivatives, CapacitiveDropper) {
  check<CapacitiveDropper>({3.3e-7, 220.0, 1e6, 1.6, 4.7e-6, 90.0, 600.0}, 2e-4);
  check<CapacitiveDropper>({1e-6, 47.0, 4.7e5, 1.6, 4.7e-7, 24.0, 150.0}, 2e-4);  // string's threshold inside the steps
}

template <class Load>
void check_rectifier(const std::vector<double>& load) {
  for (const double inductance_h : {0.0, 5e-4, 2e-2}) {
    for (const double esr_ohm : {0.0, 3.0}) {
      std::vector<double> lamp = {15.0, inductance_h, 2e-8, 1.6, 5e-6, esr_ohm};
      lamp.insert(lamp.end(), load.begin(), load.end());
      check<typename RectifierCapacitor<Load>::Plain>(lamp, 2e-4);
      // a small disc, which the charging current warms by some kelvin; and a damper beside it
      std::vector<double> with_parts = lamp;
      with_parts.insert(with_parts.end(), {30.0, 3000.0, 4e-3, 20.0, 4.7e-8, 470.0});
      check<RectifierCapacitor<Load>>(with_parts, 2e-4);
      with_parts = lamp;
      with_parts.resize(RectifierCapacitor<Load>::parameters.size(), 0.0);
      check<RectifierCapacitor<Load>>(with_parts, 2e-4);
    }
  }
}

TEST(LampDerivatives, Inductive) {
  check<SeriesInductive>({120.0, 0.8}, 1e-6);
  check<LoadedCore>({25.0, 0.02, 4.0, 900.0, 0.0}, 1e-5);
  check<LoadedCore>({25.0, 0.02, 4.0, 900.0, 2.5}, 2e-4);
}

TEST(LampDerivatives, LinearDriver) {
  check<LinearDriver<1>>({1.6, 0.0, 1e6, 210.0, 0.03}, 1e-5);
  check<LinearDriver<3>>({1.6, 1e-8, 4e5, 90.0, 0.02, 180.0, 0.04, 260.0, 0.06}, 1e-5);
}

TEST(LampDerivatives, CorrectedDriver) {
  check<CorrectedDriver>({6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}, 2e-4);
  check<CorrectedDriver>({3e-4, 4.7e-8, 60.0, 47.0, 20.0, 0.03}, 2e-4);  // at its limit
}

TEST(LampDerivatives, ConstantPower) { check_rectifier<ConstantPowerLoad>({8.0}); }
TEST(LampDerivatives, ConstantCurrent) { check_rectifier<ConstantCurrentLoad>({0.03}); }
TEST(LampDerivatives, LedString) { check_rectifier<LedStringLoad>({240.0, 1500.0}); }

}  // namespace
}  // namespace lampload::lamp_derivatives_test
