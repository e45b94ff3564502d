#include "core/waveform/mains_sine.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/capture/between_samples.h"

namespace lampload {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kFollows = 0.03;  // of the amplitude: mains is flattened at its crest by that much

struct SinePoint {
  double sine;
  double cosine;
  double volts;
};

// v = a * sin + b * cos
struct Phasor {
  double a;
  double b;
};

double share_on(const std::vector<SinePoint>& points, Phasor p, double tolerance) {
  double on = 0.0;
  double all = 0.0;
  for (const SinePoint& point : points) {
    const double weight = std::abs(point.volts);
    all += weight;
    if (std::abs(p.a * point.sine + p.b * point.cosine - point.volts) < tolerance) on += weight;
  }
  return on / all;
}

// Of a half cycle of n points; at least one.
std::size_t points_in(double degrees, std::size_t n) {
  return static_cast<std::size_t>(std::max(1.0, std::round(degrees / 180.0 * static_cast<double>(n))));
}

// Least squares over the points within the tolerance.
Phasor refined(const std::vector<SinePoint>& points, Phasor p, double tolerance) {
  double ss = 0.0;
  double sc = 0.0;
  double cc = 0.0;
  double sv = 0.0;
  double cv = 0.0;
  for (const SinePoint& point : points) {
    if (std::abs(p.a * point.sine + p.b * point.cosine - point.volts) >= tolerance) continue;
    ss += point.sine * point.sine;
    sc += point.sine * point.cosine;
    cc += point.cosine * point.cosine;
    sv += point.sine * point.volts;
    cv += point.cosine * point.volts;
  }
  const double determinant = ss * cc - sc * sc;
  if (!(determinant > 1e-9 * ss * cc)) return p;
  return {(sv * cc - cv * sc) / determinant, (cv * ss - sv * sc) / determinant};
}

}  // namespace

std::size_t fold_points(const CycleWindow& window) {
  return static_cast<std::size_t>(std::clamp(std::round(0.5 * window.cycle_samples), 60.0, 720.0));
}

std::vector<double> folded_half_cycle(std::span<const double> values, const CycleWindow& window, std::size_t points) {
  const double half = 0.5 * window.cycle_samples;
  const double spacing = half / static_cast<double>(points);
  std::vector<double> folded(points, 0.0);
  const std::size_t halves = 2 * window.cycles;
  const auto last = static_cast<double>(values.size() - 1);
  for (std::size_t h = 0; h < halves; ++h) {
    const double sign = h % 2 == 0 ? 1.0 : -1.0;
    for (std::size_t j = 0; j < points; ++j) {
      const double at =
          static_cast<double>(window.first) + static_cast<double>(h) * half + static_cast<double>(j) * spacing;
      double value = 0.0;
      if (spacing > 2.0) {
        const auto from = static_cast<std::size_t>(std::max(0.0, std::ceil(at - 0.5 * spacing)));
        const auto to = static_cast<std::size_t>(std::min(last, std::floor(at + 0.5 * spacing)));
        for (std::size_t k = from; k <= to; ++k) value += values[k];
        value /= static_cast<double>(to - from + 1);
      } else {
        value = between_samples(values, at);
      }
      folded[j] += sign * value;
    }
  }
  for (double& value : folded) value /= static_cast<double>(halves);
  return folded;
}

std::optional<MainsSine> fit_mains_sine(std::span<const double> half_cycle, std::optional<double> amplitude_hint_v) {
  std::vector<double> magnitudes;
  for (const double v : half_cycle) magnitudes.push_back(std::abs(v));
  std::sort(magnitudes.begin(), magnitudes.end());
  // The very top may be ringing.
  const double top = magnitudes[magnitudes.size() - 1 - magnitudes.size() / 60];
  if (!(top > 0.0)) return std::nullopt;
  const double lowest = amplitude_hint_v ? 0.75 * *amplitude_hint_v : 0.95 * top;
  const double highest = amplitude_hint_v ? std::max(1.25 * *amplitude_hint_v, lowest) : 4.0 * top;

  std::vector<SinePoint> points;
  const std::size_t stride = std::max<std::size_t>(1, half_cycle.size() / 180);
  for (std::size_t j = 0; j < half_cycle.size(); j += stride) {
    const double angle = kPi * static_cast<double>(j) / static_cast<double>(half_cycle.size());
    points.push_back({std::sin(angle), std::cos(angle), half_cycle[j]});
  }
  // Every pair of points defines a sine; the one that most others lie on is the mains.
  Phasor best{0.0, 0.0};
  double best_share = -1.0;
  const std::size_t pick = std::max<std::size_t>(1, points.size() / 60);
  for (std::size_t j = 0; j < points.size(); j += pick) {
    if (std::abs(points[j].volts) < 0.1 * top) continue;
    for (std::size_t k = j + pick; k < points.size(); k += pick) {
      if (std::abs(points[k].volts) < 0.1 * top) continue;
      const double determinant = points[j].sine * points[k].cosine - points[k].sine * points[j].cosine;
      if (std::abs(determinant) < 0.08) continue;
      const Phasor p{(points[j].volts * points[k].cosine - points[k].volts * points[j].cosine) / determinant,
                     (points[j].sine * points[k].volts - points[k].sine * points[j].volts) / determinant};
      const double amplitude = std::hypot(p.a, p.b);
      if (amplitude < lowest || amplitude > highest) continue;
      const double share = share_on(points, p, kFollows * top);
      if (share > best_share) {
        best_share = share;
        best = p;
      }
    }
  }
  if (best_share < 0.0) return std::nullopt;
  for (int round = 0; round < 6; ++round) best = refined(points, best, 1.5 * kFollows * top);

  MainsSine sine;
  sine.amplitude_v = std::hypot(best.a, best.b);
  sine.phase_deg = std::fmod(std::atan2(best.b, best.a) * 180.0 / kPi + 360.0, 360.0);
  const double tolerance = 2.0 * kFollows * top;
  sine.following_share = share_on(points, best, tolerance);
  double squares = 0.0;
  std::size_t count = 0;
  for (const SinePoint& point : points) {
    const double distance = best.a * point.sine + best.b * point.cosine - point.volts;
    if (std::abs(distance) >= tolerance) continue;
    squares += distance * distance;
    ++count;
  }
  if (count > 0) sine.spread_v = std::sqrt(squares / static_cast<double>(count));
  return sine;
}

std::optional<MainsSine> sine_from_closing(std::span<const double> half_cycle) {
  const std::size_t n = half_cycle.size();
  // Every second half cycle is inverted, so what follows the end is the beginning inverted.
  const auto at = [&](std::size_t j) { return j < n ? half_cycle[j] : -half_cycle[j - n]; };
  const auto in_points = [&](double degrees) { return points_in(degrees, n); };
  const auto span = in_points(1.2) + 1;
  double top = 0.0;
  for (const double v : half_cycle) top = std::max(top, std::abs(v));
  std::size_t jump = n;
  double size = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    const double step = std::abs(at((j + span) % (2 * n)) - at(j));
    const double before = std::abs(at(j));
    if (std::abs(at(j + span)) < std::min(0.12 * top, 0.4 * before) && before > 0.12 * top && step > size) {
      size = step;
      jump = j;
    }
  }
  if (jump == n) return std::nullopt;
  const double sign = at(jump) > 0.0 ? -1.0 : 1.0;  // of the half cycle that begins
  const auto risen = [&](double degrees) {
    const std::size_t j = jump + span + in_points(degrees);
    return sign * (j < 2 * n ? at(j) : 0.0);
  };
  if (!(risen(8.0) > 0.05 * top && risen(16.0) > 1.4 * risen(8.0))) return std::nullopt;

  // v = a * x + b through the first degrees, where the sine is nearly straight, gives zero crossing and amplitude; more
  // points are taken in as long as they follow.
  std::vector<SinePoint> points;
  const auto first = jump + span;
  double reach = 14.0;
  Phasor p{0.0, 0.0};
  for (int round = 0; round < 40; ++round) {
    points.clear();
    const auto last = first + in_points(reach);
    for (std::size_t j = first; j <= last && j < 2 * n; ++j) {
      const double angle = kPi * static_cast<double>(j) / static_cast<double>(n);
      points.push_back({std::sin(angle), std::cos(angle), at(j)});
    }
    const double zero = kPi * (static_cast<double>(jump) + 0.5 * static_cast<double>(span)) / static_cast<double>(n);
    if (reach < 30.0) {
      double sv = 0.0;
      double ss = 0.0;
      for (const SinePoint& point : points) {
        const double s = point.sine * std::cos(zero) - point.cosine * std::sin(zero);
        sv += s * point.volts;
        ss += s * s;
      }
      p = {sv / ss * std::cos(zero), -sv / ss * std::sin(zero)};
    } else {
      p = refined(points, p, kFollows * top);
    }
    const SinePoint& end = points.back();
    const double next = reach + 4.0;
    if (std::abs(p.a * end.sine + p.b * end.cosine - end.volts) > 0.02 * top || next > 170.0) break;
    reach = next;
  }
  // The flattened crest of real mains pulls the fit to the rising part off; all that follows mends it.
  points.clear();
  for (std::size_t j = 0; j < n; ++j) {
    const double angle = kPi * static_cast<double>(j) / static_cast<double>(n);
    points.push_back({std::sin(angle), std::cos(angle), half_cycle[j]});
  }
  if (reach > 125.0) {
    for (int round = 0; round < 4; ++round) p = refined(points, p, 1.5 * kFollows * top);
  }
  MainsSine sine;
  sine.amplitude_v = std::hypot(p.a, p.b);
  if (sine.amplitude_v < 0.9 * top) return std::nullopt;
  sine.phase_deg = std::fmod(std::atan2(p.b, p.a) * 180.0 / kPi + 360.0, 360.0);
  sine.following_share = 1.0;
  double squares = 0.0;
  double count = 0.0;
  for (const SinePoint& point : points) {
    const double distance = p.a * point.sine + p.b * point.cosine - point.volts;
    if (std::abs(distance) > 1.5 * kFollows * top) continue;
    squares += distance * distance;
    count += 1.0;
  }
  if (count > 0.0) sine.spread_v = std::sqrt(squares / count);
  return sine;
}

std::optional<Firing> sine_from_firing(std::span<const double> voltage_half_cycle,
                                       std::span<const double> current_half_cycle,
                                       std::optional<double> amplitude_hint_v) {
  const std::size_t n = voltage_half_cycle.size();
  const auto volts = [&](std::size_t j) {
    return (j / n % 2 == 0 ? 1.0 : -1.0) * voltage_half_cycle[j % n];  // every second half cycle is inverted
  };
  const auto in_points = [&](double degrees) { return points_in(degrees, n); };
  double top = 0.0;
  for (const double v : voltage_half_cycle) top = std::max(top, std::abs(v));
  std::size_t strongest = 0;
  for (std::size_t j = 0; j < n; ++j) {
    if (std::abs(current_half_cycle[j]) > std::abs(current_half_cycle[strongest])) strongest = j;
  }

  // From next to nothing, for a while, to most of the voltage: not a trailing edge's late start.
  const std::size_t span = in_points(1.5) + 1;
  const std::size_t before = in_points(5.0);
  std::size_t jump = 2 * n;
  double size = 0.0;
  for (std::size_t j = n; j < 2 * n; ++j) {
    const double from = std::abs(volts(j));
    const double to = std::abs(volts(j + span));
    if (from > 0.15 * top || std::abs(volts(j - before)) > 0.3 * top || to < 0.6 * top || to - from <= size) continue;
    size = to - from;
    jump = j;
  }
  if (jump == 2 * n || (strongest + 2 * n - jump) % n > span + in_points(8.0)) return std::nullopt;

  // The middle of the jump is the instant.
  std::size_t fired = jump;
  while (fired < jump + span && std::abs(volts(fired)) < 0.5 * std::abs(volts(jump + span))) ++fired;

  const std::size_t first = jump + span;
  std::vector<SinePoint> points;
  const auto gather = [&](std::size_t last) {
    points.clear();
    for (std::size_t j = first; j <= last; ++j) {
      const double angle = kPi * static_cast<double>(j) / static_cast<double>(n);
      points.push_back({std::sin(angle), std::cos(angle), volts(j)});
    }
  };
  constexpr double kBegin = 4.0;  // [deg]
  // The pulse's own current bends a short arc in the supply's impedance: amplitude and phase cannot be told from it.
  constexpr double kTells = 12.0;  // [deg]
  std::size_t last = first + in_points(kBegin);
  gather(last);
  Phasor p = refined(points, {0.0, 0.0}, 2.0 * top);
  const auto follows = [&](double tolerance) {
    return std::all_of(points.begin(), points.end(), [&](const SinePoint& point) {
      return std::abs(p.a * point.sine + p.b * point.cosine - point.volts) < tolerance;
    });
  };
  const bool begins = follows(0.03 * top);
  // Without current the terminals may show the lamp's own voltage.
  const auto flows = [&](std::size_t j) {
    return std::abs(current_half_cycle[j % n]) > 0.03 * std::abs(current_half_cycle[strongest]);
  };
  while (begins && last < first + n && flows(last + in_points(1.0))) {
    const Phasor shorter = p;
    gather(last + in_points(1.0));
    p = refined(points, p, 2.0 * top);
    if (!follows(0.03 * top)) {
      p = shorter;
      gather(last);
      break;
    }
    last += in_points(1.0);
  }

  double reached = 0.0;
  for (const SinePoint& point : points) reached = std::max(reached, std::abs(point.volts));
  const double middle = kPi * static_cast<double>(first) / static_cast<double>(n);
  const double lowest = amplitude_hint_v ? 0.75 * *amplitude_hint_v : 0.95 * top;
  const double highest = amplitude_hint_v ? 1.25 * *amplitude_hint_v : 2.0 * top;
  MainsSine sine;
  sine.amplitude_v = std::hypot(p.a, p.b);
  sine.phase_deg = std::atan2(p.b, p.a) * 180.0 / kPi;
  if (!begins || last - first < in_points(kTells) || sine.amplitude_v < lowest || sine.amplitude_v > highest) {
    sine.amplitude_v = std::max(amplitude_hint_v.value_or(top), top);
    const bool falls = begins && std::abs(volts(last)) < 0.99 * reached && std::abs(volts(first)) > 0.995 * reached;
    const double rising_deg = std::asin(std::min(1.0, reached / sine.amplitude_v)) * 180.0 / kPi;
    sine.phase_deg =
        (falls ? 180.0 - rising_deg : rising_deg) - middle * 180.0 / kPi + (volts(first) < 0.0 ? 180.0 : 0.0);
  }
  sine.phase_deg = std::fmod(sine.phase_deg + 720.0, 360.0);
  sine.following_share = 1.0;
  return Firing{sine, std::fmod(sine.phase_deg + 180.0 * static_cast<double>(fired) / static_cast<double>(n), 180.0)};
}

}  // namespace lampload
