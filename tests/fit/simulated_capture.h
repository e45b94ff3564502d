#pragma once
// Captures of a lamp given as a netlist: simulated by ngspice behind mains and a switch or on DC, seen through a
// simulated probe, clamp and converter. Independent of the project's own lamp models.

#include <cstdint>
#include <string>

#include "core/capture/capture.h"
#include "tests/reference/ngspice.h"

namespace lampload::test {

enum class Taken { steady, turn_on, leading_edge, trailing_edge };

struct Mains {
  double voltage_v = 230.0;
  double frequency_hz = 50.0;
};

/// A scope of 8 bits with a slow, late clamp.
struct Instrument {
  double sample_rate_hz = 100e3;
  double clamp_bandwidth_hz = 40e3;
  double clamp_delay_s = 5e-6;
  double noise_steps = 0.4;  ///< standard deviation of both channels, in steps of the converter
};

struct Simulated {
  Capture capture;
  SpiceRun run;          ///< v(lamp), i(vsense), then the expressions asked for
  double first_s = 0.0;  ///< of the capture, in the run's time
};

/// lamp: element lines between the nodes `lamp` and 0. A steady capture has six cycles, a turn-on twelve from just
/// before the switch closes at the crest; edges are at 90 degrees. Everything but a turn-on has run for `settle_cycles`
/// before. Throws what run_ngspice() throws.
Simulated simulate_capture(const std::string& lamp, Taken taken, const Mains& mains, const Instrument& instrument,
                           const std::vector<std::string>& expressions = {}, int settle_cycles = 6);

/// The same on DC. source: element lines that feed the node `line`; the run starts with everything at zero.
Simulated simulate_dc_capture(const std::string& source, const std::string& lamp, double first_s, double duration_s,
                              const Instrument& instrument, std::uint64_t seed);

}  // namespace lampload::test
