#pragma once
// The parts of a record on mains: rest, switching on, running at one setting of the dimmer or another, off again.

#include <cstddef>
#include <string_view>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"

namespace lampload {

struct Segment {
  enum class Kind {
    off,       ///< before the lamp is connected, or after it is switched off
    turn_on,   ///< from the closing of the switch until the current no longer changes
    running,   ///< two cycles or more alike
    changing,  ///< between two settings
    turn_off,  ///< the last cycle in which current flows, cut short
  };
  Kind kind = Kind::running;
  std::size_t first = 0;  ///< samples [first, last)
  std::size_t last = 0;
  Cut cut;  ///< of a running part, or of a turn-on behind a dimmer
  double current_rms_a = 0.0;
};

/// "off", "turn_on", "running", "changing", "turn_off".
std::string_view segment_name(Segment::Kind kind);

/// In order of time, without gaps, to the end of the last whole cycle. Empty for DC. figures: measure(capture).
std::vector<Segment> find_segments(const Capture& capture, const Figures& figures);

/// A record in which the dimmer is turned, taken apart: one capture for each setting that is held for three cycles or
/// more, the first with the turn-on that leads to it. Their names say which part they are. Empty: there is one setting
/// only, and the record serves as it is.
std::vector<Capture> captures_by_setting(const Capture& capture, const Figures& figures);

}  // namespace lampload
