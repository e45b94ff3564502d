#pragma once
// ngspice as an independent simulator of the same circuit.

#include <string>
#include <vector>

namespace lampload::test {

/// Columns of a run, one vector a node or expression, all at the same times.
struct SpiceRun {
  std::vector<double> time_s;
  std::vector<std::vector<double>> columns;
};

/// Runs `ngspice -b` on a deck in a folder of its own and reads back `expressions` (such as "v(out)", "i(vmeter)") over
/// time. deck: the circuit with its .tran line, without title, .control and .end; end_s: the stop time of that .tran.
/// A run that breaks off leaves a short output that looks fine, so the log is searched for failures and the output must
/// reach end_s. Throws std::runtime_error with the log when ngspice is missing or anything went wrong.
SpiceRun run_ngspice(const std::string& deck, const std::vector<std::string>& expressions, double end_s);

/// Straight-line value of a column at a time.
double value_at(const SpiceRun& run, std::size_t column, double time_s);

/// A PWL source's points: "PWL(t0 v0 t1 v1 ...)", many to a line continued with "+".
std::string spice_pwl(const std::vector<double>& time_s, const std::vector<double>& value);

/// A chain of LEDs with its resistor, `lamps` of them side by side: an exponential whose current grows by e every
/// 2 % of volt, the tangent at the current that stands 16 % above volt being the line volt + ohm * current.
/// (docs/models/rectifier_capacitor.md; written from there, not from the code.)
std::string spice_chain(const std::string& plus, const std::string& minus, double volt, double ohm, double lamps);

}  // namespace lampload::test
