#include "core/waveform/cut.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lampload {
namespace {

constexpr double kDepartsMost = 0.06;  // distorted mains stay closer to their sine
constexpr double kDepartsLeast = 0.025;
constexpr double kSmallestAngle = 5.0;  // [deg] of a half cycle; less cannot be told from the zero crossing
constexpr double kCurrentZero = 0.05;   // of the current's peak
constexpr double kSharpSpan = 1.5;      // [deg] in which an edge is over
constexpr double kLatestCharge = 86.0;  // [deg] a reservoir that is charged near the crest tells nothing

// One half cycle by mains phase, 0 to 180 degrees.
struct CutHalf {
  std::vector<double> volts;
  std::vector<double> amperes;
  double amplitude = 0.0;
  double departs = 0.0;  // of the amplitude: further away, the voltage no longer follows the mains

  [[nodiscard]] std::size_t points() const { return volts.size(); }
  [[nodiscard]] double degrees(double index) const { return 180.0 * index / static_cast<double>(points()); }
  [[nodiscard]] double sine(std::size_t j) const {
    return amplitude * std::sin(std::numbers::pi * static_cast<double>(j) / static_cast<double>(points()));
  }
  [[nodiscard]] double distance(std::size_t j) const { return volts[j] - sine(j); }
  [[nodiscard]] std::size_t index(double degrees) const {
    const double at =
        std::clamp(degrees / 180.0 * static_cast<double>(points()), 0.0, static_cast<double>(points() - 1));
    return static_cast<std::size_t>(std::lround(at));
  }
};

// From folds that begin anywhere to folds that begin at the mains' rising zero crossing.
std::vector<double> rotated(const std::vector<double>& folded, double phase_deg) {
  const auto n = static_cast<double>(folded.size());
  std::vector<double> aligned(folded.size());
  for (std::size_t j = 0; j < folded.size(); ++j) {
    double at = static_cast<double>(j) - phase_deg / 180.0 * n;
    double sign = 1.0;
    while (at < 0.0) {
      at += n;
      sign = -sign;
    }
    const auto left = std::min(static_cast<std::size_t>(at), folded.size() - 1);
    const double share = at - static_cast<double>(left);
    const double next = left + 1 < folded.size() ? folded[left + 1] : -folded[0];
    aligned[j] = sign * (folded[left] + share * (next - folded[left]));
  }
  return aligned;
}

// The longest run of points on the mains sine, as indices [first, last]. Gaps of a degree or so (ringing) are bridged.
struct Run {
  std::size_t first = 0;
  std::size_t last = 0;
  bool found = false;
};

Run following_run(const CutHalf& half) {
  const std::size_t bridge = half.index(1.5);
  Run best;
  Run run;
  std::size_t away = 0;
  for (std::size_t j = 0; j < half.points(); ++j) {
    const bool tells = half.sine(j) > half.departs * half.amplitude;
    if (!tells) continue;
    if (std::abs(half.distance(j)) <= half.departs * half.amplitude) {
      if (!run.found || away > bridge) run = {j, j, true};
      run.last = j;
      away = 0;
      if (!best.found || run.last - run.first > best.last - best.first) best = run;
    } else {
      ++away;
    }
  }
  return best;
}

struct Jump {
  double at_deg = 0.0;
  double size = 0.0;
};

// The steepest change of `value` between two phases, over a span as wide as an edge.
template <typename Value>
Jump steepest(const CutHalf& half, double from_deg, double to_deg, Value value) {
  const std::size_t span = std::max<std::size_t>(1, half.index(kSharpSpan));
  const std::size_t from = half.index(from_deg);
  const std::size_t to = std::max(half.index(to_deg), from + span);
  double top = 0.0;
  for (std::size_t j = from; j + span <= std::min(to, half.points() - 1); ++j) {
    top = std::max(top, std::abs(value(j + span) - value(j)));
  }
  // All spans that hold the whole edge are equally steep: their middle is the edge.
  double sum = 0.0;
  double count = 0.0;
  for (std::size_t j = from; j + span <= std::min(to, half.points() - 1); ++j) {
    if (std::abs(value(j + span) - value(j)) < 0.9 * top) continue;
    sum += static_cast<double>(j) + 0.5 * static_cast<double>(span);
    count += 1.0;
  }
  return {count > 0.0 ? half.degrees(sum / count) : from_deg, top};
}

// A lamp that holds its voltage after the cut leaves the sine slowly: its course, drawn back, meets the sine at the
// cut.
double where_held_voltage_left(const CutHalf& half, double seen_deg) {
  const std::size_t from = half.index(seen_deg);
  const std::size_t to = half.index(std::min(seen_deg + 10.0, 177.0));
  double n = 0.0;
  double sx = 0.0;
  double sy = 0.0;
  double sxx = 0.0;
  double sxy = 0.0;
  for (std::size_t j = from; j <= to; ++j) {
    const double x = half.degrees(static_cast<double>(j)) - seen_deg;
    n += 1.0;
    sx += x;
    sy += half.volts[j];
    sxx += x * x;
    sxy += x * half.volts[j];
  }
  const double determinant = n * sxx - sx * sx;
  if (!(determinant > 0.0)) return seen_deg;
  const double slope = (n * sxy - sx * sy) / determinant;
  const double level = (sy - slope * sx) / n;
  constexpr double kFurthestBack = 30.0;
  double nearest = seen_deg;
  double gap = 1e300;
  for (double back = 0.0; back <= kFurthestBack && back < seen_deg; back += 0.1) {
    const double phase = seen_deg - back;
    const double away = level - slope * back - half.amplitude * std::sin(phase * std::numbers::pi / 180.0);
    if (std::abs(away) < gap) {
      gap = std::abs(away);
      nearest = phase;
    }
    if (away <= 0.0) break;
  }
  return nearest;
}

double current_peak(const CutHalf& half) {
  double peak = 0.0;
  for (const double i : half.amperes) peak = std::max(peak, std::abs(i));
  return peak;
}

double trailing_edge(const CutHalf& half, double seen_deg) {
  const double peak = current_peak(half);
  // A current that breaks off tells it best.
  const Jump current = steepest(half, seen_deg - 25.0, seen_deg + 1.0, [&](std::size_t j) { return half.amperes[j]; });
  if (current.size > 0.25 * peak && std::abs(half.amperes[half.index(current.at_deg + 2.0)]) < 0.1 * peak) {
    return current.at_deg;
  }
  const Jump voltage = steepest(half, seen_deg - 4.0, seen_deg + 3.0, [&](std::size_t j) { return half.distance(j); });
  const double after = std::abs(half.distance(half.index(seen_deg + 2.0)));
  if (voltage.size > 0.6 * after && voltage.size > 0.1 * half.amplitude) return voltage.at_deg;
  return where_held_voltage_left(half, seen_deg);
}

Cut cut_of_voltage(const CutHalf& half) {
  const Run run = following_run(half);
  if (!run.found) return {};
  const double first = half.degrees(static_cast<double>(run.first));
  const double last = half.degrees(static_cast<double>(run.last));
  const double unseen = std::asin(half.departs) * 180.0 / std::numbers::pi;  // beside the zero crossings
  const double before = first - unseen;
  const double behind = 180.0 - unseen - last;
  if (std::max(before, behind) < kSmallestAngle - unseen + 1.0) return {};

  if (before > kSmallestAngle - unseen) {
    const Jump jump = steepest(half, first - 12.0, first + 1.0, [&](std::size_t j) { return half.distance(j); });
    // A trailing-edge dimmer that closes late after the zero crossing jumps as well, a few degrees in.
    const bool closes_late = first < 15.0 && behind > 20.0;
    if (jump.size > 0.04 * half.amplitude && !closes_late) return {Edge::leading, 180.0 - jump.at_deg, false};
  }
  if (behind < kSmallestAngle - unseen) return {};
  return {Edge::trailing, trailing_edge(half, last), false};
}

// A rectifier's current that begins with a surge: the lamp's voltage jumped, though the measured one did not. On a
// whole sine a reservoir's charging current begins with what the slope of the sine gives, and falls no faster than
// that.
bool begins_with_surge(const CutHalf& half, double from_deg, double peak) {
  constexpr double kOver = 3.0;  // [deg] a surge into a lamp's reservoir lasts less
  double top = 0.0;
  for (std::size_t j = half.index(from_deg); j <= half.index(from_deg + kSharpSpan); ++j)
    top = std::max(top, std::abs(half.amperes[j]));
  if (top < 0.95 * peak) return false;
  if (from_deg > kLatestCharge) return true;
  const double left = std::abs(half.amperes[half.index(from_deg + kSharpSpan + kOver)]);
  const double slope_left = std::cos((from_deg + kSharpSpan + kOver) * std::numbers::pi / 180.0) /
                            std::cos(from_deg * std::numbers::pi / 180.0);
  return left < 0.8 * slope_left * peak;
}

// The voltage is a whole sine; a cut shows in the current alone, and only as edges that a rectifier would not make: a
// current that follows the voltage up to the cut or from it on, one that begins with a surge or after the crest, or one
// that breaks off before it.
Cut cut_of_current(const CutHalf& half) {
  const double peak = current_peak(half);
  if (!(peak > 0.0)) return {};
  const auto flows = [&](std::size_t j) { return std::abs(half.amperes[j]) > kCurrentZero * peak; };
  std::size_t first = 0;
  while (first < half.points() && !flows(first)) ++first;
  std::size_t last = half.points() - 1;
  while (last > first && !flows(last)) --last;
  const double from = half.degrees(static_cast<double>(first));
  const double to = half.degrees(static_cast<double>(last));
  double cs = 0.0;
  double ss = 0.0;
  double cc = 0.0;
  // Without the edges themselves, which averaging has blurred.
  const std::size_t blur = std::max<std::size_t>(1, half.index(kSharpSpan));
  for (std::size_t j = first + blur; j + blur <= last; ++j) {
    const double s = half.sine(j) / half.amplitude;
    cs += half.amperes[j] * s;
    ss += s * s;
    cc += half.amperes[j] * half.amperes[j];
  }
  const double conductance = ss > 0.0 ? cs / ss : 0.0;
  const bool resistive = cc > 0.0 && (cc - conductance * cs) < 0.03 * cc;
  const auto sharp_at = [&](double degrees) {
    const Jump jump = steepest(half, degrees - 5.0, degrees + 4.0, [&](std::size_t j) { return half.amperes[j]; });
    const double wanted = std::abs(conductance) * std::sin(degrees * std::numbers::pi / 180.0);
    return jump.size > 0.5 * wanted ? std::optional(jump.at_deg) : std::nullopt;
  };
  constexpr double kClear = 8.0;
  if (from > kClear && to > 165.0 && resistive) {
    if (const auto edge = sharp_at(from)) return {Edge::leading, 180.0 - *edge, true};
  }
  if (to < 180.0 - kClear && from < 15.0 && resistive) {
    if (const auto edge = sharp_at(to)) return {Edge::trailing, *edge, true};
  }
  if (from > 92.0 && to > from) return {Edge::leading, 180.0 - from, true};
  if (from > kClear && begins_with_surge(half, from, peak)) return {Edge::leading, 180.0 - from, true};
  if (to < kLatestCharge) {
    const Jump end = steepest(half, to - 3.0, to + 3.0, [&](std::size_t j) { return half.amperes[j]; });
    if (end.size > 0.15 * peak) return {Edge::trailing, end.at_deg, true};
  }
  return {};
}

}  // namespace

CutFinding find_cut(std::span<const double> voltage_v, std::span<const double> current_a, const CycleWindow& window,
                    std::optional<double> amplitude_hint_v) {
  const std::size_t points = fold_points(window);
  const std::vector<double> folded = folded_half_cycle(voltage_v, window, points);
  const std::vector<double> folded_current = folded_half_cycle(current_a, window, points);
  CutFinding finding;
  finding.sine = sine_from_closing(folded);
  if (!finding.sine) finding.sine = fit_mains_sine(folded, amplitude_hint_v);
  constexpr double kTooFew = 0.08;
  if (finding.sine && finding.sine->following_share < kTooFew) finding.sine.reset();
  if (finding.sine) {
    CutHalf half;
    half.amplitude = finding.sine->amplitude_v;
    half.departs = std::clamp(4.0 * finding.sine->spread_v / half.amplitude, kDepartsLeast, kDepartsMost);
    half.volts = rotated(folded, finding.sine->phase_deg);
    half.amperes = rotated(folded_current, finding.sine->phase_deg);
    finding.cut = cut_of_voltage(half);
    if (finding.cut.edge == Edge::none) finding.cut = cut_of_current(half);
  }
  if (finding.cut.edge == Edge::leading) return finding;
  // What follows a short pulse, the lamp's own voltage running down, may look like another sine, or like none.
  if (const auto firing = sine_from_firing(folded, folded_current, amplitude_hint_v)) {
    return {{Edge::leading, 180.0 - firing->at_deg, false}, firing->sine};
  }
  return finding;
}

std::vector<std::size_t> voltage_jumps(std::span<const double> voltage_v, double interval_s) {
  std::vector<std::size_t> jumps;
  constexpr double kEdge = 20e-6;  // [s] an edge may take this long, and a few times longer, and still be a jump
  const auto span = static_cast<std::size_t>(std::max(1.0, std::round(kEdge / interval_s)));
  if (voltage_v.size() < span + 4) return jumps;
  std::vector<double> steps(voltage_v.size() - span);
  double top = 0.0;
  for (std::size_t k = 0; k < steps.size(); ++k) {
    steps[k] = std::abs(voltage_v[k + span] - voltage_v[k]);
    top = std::max(top, std::abs(voltage_v[k]));
  }
  std::vector<double> sorted = steps;
  const auto usual = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::nth_element(sorted.begin(), usual, sorted.end());
  // Faster than the steepest part of a 65 Hz sine, and out of the noise.
  const double slope = 2.0 * std::numbers::pi * 65.0 * interval_s * static_cast<double>(span) * top;
  const double threshold = std::max({0.04 * top, 2.0 * slope, 6.0 * *usual});
  for (std::size_t k = 0; k < steps.size(); ++k) {
    if (steps[k] <= threshold) continue;
    while (k + 1 < steps.size() && steps[k + 1] > threshold) ++k;
    jumps.push_back(k + 1);
  }
  return jumps;
}

}  // namespace lampload
