#pragma once
// A lamp is a one-port. A family is one struct in one file:
//
//   struct Family {
//     static constexpr std::string_view name, load_law;                // load_law "" where there is only one
//     static constexpr std::array<ParameterSpec, P> parameters;       // the table everything else is made from
//     static constexpr std::array<StateSpec, S> states;
//     static constexpr std::array<SchematicPart, N> schematic;        // how it is drawn: schematic.h
//     template <class T> class Model {                                // T: double, Dual or ceres::Jet
//      public:
//       explicit Model(std::span<const T> parameters);               // SI, in the order of the table
//       Step<T> advance(std::array<T, S>& state, const T& v0, const T& v1, double dt_s) const;
//     };
//     // Start values for a fit, best first; none where the hints rule the family out, which then costs nothing.
//     static std::vector<std::vector<double>> starts(const StartHints&);
//     // Only where it depends on the supply what is usual for such lamps; takes the place of ParameterSpec::prior_sd.
//     static std::vector<UsualValue> usual(const StartHints&);
//     static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint&);
//     // Only where the lamp has a static characteristic: the steady current at a DC voltage, from rest; odd or
//     // blocking, as advance() is.
//     static double dc_current_a(std::span<const double> parameters, double voltage_v);
//     // Only where the circuit says it: an estimate of the light at an instant, in a unit of its own (only ratios
//     // between instants of one lamp mean something), and by which law it is made, for people.
//     static double light(std::span<const double> parameters, std::span<const double> state, double voltage_v,
//                         double current_a);
//     static constexpr std::string_view light_law;
//     // Only where no phase cut suits such lamps: why, for people. They are switched on and off alone.
//     static constexpr std::string_view harmed_by_cuts;
//     // Only where such a lamp may look like a plain resistance until it is captured in this way.
//     static constexpr std::string_view plain_until;
//     // And whether the captures show anything of it all the same; where not, it cannot be the lamp that they show.
//     static bool shows_itself(const StartHints&);
//     // Only where most lamps do without parts of the circuit: the first parameters and states of the table and the
//     // model of them alone, which is what a fit works with until the data ask for such a part.
//     struct Plain { parameters, states, Model<T> };
//     // and values of one of them worth trying for a lamp that was fitted without.
//     static std::vector<std::vector<double>> part_starts(std::span<const double> parameters, std::string_view part);
//     // How much better than others the family must fit (information criterion), because such lamps are rare.
//     static constexpr double rarity;
//     static constexpr Feed feed;                                      // what such lamps are fed with
//     // False: these values only mimic another kind of lamp. state: while running; empty where no capture shows it.
//     static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint&);
//   };
//
// and one line in families.h. During a step the terminal voltage goes linearly from v0 to v1. advance() must be exact
// or A-stable for any dt, must locate the instants where conduction starts and stops inside the step, and must be odd:
// reversing the voltage reverses the current. Families fed with DC alone block a reversed voltage instead.

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

/// What feeds the lamps of a family: which captures it is tried on, and which outputs suit it.
enum class Feed {
  mains,
  mains_or_dc,
  dc_voltage,  ///< a constant voltage, steady or pulsed
  dc_current,  ///< a constant current, steady or pulsed
};
[[nodiscard]] constexpr bool fed_by_dc(Feed feed) { return feed != Feed::mains; }
[[nodiscard]] constexpr bool fed_by_mains(Feed feed) { return feed == Feed::mains || feed == Feed::mains_or_dc; }

/// One physical parameter of a family: an entry of the table that names, bounds and explains it.
struct ParameterSpec {
  std::string_view name;     ///< with its unit as suffix; read by other programs
  std::string_view unit;     ///< for people: "Ohm", "F"
  std::string_view meaning;  ///< a few words
  double lower;              ///< finite physical bounds
  double upper;
  bool logarithmic = true;  ///< fitted as ln(value); otherwise as value / scale
  double scale = 1.0;       ///< typical size, for linear parameters and those with a prior
  bool optional = false;    ///< may be held at `absent`
  double absent = 0.0;      ///< the value that takes the effect away
  /// What is known of it before any capture: standard deviation about `scale`, in the coordinate that is fitted (a
  /// share of it, or of ln(value)); 0: nothing.
  double prior_sd = 0.0;
  /// How far real circuits of the family move it by what the family does not know of them, beyond what residuals tell:
  /// standard deviation in the same coordinate. Found on one lot of lamps that another program simulated and held
  /// against another lot (docs/accuracy.md); 0: nothing was seen.
  double model_sd = 0.0;
  std::string_view identified_by = "";  ///< the capture that shows it: "steady", "turn_on", "leading_edge", ...
  /// Parameters of one part of the circuit that a lamp may do without have the part's name here, all are optional and
  /// follow each other: all of them are there or none. The first is the part's size.
  std::string_view part = "";

  /// The value, or the bound that it lies beyond.
  [[nodiscard]] constexpr double within(double value) const { return std::clamp(value, lower, upper); }
};

/// What is known of a parameter before any capture of it: standard deviation about the value, in the coordinate that is
/// fitted.
struct UsualValue {
  std::size_t parameter;  ///< index into the table
  double value;
  double sd;
};

/// One state variable. `rest` is its value in a lamp that has been off for long.
struct StateSpec {
  std::string_view name;
  std::string_view unit;
  double lower;
  double upper;
  double rest;
  double typical = 0.0;        ///< its size in a running lamp, where `upper` is far from it; 0: `upper`
  std::string_view part = "";  ///< the part it belongs to; at rest for ever where the lamp does without
  /// Name of the parameter that is its time constant, where that is far longer than a mains cycle (a temperature);
  /// see slow_state.h.
  std::string_view time_constant = "";

  /// What start states are measured by in a fit.
  [[nodiscard]] constexpr double unit_size() const { return typical > 0.0 ? typical : upper; }
};

/// Index of a parameter in a table; the table's size where no parameter has that name.
[[nodiscard]] constexpr std::size_t index_of(std::span<const ParameterSpec> table, std::string_view name) {
  std::size_t at = 0;
  while (at < table.size() && table[at].name != name) ++at;
  return at;
}

/// Likewise of a state.
[[nodiscard]] constexpr std::size_t index_of(std::span<const StateSpec> table, std::string_view name) {
  std::size_t at = 0;
  while (at < table.size() && table[at].name != name) ++at;
  return at;
}

/// Is the parameter the first of its part, or of no part at all?
[[nodiscard]] constexpr bool leads_its_part(std::span<const ParameterSpec> table, std::size_t at) {
  return table[at].part.empty() || at == 0 || table[at - 1].part != table[at].part;
}

/// Time constant of a slow state of a lamp; 0: the state is not slow, or the lamp does without its part.
[[nodiscard]] constexpr double slow_time_s(const StateSpec& state, std::span<const ParameterSpec> table,
                                           std::span<const double> values) {
  return state.time_constant.empty() ? 0.0 : values[index_of(table, state.time_constant)];
}

/// Name of the state that is a reservoir's voltage: how far it goes up and down is the reservoir's ripple.
inline constexpr std::string_view reservoir_state = "reservoir_voltage_v";

/// What flowed during one step.
template <class T>
struct Step {
  T current_a;  ///< at the end of the step
  T charge_c;   ///< through the terminals during the step
};

/// Supply at which derived figures are stated. frequency_hz 0: DC.
struct OperatingPoint {
  double voltage_v = 230.0;
  double frequency_hz = 50.0;
  double current_a = 0.0;  ///< for families fed with a constant current; 0: what the voltage makes
};

/// A figure that follows from the parameters (rated power, time constant, ...).
struct DerivedFigure {
  std::string name;
  std::string unit;
  double value;
  double relation_sd = 0.0;  ///< relative standard uncertainty of the relation itself, over that of the parameters
};

/// What the waveforms say before any fit; start values are made from it. Unknown values are 0.
struct StartHints {
  double frequency_hz = 0.0;   ///< 0 for DC
  double voltage_rms_v = 0.0;  ///< of the least cut steady capture
  double voltage_peak_v = 0.0;
  double current_rms_a = 0.0;
  double current_peak_a = 0.0;
  double active_power_w = 0.0;
  double reactive_power_var = 0.0;    ///< of the fundamental; positive: current lags
  double cut_deg = 0.0;               ///< of each half cycle, what a dimmer takes from that capture's voltage
  std::vector<double> half_cycle_v;   ///< its mean half cycle, the negative ones turned: a value a degree, from 0.5
  std::vector<double> half_cycle_a;   ///< degrees on; empty for DC
  double conduction_start_deg = 0.0;  ///< of a half cycle, where the current passes 5 % of its peak
  double conduction_stop_deg = 180.0;
  double turn_on_peak_a = 0.0;  ///< first peak after turn-on, and the voltage that drove it
  double turn_on_voltage_v = 0.0;
  double turn_on_i2t_a2s = 0.0;
  double settle_time_s = 0.0;      ///< from turn-on until the half-cycle peaks are within 20 % of their last value
  double current_at_jump_a = 0.0;  ///< peak of the current on a leading edge, and the jump of voltage there
  double voltage_jump_v = 0.0;
  double on_voltage_v = 0.0;  ///< DC: mean while the lamp is fed
  double on_current_a = 0.0;
  std::vector<double> dc_curve_v;    ///< DC: voltages in rising order, as far as the captures go,
  std::vector<double> dc_curve_a;    ///< and the mean current at each of them
  double cold_resistance_ohm = 0.0;  ///< by ohmmeter
  double rated_power_w = 0.0;
};

}  // namespace lampload
