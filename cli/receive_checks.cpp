#include "cli/receive_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cli/fitting.h"
#include "core/circuit/simulated_capture.h"
#include "core/lamp/lamp.h"
#include "core/waveform/figures.h"
#include "fit/fit.h"

namespace lampload {
namespace {

/// Relative differences: told from the first on, refused from the second (own choice, no source).
struct Tolerance {
  double told;
  double refused;
};
constexpr Tolerance again = {1e-3, 0.02};      // the same samples measured again
constexpr Tolerance derived = {0.01, 0.1};     // the same relation worked out again
constexpr Tolerance simulated = {0.05, 0.30};  // a circuit against the capture: the fit's residual is in it

class Differences {
 public:
  explicit Differences(const SharedLamp& lamp) : lamp_(lamp) {}

  /// `floor`: differences below it do not matter.
  void compare(const std::string& what, double stated, double found, const std::string& unit, Tolerance tolerance,
               double floor) {
    const double share = std::abs(stated - found) / std::max({std::abs(stated), std::abs(found), 1e-300});
    if (!std::isfinite(found) || (share > tolerance.refused && std::abs(stated - found) > floor)) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("'{}' contradicts itself: {} is {:.4g} {} in the file, but {:.4g} {} by its own figures",
                              lamp_.lamp.name, what, stated, unit, found, unit),
                  Place{}, "Ask for the file again where it comes from, or measure the lamp yourself");
    }
    if (share > tolerance.told && std::abs(stated - found) > floor) {
      list_.push_back({lamp_.lamp.name, what, stated, found, unit});
    }
  }
  [[nodiscard]] std::vector<Difference> list() const { return list_; }

 private:
  const SharedLamp& lamp_;
  std::vector<Difference> list_;
};

void check_measured(const LampRecord& lamp, Differences& differences) {
  for (const StoredCapture& stored : lamp.captures) {
    if (stored.capture.voltage_v.empty()) continue;
    const Figures found = measure(stored.capture, lamp.nominal);
    const Figures& stated = stored.figures;
    const std::string of = " of " + stored.capture.file;
    differences.compare("voltage" + of, stated.voltage_rms_v, found.voltage_rms_v, "V", again, 1e-6);
    differences.compare("current" + of, stated.current_rms_a, found.current_rms_a, "A", again, 1e-6);
    differences.compare("peak current" + of, stated.current_peak_a, found.current_peak_a, "A", again, 1e-6);
    differences.compare("power" + of, stated.active_power_w, found.active_power_w, "W", again, 1e-4);
  }
}

std::vector<double> values_of(const StoredFit& fit) {
  std::vector<double> values;
  for (const StoredEstimate& one : fit.parameters) values.push_back(one.value);
  return values;
}

void check_derived(const LampRecord& lamp, const FamilyInfo& family, Differences& differences) {
  // Of several pieces the file has the mean of their figures, which is not the figure of their mean.
  const double widening = lamp.fit->samples.empty() ? 1.0 : 3.0;
  for (const DerivedFigure& found : family.derived(values_of(*lamp.fit), operating_point(lamp))) {
    for (const StoredEstimate& stated : lamp.fit->derived) {
      if (stated.name != found.name || !stated.identified) continue;
      differences.compare(stated.name, stated.value, found.value, stated.unit,
                          {derived.told * widening, derived.refused * widening}, 1e-9);
    }
  }
}

void check_simulated(const LampRecord& lamp, const FamilyInfo& family, Differences& differences) {
  const StoredFit& fit = *lamp.fit;
  const Lamp model(family, values_of(fit));
  for (const StoredCapture& stored : lamp.captures) {
    if (std::find(fit.capture_ids.begin(), fit.capture_ids.end(), stored.id) == fit.capture_ids.end()) continue;
    const Figures& stated = stored.figures;
    const std::string of = " of " + stored.capture.file;
    if (stated.direct) {
      if (family.dc_current_a == nullptr || stated.direct->on_voltage_v <= 0.0) continue;
      differences.compare("current" + of, stated.direct->on_current_a,
                          family.dc_current_a(model.parameters(), stated.direct->on_voltage_v), "A", simulated,
                          5.0 * fit.residual_rms_a);
      continue;
    }
    // Of a cut capture the voltage is what is left of the supply's; figures of a turn-on are not of a settled lamp.
    if (!stated.mains_frequency_hz || stated.cut.edge != Edge::none || stated.turn_on) continue;
    CaptureSetup setup;
    setup.voltage_step_v = 0.0;
    setup.current_step_of_peak = 1e-4;
    const Figures found = measure(simulate_capture(model, stated.voltage_rms_v, *stated.mains_frequency_hz, setup));
    const double floor_a = 3.0 * fit.residual_rms_a;
    differences.compare("current" + of, stated.current_rms_a, found.current_rms_a, "A", simulated, floor_a);
    differences.compare("power" + of, stated.active_power_w, found.active_power_w, "W", simulated,
                        floor_a * stated.voltage_rms_v);
  }
}

/// Said, never refused: another version of the program may fit otherwise.
void check_fitted(const LampRecord& lamp, Telling telling, std::vector<Difference>& list) {
  const StoredFit& stated = *lamp.fit;
  std::vector<StoredCapture> captures;
  for (const StoredCapture& one : lamp.captures) {
    if (std::find(stated.capture_ids.begin(), stated.capture_ids.end(), one.id) != stated.capture_ids.end()) {
      captures.push_back(one);
    }
  }
  const StoredFit found = fit_captures(captures, lamp.nominal, telling);
  if (found.family != stated.family || found.load_law != stated.load_law || found.accepted != stated.accepted) {
    const std::string now = found.accepted ? found.family + " " + found.load_law : "no family";
    list.push_back({lamp.name, "fitted again, the captures give " + now + "; residual", stated.residual_rms_a,
                    found.residual_rms_a, "A"});
    return;
  }
  for (std::size_t i = 0; i < std::min(stated.parameters.size(), found.parameters.size()); ++i) {
    const StoredEstimate& a = stated.parameters[i];
    const StoredEstimate& b = found.parameters[i];
    if (a.identified && b.identified && (b.value < a.lower_95 || b.value > a.upper_95)) {
      list.push_back({lamp.name, "fitted again, " + a.name, a.value, b.value, a.unit});
    }
  }
}

}  // namespace

OperatingPoint operating_point(const LampRecord& lamp) {
  if (const StoredCapture* open = least_cut(lamp.captures)) return operating_point(open->figures, lamp.nominal);
  OperatingPoint at;
  if (!lamp.nominal.dc_points.empty()) {
    at = {lamp.nominal.dc_points.back().voltage_v, 0.0, lamp.nominal.dc_points.back().current_a};
  }
  at.voltage_v = lamp.nominal.voltage_v.value_or(at.voltage_v);
  return at;
}

std::vector<Difference> check_against_itself(const SharedLamp& shared, bool refit, Telling telling) {
  const LampRecord& lamp = shared.lamp;
  Differences differences(shared);
  check_measured(lamp, differences);
  if (!lamp.fit || lamp.fit->family.empty() || !lamp.fit->accepted) return differences.list();
  const FamilyInfo& family = find_family(lamp.fit->family, lamp.fit->load_law);
  check_derived(lamp, family, differences);
  check_simulated(lamp, family, differences);
  std::vector<Difference> list = differences.list();
  if (refit && shared.with_samples) check_fitted(lamp, telling, list);
  return list;
}

}  // namespace lampload
