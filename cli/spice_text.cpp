#include "cli/spice_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "cli/basis.h"
#include "cli/fitting.h"
#include "cli/quantity.h"
#include "cli/stored_lamps.h"
#include "cli/terminal.h"
#include "cli/version.h"
#include "core/error.h"
#include "core/lamp/spice.h"
#include "core/lower_case.h"
#include "core/lower_factor.h"

namespace lampload {
namespace {

bool held(const ParameterSpec& spec, double value) { return spec.optional && value == spec.absent; }

double piece_sd(const StoredFit& fit, std::string_view parameter) {
  for (const StoredSpread& one : fit.parameter_spreads) {
    if (one.name == parameter) return one.spread;
  }
  return 0.0;
}

struct Scatter {
  std::string ahead;   ///< of the subcircuit: what is drawn once for all lamps of the type
  std::string inside;  ///< drawn for each use
};

Scatter scatter_of(const LampEvidence& evidence, const StoredFit& fit, const std::string& name) {
  const auto specs = evidence.lamp->family().parameters;
  const std::vector<double>& values = evidence.lamp->parameters();
  const std::size_t n = specs.size();
  const bool known = evidence.covariance.size() == n * n;
  const std::vector<double> lower = known ? lower_factor(evidence.covariance, n).rows : std::vector<double>(n * n, 0.0);
  Scatter scatter;
  for (std::size_t j = 0; j < n; ++j) {
    if (held(specs[j], values[j])) {
      scatter.inside += fmt::format(".param {}={:.12g}\n", specs[j].name, values[j]);
      continue;
    }
    std::string deviation;
    for (std::size_t k = 0; k <= j; ++k) {
      if (lower[j * n + k] == 0.0) continue;
      deviation += fmt::format("{:+.6g}*{}_z{}", lower[j * n + k], name, k + 1);
    }
    if (lower[j * n + j] > 0.0) scatter.ahead += fmt::format(".param {}_z{}={{agauss(0,1,1)}}\n", name, j + 1);
    if (const double sd = piece_sd(fit, specs[j].name); sd > 0.0) {
      scatter.inside += fmt::format(".param piece{}={{agauss(0,1,1)}}\n", j + 1);
      deviation += fmt::format("{:+.6g}*piece{}", sd, j + 1);
    }
    const std::string central = fmt::format("{:.12g}", values[j]);
    std::string value = central;
    if (!deviation.empty()) {
      value = specs[j].logarithmic ? fmt::format("{}*exp(scatter*({}))", central, deviation)
                                   : fmt::format("{}+scatter*{:g}*({})", central, specs[j].scale, deviation);
      value = fmt::format("min(max({},{:g}),{:g})", value, specs[j].lower, specs[j].upper);
    }
    scatter.inside += fmt::format(".param {}={{{}}}\n", specs[j].name, value);
  }
  return scatter;
}

void say(std::string& text, const std::string& line) { text += "* " + printable(line) + "\n"; }

std::string in_words(const StoredCapture& one) {
  const Figures& figures = one.figures;
  std::string text = one.capture.file;
  if (figures.direct) {
    text += fmt::format(": {} on DC", quantity(figures.direct->on_voltage_v, "V", 4));
  } else {
    text += fmt::format(": {} rms", quantity(figures.voltage_rms_v, "V", 4));
    if (figures.cut.edge != Edge::none) {
      text += fmt::format(", {} edge, {:.0f} degrees of conduction",
                          figures.cut.edge == Edge::leading ? "leading" : "trailing", figures.cut.conduction_angle_deg);
    }
  }
  text += fmt::format(", {} W", fmt::format("{:.4g}", figures.active_power_w));
  if (figures.inrush) text += fmt::format(", turn-on with {}", quantity(figures.inrush->peak_a, "A", 3));
  return text + fmt::format("; {}, {} {}", one.sample, one.provenance.person, one.provenance.time_utc);
}

std::string head(const LampRecord& record, const StoredFit& fit) {
  std::string text;
  say(text, fmt::format("{}: equivalent circuit of one lamp for ngspice, written by lampload {}", record.name,
                        program_version));
  say(text, fmt::format("Family {}{}{}. Nodes: a and b, the lamp's terminals{}.", fit.family,
                        fit.load_law.empty() ? "" : ", load law ", fit.load_law,
                        fed_by_dc(find_family(fit.family, fit.load_law).feed) ? "; on DC a is positive" : ""));
  if (const std::string caution = short_caution_of(record); !caution.empty()) say(text, "Caution: " + caution + ".");
  say(text, "");
  say(text, "Parameters (SI): value, standard uncertainty, 95 % interval");
  for (const StoredEstimate& one : fit.parameters) {
    std::string line = fmt::format("  {} = {:.6g} {}", one.name, one.value, one.unit);
    if (!one.remark.empty() && one.standard_uncertainty == 0.0) {
      line += ", " + one.remark;
    } else if (!one.identified) {
      line += fmt::format(", not identified by the captures; between {:.4g} and {:.4g}", one.lower_95, one.upper_95);
    } else {
      line += fmt::format(", u = {:.2g}, {:.4g} to {:.4g}", one.standard_uncertainty, one.lower_95, one.upper_95);
    }
    say(text, line);
  }
  for (const StoredEstimate& one : fit.derived) {
    say(text, fmt::format("  {} = {:.4g} {} (derived)", one.name, one.value, one.unit));
  }
  say(text, "");
  say(text, "The test it rests on");
  bool any = false;
  for (const StoredCapture& one : record.captures) {
    const auto& ids = fit.capture_ids;
    if (std::find(ids.begin(), ids.end(), one.id) == ids.end()) continue;
    say(text, "  " + in_words(one));
    any = true;
  }
  if (!any) say(text, "  no captures are stored here");
  say(text, fmt::format("  fitted {} by {} with lampload {}: {}", fit.provenance.time_utc, fit.provenance.person,
                        fit.provenance.program_version, fit.verdict));
  say(text, fmt::format("  residual {} rms, {:.3g} times what the instrument's noise explains",
                        quantity(fit.residual_rms_a, "A", 3), fit.normalised_residual));
  say(text, "");
  say(text,
      "A model, good for what was captured: no surge beyond it, no failure, no heat but a filament's and a limiter's.");
  return text;
}

/// Comment lines that are a whole deck once their "*: " is taken off.
std::string example(const LampRecord& record, const StoredFit& fit, const std::string& name, bool scattered) {
  const Feed feed = find_family(fit.family, fit.load_law).feed;
  const double volt = record.nominal.voltage_v.value_or(feed == Feed::dc_voltage ? 24.0 : 230.0);
  const double hertz = record.nominal.frequency_hz.value_or(0.0) > 0.0 ? *record.nominal.frequency_hz : 50.0;
  std::vector<std::string> lines;
  std::string step = "10u";
  double end_s = 3.0 / hertz;
  if (feed == Feed::dc_current) {
    double current_a = 0.35;
    for (const StoredCapture& one : record.captures) {
      if (one.figures.direct) current_a = one.figures.direct->on_current_a;
    }
    lines = {fmt::format("Isupply 0 line PULSE(0 {:g} 10u 2u 2u 300u 1m)", current_a), "Rload line lamp 1m"};
    step = "0.5u";
    end_s = 5e-3;
  } else if (feed == Feed::dc_voltage) {
    lines = {fmt::format("Vsupply line 0 PULSE(0 {:g} 10u 0.5u 0.5u 300u 1m)", volt), "Rload line lamp 10m"};
    step = "0.5u";
    end_s = 5e-3;
  } else {
    // a leading edge at 90 degrees; resistors across inductances and slow ramps keep ngspice converging
    const double half_s = 0.5 / hertz;
    lines = {fmt::format("Vsupply supply 0 SIN(0 {:.6g} {:g})", volt * std::sqrt(2.0), hertz),
             "Rsource supply source 0.4",
             "Lsource source line 0.8m",
             "Rnum source line 300",
             ".model switch SW(VT=0.5 VH=0.2 RON=0.1 ROFF=10meg)",
             "Sdimmer line lamp on 0 switch",
             fmt::format("Von on 0 PULSE(0 1 {:g} 5u 5u {:g} {:g})", 0.5 * half_s, 0.5 * half_s - 10e-6, half_s)};
  }
  lines.push_back(fmt::format("X1 lamp 0 {}", name));
  lines.emplace_back(".options method=gear maxord=2 reltol=1e-4 gmin=1e-10 rshunt=1e9");
  lines.push_back(fmt::format(".tran {} {:g} 0 {} uic", step, end_s, step));
  lines.emplace_back(".control");
  if (scattered) {
    lines.insert(lines.end(), {"setseed 1", "let pieces = 0", "dowhile pieces < 3", "  reset", "  run",
                               "  meas tran peak_a MAX i(vmeter)", "  let pieces = pieces + 1", "end"});
  } else {
    lines.insert(lines.end(), {"run", "set wr_singlescale", "wrdata lamp.txt v(lamp) i(vmeter)"});
  }
  lines.insert(lines.end(), {"quit", ".endc", ".end"});
  std::string text = "*\n* To try it: take '*: ' off the lines below, and run ngspice -b on this file.";
  text += scattered ? " Each run of the loop draws anew.\n" : "\n";
  for (const std::string& line : lines) {
    // the lamp's current is measured by a source of no voltage
    text += "*: " + (line.starts_with("X1 ") ? "Vmeter lamp lampx 0\n*: X1 lampx 0 " + name : line) + "\n";
  }
  return text;
}

}  // namespace

std::string subcircuit_name(const std::string& lamp) {
  std::string name;
  for (const char c : lamp) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain = byte < 0x80 && std::isalnum(byte) != 0;
    if (plain) name += lower_case(c);
    if (!plain && !name.empty() && name.back() != '_') name += '_';
  }
  while (!name.empty() && name.back() == '_') name.pop_back();
  if (name.empty() || std::isdigit(static_cast<unsigned char>(name.front())) != 0)
    name = "lamp" + (name.empty() ? "" : "_" + name);
  return name;
}

std::string spice_text(const LampRecord& record, const std::string& subcircuit, bool scattered) {
  const LampEvidence evidence = evidence_of(record.name, record.fit, record.captures, record.nominal);
  if (!evidence.lamp) throw no_circuit(record);
  const StoredFit& fit = *record.fit;
  std::string text = head(record, fit);
  if (!scattered) {
    text += "* Any parameter may be set where the lamp is used: X1 ... " + subcircuit + " NAME=VALUE\n";
    text += spice::subcircuit(*evidence.lamp, subcircuit, spice::fixed_parameters(*evidence.lamp));
  } else {
    text += "* Scattered: " + subcircuit +
            "_z... are what the captures leave open, alike for all lamps of a run; piece... are the\n"
            "* spread between pieces, drawn for each lamp. scatter=0 where a lamp is used gives the values above.\n";
    if (fit.parameter_spreads.empty()) {
      text +=
          "* One piece was measured: its spread between pieces is not known parameter by parameter, and not in here.\n";
    }
    const Scatter scatter = scatter_of(evidence, fit, subcircuit);
    text += scatter.ahead + spice::subcircuit(*evidence.lamp, subcircuit, " scatter=1", scatter.inside);
  }
  return text + example(record, fit, subcircuit, scattered);
}

}  // namespace lampload
