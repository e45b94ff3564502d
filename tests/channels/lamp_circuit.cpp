#include "tests/channels/lamp_circuit.h"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>
#include <vector>

#include "core/lamp/tungsten.h"
#include "tests/reference/ngspice.h"

namespace lampload::test {
namespace {

using Values = std::span<const double>;

constexpr const char* bridge =
    "D1 ac pos junction\nD2 0 pos junction\nD3 neg ac junction\nD4 neg 0 junction\n"
    ".model junction D(IS=1e-9 N=0.02)\nRneg neg 0 1e8\n";

/// A table source's points of tungsten's resistivity ratio or heat ratio over v(hot).
std::string table_over_temperature(bool resistivity) {
  std::string text;
  for (double t = 200.0; t <= 3700.0; t += 50.0) {
    const double value = resistivity ? tungsten_resistivity_ratio(t).value : tungsten_heat_ratio(t).value;
    text += fmt::format("{}{:g},{:.9g}", text.empty() ? "" : ", ", t, value);
  }
  return text;
}

std::string filament(Values p, Values x) {
  const std::string wire = p[5] > 0.0 ? "wire" : "in";
  std::string text = p[5] > 0.0 ? fmt::format("Lwire in wire {:.12g} IC={:.9g}\n", p[5], x[1]) : std::string();
  // node `hot` is the temperature in kelvin, `rho` and `heat` the ratios of the table
  return text +
         fmt::format(
             "Brho rho 0 V = pwl(v(hot), {1})\nBheat heat 0 V = pwl(v(hot), {2})\n"
             "Blamp {0} 0 I = v({0})/({3:.12g}*v(rho))\nChot hot 0 {4:.12g} IC={8:.9g}\n"
             "Bhot 0 hot I = (v({0})^2/({3:.12g}*v(rho)) - {5:.12g}*(max(v(hot),200)^4-8.1e9)*(max(v(hot),200)/2800)^"
             "{6:.12g} - {7:.12g}*(v(hot)-300))/v(heat)\n",
             wire, table_over_temperature(true), table_over_temperature(false), p[0], p[2], p[1], p[3], p[4], x[0]);
}

std::string rectifier(std::string_view load_law, Values p, Values x) {
  std::string load;
  if (load_law == "constant_power") {
    load =
        fmt::format("Bload busp neg I = v(busp,neg) < 50 ? {0:.12g}*v(busp,neg)/2500 : {0:.12g}/v(busp,neg)\n", p[6]);
  } else if (load_law == "constant_current") {
    load = fmt::format("Bload busp neg I = {:.12g}*(v(busp,neg) < 50 ? v(busp,neg)/50 : 1)\n", p[6]);
  } else {
    load = spice_chain("busp", "neg", p[6], p[7], 1);
  }
  std::string series = fmt::format("Rs in ac {:.12g}\n", p[0]);
  if (p[1] > 0.0) {
    series = fmt::format("Rs in acl {:.12g}\nLs acl ac {:.12g} IC={:.9g}\nRdamp acl ac 20k\n", p[0], p[1], x[1]);
  }
  if (p[2] > 0.0) series += fmt::format("Cin in 0 {:.12g}\n", p[2]);
  return series + load + bridge +
         fmt::format("Vdrop pos busp {:.12g}\nCres busp mid {:.12g} IC={:.9g}\nResr mid neg {:.12g}\n", p[3], p[4],
                     x[0], std::max(p[5], 1e-4));
}

std::string dropper(Values p, Values x) {
  return fmt::format("Rs in fused {:.12g}\nCseries fused ac {:.12g} IC={:.9g}\nRbleed fused ac {:.12g}\n", p[1], p[0],
                     x[0], p[2]) +
         bridge + fmt::format("Vdrop pos busp {:.12g}\nCres busp neg {:.12g} IC={:.9g}\n", p[3], p[4], x[1]) +
         spice_chain("busp", "neg", p[5], p[6], 1);
}

std::string winding(std::string_view load_law, Values p, Values x) {
  std::string text = fmt::format("Rs in a {:.12g}\n", p[0]);
  if (load_law.empty()) return text + fmt::format("Ls a 0 {:.12g} IC={:.9g}\n", p[1], x[0]);
  // node `flux` is the core's flux linkage in V s; its magnetising current a table
  const double knee = p[4] > 0.0 ? 1.0 / p[4] : 1e3;
  const double knee_a = knee / p[2];
  const double far_a = knee_a + 50.0 * 100.0 / p[2];
  return text +
         fmt::format(
             "Ls a core {:.12g} IC={:.9g}\nR2 core 0 {:.12g}\nBflux 0 flux I = v(core)\n"
             "Cflux flux 0 1 IC={:.9g}\n"
             "Bcore core 0 I = pwl(v(flux), {:.12g},{:.12g}, {:.12g},{:.12g}, {:.12g},{:.12g}, {:.12g},{:.12g})\n",
             p[1], x[1], p[3], x[0], -knee - 100.0, -far_a, -knee, -knee_a, knee, knee_a, knee + 100.0, far_a);
}

std::string line_driver(Values p) {
  // current of the bridge over its rectified voltage, as a table
  std::string table = "-1000,0";
  double before_a = 0.0;
  for (std::size_t k = 3; k < p.size(); k += 2) {
    table += fmt::format(", {:.12g},{:.12g}, {:.12g},{:.12g}", 0.975 * p[k], before_a, 1.025 * p[k], p[k + 1]);
    before_a = p[k + 1];
  }
  table += fmt::format(", 1000,{:.12g}", before_a);
  return fmt::format("Bline in 0 I = (v(in) < 0 ? -1 : 1)*pwl(abs(v(in))-{:.12g}, {})\nRbleed in 0 {:.12g}\n", p[0],
                     table, p[2]) +
         (p[1] > 0.0 ? fmt::format("Cin in 0 {:.12g}\n", p[1]) : "");
}

std::string corrected(Values p, Values x) {
  // node `mean` is the slow mean, and the loop's conductance follows from it
  return fmt::format(
      "Rs in u {3:.12g}\nCin u 0 {1:.12g} IC={6:.9g}\n"
      "Bdraw u 0 I = min({0:.12g},{4:.12g}/max(v(mean),1))*(max(v(u)-{2:.12g},0)-max(-v(u)-{2:.12g},0))\n"
      "Bmean 0 mean I = (abs(v(u))*max(abs(v(u))-{2:.12g},0)-v(mean))/{5:.12g}\nCmean mean 0 1 IC={7:.9g}\n",
      p[0], p[1], p[2], p[3], p[4], p[5], x[0], x[1]);
}

std::string circuit(const Lamp& lamp, Values x) {
  const std::string_view family = lamp.family().name;
  const std::string_view law = lamp.family().load_law;
  const Values p = lamp.parameters();
  if (family == "resistor") return fmt::format("R1 in 0 {:.12g}\n", p[0]);
  if (family == "filament") return filament(p, x);
  if (family == "rectifier_capacitor") return rectifier(law, p, x);
  if (family == "capacitive_dropper") return dropper(p, x);
  if (family == "inductive") return winding(law, p, x);
  if (family == "linear_driver") return line_driver(p);
  if (family == "corrected_driver") return corrected(p, x);
  if (family == "strip") return spice_chain("in", "0", p[0], p[1], 1);
  if (family == "emitter") {  // one diode of ngspice's own, at its 27 degrees Celsius
    return fmt::format("Dchain in 0 chain\n.model chain D(IS={:.9g} N={:.9g} RS={:.9g})\n", p[0], p[1] / 0.025864186,
                       p[2]);
  }
  throw std::runtime_error(fmt::format("no circuit for family {}", family));
}

}  // namespace

std::string lamp_subcircuit(const std::string& name, const Lamp& lamp, std::span<const double> state) {
  std::vector<double> start(state.begin(), state.end());
  if (start.empty()) {
    for (const StateSpec& spec : lamp.family().states) start.push_back(spec.rest);
  }
  return fmt::format(".subckt {} in\n{}.ends\n", name, circuit(lamp, start));
}

}  // namespace lampload::test
