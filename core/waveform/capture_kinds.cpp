#include "core/waveform/capture_kinds.h"

namespace lampload {

std::set<std::string_view> capture_kinds(std::span<const Figures> figures) {
  std::set<std::string_view> kinds;
  for (const Figures& one : figures) {
    if (one.direct && one.direct->pulses) kinds.insert("pulse_width");
    if (one.turn_on) kinds.insert("turn_on");
    if (one.cut.edge == Edge::leading) kinds.insert("leading_edge");
    if (one.cut.edge == Edge::trailing) kinds.insert("trailing_edge");
    if (one.cut.edge == Edge::none) kinds.insert("steady");
  }
  return kinds;
}

}  // namespace lampload
