#include "core/waveform/segments.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "core/waveform/cut.h"
#include "core/waveform/cycles.h"
#include "core/waveform/steady.h"

namespace lampload {
namespace {

constexpr double switched_off = 0.05;  // of the largest running current: less is pick-up and standby
constexpr double alike = 0.1;          // cycles of one setting differ by less
constexpr double near_running = 0.05;  // a lamp just switched on has come so near to its running current
constexpr double same_angle_deg = 6.0;

struct Cycle {
  std::size_t first;
  double rms_a;
  bool flows;
  Cut cut;
};

std::vector<Cycle> cycles_of(const Capture& capture, const Figures& figures, const CycleWindow& window) {
  const std::vector<double> rms = cycle_currents(capture, window);
  std::vector<double> sorted = rms;
  std::sort(sorted.begin(), sorted.end());
  // Not the largest: a surge says nothing of running.
  const double running = figures.current_rms_a > 0.0 ? figures.current_rms_a : sorted[sorted.size() / 2];
  std::vector<Cycle> cycles;
  for (std::size_t k = 0; k < rms.size(); ++k) {
    const auto skipped = static_cast<std::size_t>(std::lround(static_cast<double>(k) * window.cycle_samples));
    const CycleWindow one{window.first + skipped, window.cycle_samples, 1};
    Cycle cycle{one.first, rms[k], rms[k] > switched_off * running, {}};
    if (cycle.flows) {
      const double amplitude_v = std::numbers::sqrt2 * figures.voltage_rms_v;
      const bool uncut = figures.cut.edge == Edge::none;
      cycle.cut =
          find_cut(capture.voltage_v, capture.current_a, one, uncut ? std::optional(amplitude_v) : std::nullopt).cut;
    }
    cycles.push_back(cycle);
  }
  return cycles;
}

bool same_setting(const Cycle& a, const Cycle& b) {
  if (a.flows != b.flows) return false;
  if (!a.flows) return true;
  return a.cut.edge == b.cut.edge &&
         std::abs(a.cut.conduction_angle_deg - b.cut.conduction_angle_deg) <= same_angle_deg &&
         std::abs(a.rms_a - b.rms_a) <= alike * std::max(a.rms_a, b.rms_a);
}

}  // namespace

std::string_view segment_name(Segment::Kind kind) {
  switch (kind) {
    case Segment::Kind::off:
      return "off";
    case Segment::Kind::turn_on:
      return "turn_on";
    case Segment::Kind::running:
      return "running";
    case Segment::Kind::changing:
      return "changing";
    case Segment::Kind::turn_off:
      return "turn_off";
  }
  return "changing";
}

std::vector<Segment> find_segments(const Capture& capture, const Figures& figures) {
  if (!figures.mains_frequency_hz) return {};
  const std::size_t live = figures.turn_on ? figures.turn_on->sample : 0;
  const double cycle_samples = capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const CycleWindow window = whole_cycles(live, capture.samples() - live, cycle_samples);
  std::vector<Segment> segments;
  if (live > 0) segments.push_back({Segment::Kind::off, 0, live, {}, 0.0});
  if (window.cycles == 0) return segments;
  const std::vector<Cycle> cycles = cycles_of(capture, figures, window);
  const auto end_of = [&](std::size_t k) {
    return k + 1 < cycles.size()
               ? cycles[k + 1].first
               : std::min(capture.samples(), window.first + static_cast<std::size_t>(std::lround(window.samples())));
  };
  for (std::size_t from = 0; from < cycles.size();) {
    // The first cycle of a stretch may still carry a part of what came before.
    std::size_t to = from + 1;
    while (to < cycles.size() && same_setting(cycles[to - 1], cycles[to])) ++to;
    const bool was_off = !segments.empty() && segments.back().kind == Segment::Kind::off;
    const bool settling = was_off || (!segments.empty() && segments.back().kind == Segment::Kind::turn_on);
    Segment segment;
    const Cycle& middle = cycles[from + (to - from) / 2];
    segment.kind = !cycles[from].flows ? Segment::Kind::off
                   : to - from >= 2    ? Segment::Kind::running
                                       : Segment::Kind::changing;
    segment.cut = middle.cut;
    segment.current_rms_a = middle.rms_a;
    if (cycles[from].flows && settling) {
      // Until it has settled; what follows of the same stretch is running.
      std::size_t steady = from + (was_off || to - from < 2 ? 1 : 0);
      const double end_a = cycles[to - 1].rms_a;
      while (steady < to && std::abs(cycles[steady].rms_a - end_a) > near_running * end_a) ++steady;
      if (steady > from) {
        segment.kind = Segment::Kind::turn_on;
        // A surge that has passed before the half cycle ends is no cut.
        segment.cut = figures.cut.edge == Edge::none ? Cut{} : cycles[from].cut;
        segment.current_rms_a = cycles[from].rms_a;
        to = steady;
      }
    }
    segment.first = cycles[from].first;
    segment.last = end_of(to - 1);
    if (!segments.empty() && segments.back().kind == segment.kind && segment.kind != Segment::Kind::running) {
      segments.back().last = segment.last;
    } else {
      segments.push_back(segment);
    }
    from = to;
  }
  for (std::size_t k = 1; k + 1 < segments.size(); ++k) {
    const bool last = segments[k].kind == Segment::Kind::changing && segments[k + 1].kind == Segment::Kind::off;
    if (!last || static_cast<double>(segments[k].last - segments[k].first) > 1.5 * window.cycle_samples) continue;
    segments[k].kind = Segment::Kind::turn_off;
    segments[k].cut = {};
  }
  return segments;
}

std::vector<Capture> captures_by_setting(const Capture& capture, const Figures& figures) {
  constexpr double fewest_cycles = 3.0;
  if (!figures.mains_frequency_hz) return {};
  const double cycle_samples = capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const std::vector<Segment> segments = find_segments(capture, figures);
  std::vector<Segment> settings;
  for (const Segment& one : segments) {
    const bool held = static_cast<double>(one.last - one.first) > (fewest_cycles - 0.1) * cycle_samples;
    if (one.kind != Segment::Kind::running || !held) continue;
    const bool known = std::any_of(settings.begin(), settings.end(), [&](const Segment& other) {
      return other.cut.edge == one.cut.edge &&
             std::abs(other.cut.conduction_angle_deg - one.cut.conduction_angle_deg) <= same_angle_deg;
    });
    if (!known) settings.push_back(one);
  }
  if (settings.size() < 2) return {};
  // Only what begins the record shows a lamp that was at rest for long.
  if (segments[0].kind == Segment::Kind::off && segments[1].kind == Segment::Kind::turn_on &&
      segments[2].first == settings[0].first) {
    settings[0].first = 0;
  }
  std::vector<Capture> parts;
  for (const Segment& one : settings) {
    Capture part;
    part.start_time_s = capture.start_time_s + static_cast<double>(one.first) * capture.sample_interval_s;
    part.file = fmt::format("{} ({:.3g} to {:.3g} s)", capture.file, part.start_time_s,
                            capture.start_time_s + static_cast<double>(one.last) * capture.sample_interval_s);
    part.sample_interval_s = capture.sample_interval_s;
    const auto cut_out = [&](const auto& values) {
      const auto begin = values.begin() + static_cast<std::ptrdiff_t>(one.first);
      return std::vector(begin, values.begin() + static_cast<std::ptrdiff_t>(std::min(one.last, values.size())));
    };
    part.voltage_v = cut_out(capture.voltage_v);
    part.current_a = cut_out(capture.current_a);
    if (!capture.clipped.empty()) part.clipped = cut_out(capture.clipped);
    part.voltage_step_v = capture.voltage_step_v;
    part.current_step_a = capture.current_step_a;
    parts.push_back(std::move(part));
  }
  return parts;
}

}  // namespace lampload
