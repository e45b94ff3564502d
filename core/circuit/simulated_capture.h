#pragma once
// A capture that could be taken: one lamp on an ordinary supply and dimmer, seen through a digitiser.

#include "core/capture/capture.h"
#include "core/circuit/path.h"
#include "core/lamp/lamp.h"
#include "core/waveform/figures.h"

namespace lampload {

/// What somebody would set up.
struct CaptureSetup {
  bool turn_on = false;           ///< cold, at the crest, with a few milliseconds before it; uncut
  Edge edge = Edge::none;         ///< of a dimmer, where it is not a turn-on
  double conduction_deg = 180.0;  ///< of a half cycle
  int cycles = 6;
  double sample_interval_s = 1e-5;
  double voltage_step_v = 0.0;          ///< digitiser step; 0: continuous
  double current_step_of_peak = 0.008;  ///< digitiser step as a share of the current's peak
  double noise_steps = 0.5;             ///< standard deviation of both channels, in steps
  double bandwidth_hz = 1e6;            ///< one pole, of the current channel
};

/// A sine of supply_v (rms) behind 0.4 Ohm and 300 uH (common practice, no source), and an ideal switch.
Path ordinary_path(double supply_v, double frequency_hz);

/// On the ordinary path, with 47 kOhm across cut terminals, whose current is not the lamp's. The drawn noise has a
/// fixed seed. Throws Error{calculation} where the circuit cannot be solved.
Capture simulate_capture(const Lamp& lamp, double supply_v, double frequency_hz, const CaptureSetup& setup);

}  // namespace lampload
