#include "core/lamp/spice.h"

#include <fmt/format.h>

#include <cmath>
#include <span>
#include <type_traits>
#include <vector>

#include "core/lamp/families.h"

namespace lampload::spice {
namespace {

// Numbers decide only which optional parts there are. In the expression of a B source ngspice puts what stands in
// braces where they stand, without them, so that sums and products want parentheses of their own. Resistors called Rnum
// are no part of the lamp: without them ngspice does not get past the instant at which a bridge blocks.

using Values = std::span<const double>;

template <class Family>
using Of = std::type_identity<Family>;

/// The bridge from node `ac` to `bus`, both against `b`, with the series resistance that lies ahead of it. As two
/// current sources: four junctions leave a node that hangs on nothing while they block, where ngspice gives up.
std::string bridge(std::string_view ac) {
  return fmt::format(
      "Bac {0} b I = (max(v({0},b)-{{rectifier_drop_v}}-v(bus,b),0)-max(-v({0},b)-{{rectifier_drop_v}}-v(bus,b),0))\n"
      "+ /{{series_resistance_ohm}}\n"
      "Bdc b bus I = (max(v({0},b)-{{rectifier_drop_v}}-v(bus,b),0)+max(-v({0},b)-{{rectifier_drop_v}}-v(bus,b),0))\n"
      "+ /{{series_resistance_ohm}}\n",
      ac);
}

/// LEDs in series, by string_voltage_v V and string_resistance_ohm R: the voltage is V (1 + 0.02 (7 u + ln u + 1)) at
/// the share u of the working current 0.16 V / R. One table for all strings. blocks: nothing flows below it or
/// backwards; otherwise it is a resistance there.
std::string led_string(std::string_view plus, std::string_view minus, bool blocks) {
  constexpr double knee = LedStringLoad::knee_share;
  constexpr double working = LedStringLoad::working_share;
  const auto at = [](double u) { return 1.0 + knee * ((working - 1.0) * u + std::log(u) + 1.0); };
  const double least_u = blocks ? Strip::knots.front() : 0.004;
  std::string table =
      blocks ? fmt::format("-100,0, {:.9g},0", at(least_u))
             : fmt::format("-1,{2:.9g}, 0,0, {0:.9g},{1:.9g}", at(least_u), least_u, -least_u / at(least_u));
  int points = 0;
  for (double u = 1.12 * least_u; u < 70.0; u *= 1.12) {
    table += fmt::format(",{} {:.9g},{:.9g}", ++points % 5 == 0 ? "\n+" : "", at(u), u);
  }
  return fmt::format(
      "Bstring {0} {1} I = ({{{2:g}*string_voltage_v/string_resistance_ohm}})*pwl(v({0},{1})/{{string_voltage_v}},\n+ "
      "{3})\n",
      plus, minus, knee * working, table);
}

std::string circuit(Of<Resistor> /*family*/, Values /*p*/) { return "R1 a b {resistance_ohm}\n"; }

/// Tungsten's resistivity or specific heat over that at 300 K, by temperature.
std::string tungsten_table(const std::array<tungsten::Cubic, tungsten::intervals>& curve) {
  std::string text;
  int points = 0;
  for (double t = 200.0; t <= 3700.0; t += 50.0) {
    text += fmt::format("{}{} {:g},{:.7g}", text.empty() ? "" : ",", ++points % 6 == 0 ? "\n+" : "", t,
                        tungsten::look_up(curve, t).value);
  }
  return text;
}

std::string circuit(Of<Filament> /*family*/, Values p) {
  const bool inductive = p[index_of(Filament::parameters, "series_inductance_h")] > 0.0;
  const std::string_view wire = inductive ? "wire" : "a";
  return fmt::format(
      "{0}* v(hot): temperature in kelvin; v(rho), v(heat): resistivity and specific heat over those at 300 K\n"
      "Bwire {1} b I = v({1},b)/({{cold_resistance_ohm}}*v(rho))\n"
      "Chot hot 0 {{heat_capacity_j_per_k}} IC=300\n"
      "Bhot 0 hot I = (v({1},b)^2/({{cold_resistance_ohm}}*v(rho))\n"
      "+ - {{radiation_w_per_k4}}*(max(v(hot),200)^4-8.1e9)*(max(v(hot),200)/2800)^{{emissivity_exponent}}\n"
      "+ - {{conduction_w_per_k}}*(v(hot)-300))/v(heat)\n"
      "Brho rho 0 V = pwl(v(hot),{2})\nBheat heat 0 V = pwl(v(hot),{3})\n",
      inductive ? "Lwire a wire {series_inductance_h} IC=0\n" : "", wire, tungsten_table(tungsten::resistivity_ratio),
      tungsten_table(tungsten::heat_ratio));
}

std::string load(Of<ConstantPowerLoad> /*law*/) {
  return "Bload bus b I = v(bus,b) < 50 ? {load_power_w}*v(bus,b)/2500 : {load_power_w}/v(bus,b)\n";
}
std::string load(Of<ConstantCurrentLoad> /*law*/) {
  return "Bload bus b I = {load_current_a}*(v(bus,b) < 50 ? v(bus,b)/50 : 1)\n";
}
std::string load(Of<LedStringLoad> /*law*/) { return led_string("bus", "b", false); }

template <class Load>
std::string circuit(Of<RectifierCapacitor<Load>> /*family*/, Values p) {
  using Family = RectifierCapacitor<Load>;
  const auto there = [&](std::string_view name) { return p[index_of(Family::parameters, name)] > 0.0; };
  const std::string_view input = there("input_capacitance_f") ? "Cin a b {input_capacitance_f}\n" : "";
  const std::string_view damper =
      there("damper_capacitance_f")
          ? "Cdamper a damper {damper_capacitance_f} IC=0\nRdamper damper b {damper_resistance_ohm}\n"
          : "";
  const bool choked = there("series_inductance_h");
  const std::string_view choke = choked ? "Ls a choke {series_inductance_h} IC=0\nRnum1 a choke 20k\n" : "";
  const bool limited = there("ntc_resistance_ohm");
  const std::string limiter =
      limited ? fmt::format(
                    "* v(warm): the limiter's temperature above 298.15 K, in kelvin\n"
                    "Bntc {0} ac I = v({0},ac)/{1}\nBwarm 0 warm I = v({0},ac)^2/{1}\n"
                    "Cwarm warm 0 {{ntc_dissipation_w_per_k*ntc_time_constant_s}} IC=0\nRwarm warm 0 "
                    "{{1/ntc_dissipation_w_per_k}}\n",
                    choked ? "choke" : "a", "({ntc_resistance_ohm}*exp({ntc_b_k}*(1/(298.15+v(warm))-1/298.15)))")
              : "";
  return fmt::format("{}{}{}{}{}{}{}", input, damper, choke, limiter,
                     bridge(limited  ? "ac"
                            : choked ? "choke"
                                     : "a"),
                     "Cres bus res {reservoir_capacitance_f} IC=0\nResr res b {max(reservoir_esr_ohm,1e-4)}\n",
                     load(Of<Load>{}));
}

std::string circuit(Of<CapacitiveDropper> /*family*/, Values /*p*/) {
  return "Cseries a ac {series_capacitance_f} IC=0\nRbleed a ac {bleed_resistance_ohm}\n" + bridge("ac") +
         "Cres bus b {reservoir_capacitance_f} IC=0\n" + led_string("bus", "b", false);
}

std::string circuit(Of<SeriesInductive> /*family*/, Values /*p*/) {
  return "Rs a coil {series_resistance_ohm}\nLs coil b {series_inductance_h} IC=0\n";
}

std::string circuit(Of<LoadedCore> /*family*/, Values p) {
  const bool saturates = p[index_of(LoadedCore::parameters, "saturation_per_vs")] > 0.0;
  const std::string linear = "Lm core b {magnetising_inductance_h} IC=0\n";
  const std::string saturating = fmt::format(
      "* v(flux): flux linkage in V s\nBflux 0 flux I = v(core,b)\nCflux flux 0 1 IC=0\n"
      ".param knee_vs={{1/saturation_per_vs}} far_a={{(knee_vs+{0:g}*100)/magnetising_inductance_h}}\n"
      "Bm core b I = pwl(v(flux), {{-knee_vs-100}},{{-far_a}}, {{-knee_vs}},{{-knee_vs/magnetising_inductance_h}},\n"
      "+ {{knee_vs}},{{knee_vs/magnetising_inductance_h}}, {{knee_vs+100}},{{far_a}})\n",
      1.0 / LoadedCore::saturated_share);
  return "Rs a leak {series_resistance_ohm}\nLs leak core {series_inductance_h} IC=0\n"
         "R2 core b {secondary_resistance_ohm}\n" +
         (saturates ? saturating : linear);
}

template <std::size_t Taps>
std::string circuit(Of<LinearDriver<Taps>> /*family*/, Values p) {
  constexpr double knee = linear_driver::knee_share;
  std::string text = "Rbleed a b {bleed_resistance_ohm}\n";
  if (p[index_of(LinearDriver<Taps>::parameters, "input_capacitance_f")] > 0.0)
    text += "Cin a b {input_capacitance_f}\n";
  // a tap given below the end of the knee before counts as there
  std::string sum;
  std::string before_a;
  for (std::size_t k = 0; k < Taps; ++k) {
    const std::string_view volt = linear_driver::voltage_names[k];
    const std::string_view ampere = linear_driver::current_names[k];
    text += k == 0 ? fmt::format(".param tap1_v={{{}}}\n", volt)
                   : fmt::format(".param tap{}_v={{max({},{:g}*tap{}_v)}}\n", k + 1, volt, 1.0 + knee, k);
    sum +=
        fmt::format("{}({{{}{}}})*min(max((abs(v(a,b))-({{rectifier_drop_v+{:g}*tap{}_v}}))/({{{:g}*tap{}_v}}),0),1)",
                    k == 0 ? "" : "\n+ + ", ampere, before_a, 1.0 - 0.5 * knee, k + 1, knee, k + 1);
    before_a = fmt::format("-{}", ampere);
  }
  return text + fmt::format("Btaps a b I = (v(a,b) < 0 ? -1 : 1)*({})\n", sum);
}

std::string circuit(Of<CorrectedDriver> /*family*/, Values /*p*/) {
  return "Rs a u {series_resistance_ohm}\nCin u b {input_capacitance_f} IC=0\n"
         "* v(mean): slow mean of |u| (|u| - threshold), in V^2\n"
         "Bdraw u b I = min({conductance_s},{power_w}/max(v(mean),1))\n"
         "+ *(max(v(u,b)-{threshold_v},0)-max(-v(u,b)-{threshold_v},0))\n"
         "Bmean 0 mean I = (abs(v(u,b))*max(abs(v(u,b))-{threshold_v},0)-v(mean))/{loop_time_s}\nCmean mean 0 1 IC=0\n";
}

std::string circuit(Of<Strip> /*family*/, Values p) {
  if (p[index_of(Strip::parameters, "cable_inductance_h")] == 0.0) return led_string("a", "b", true);
  return "Lcable a far {cable_inductance_h} IC=0\nRnum1 a far 2k\nCnum1 far b 50p\n" + led_string("far", "b", true);
}

std::string circuit(Of<Emitter> /*family*/, Values /*p*/) {
  // ngspice takes no saturation current below 1e-28 A: a larger one with a voltage in series is the same exponential.
  // Thermal voltage at 27 degC: 0.025864186 V.
  return ".param shown_a={max(saturation_current_a,1e-16)}\n"
         "Vfoot a foot {emission_voltage_v*log(shown_a/saturation_current_a)}\nDchain foot b chain temp=27\n"
         ".model chain D(IS={shown_a} N={emission_voltage_v/0.025864186} RS={series_resistance_ohm})\n";
}

/// In the order of lamp_families().
std::vector<std::string (*)(Values)> circuits() {
  std::vector<std::string (*)(Values)> list;
  for_each_family([&]<class Family>() { list.push_back([](Values p) { return circuit(Of<Family>{}, p); }); });
  return list;
}

}  // namespace

std::string subcircuit(const Lamp& lamp, std::string_view name, std::string_view parameters, std::string_view inside) {
  static const auto list = circuits();
  const auto family = static_cast<std::size_t>(&lamp.family() - lamp_families().data());
  return fmt::format(".subckt {0} a b{1}\n{2}{3}.ends {0}\n", name, parameters, inside,
                     list[family](lamp.parameters()));
}

std::string fixed_parameters(const Lamp& lamp) {
  std::string text;
  const auto specs = lamp.family().parameters;
  for (std::size_t i = 0; i < specs.size(); ++i) {
    text += fmt::format("\n+ {}={:.12g}", specs[i].name, lamp.parameters()[i]);
  }
  return text;
}

}  // namespace lampload::spice
