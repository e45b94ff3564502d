#pragma once
// Exact waveforms: read from what tests/accuracy/lamps.py had ngspice simulate, or made by the project's own models
// where model and circuit have to agree, and by what is no lamp at all.

#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/lamp/lamp.h"
#include "tests/accuracy/instrument.h"

namespace lampload::accuracy {

/// A lamp that ngspice has simulated.
struct SimulatedLamp {
  std::string name;
  std::string family;
  std::string load_law;  ///< as in lamp_families()
  Nominal nominal;
  std::vector<Waveform> captures;
};

/// folder: one lamp's, with truth.json and its waveforms.
SimulatedLamp read_lamp(const std::filesystem::path& folder);

enum class Taken { steady, turn_on, leading_edge, trailing_edge };

/// 230 V, 50 Hz without any source behind it, as a lamp sees it behind a switch: from `lead_in_s` before the record,
/// which begins at 0 s and lasts `cycles`. line_s: straight lines of that length (a multiple of the grid) instead of
/// the curve, and edges along one of them: what a model that is driven by samples takes the voltage for.
Waveform mains(Taken taken, double cycles, double lead_in_s, double line_s = 0.0);

/// Current of a lamp at the waveform's voltage, from rest at its beginning; the state at 0 s.
std::vector<double> draw_current(const Lamp& lamp, Waveform& wave);

/// What is no lamp of any family: "capacitor", "two_lamps", "switching" (bursts of a switched-mode supply that follow
/// no mains), "noise"; and "winding", which is a lamp of the family inductive and no other. Drawn at random.
std::vector<Waveform> no_lamp(const std::string& kind, std::mt19937_64& random);

}  // namespace lampload::accuracy
