#include "fit/drive.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <utility>

#include "core/error.h"
#include "fit/mains_part.h"
#include "fit/voltage_noise.h"

namespace lampload {
namespace {

/// Part of the current that a model may miss before it counts: scale errors and the like, as a share of the current
/// itself.
constexpr double model_allowance = 0.01;
/// Part of a sudden change of current that the unknown instant of a jump between two samples can shift, by the sample
/// interval: fast samples follow what happens within a jump, slow ones do not.
constexpr double jump_time_s = 6e-6;
constexpr double least_jump_share = 0.6;
constexpr double most_jump_share = 1.7;
/// How far an instant may be off: the foot of a diode's curve, a probe's phase, the line between two samples.
constexpr double time_allowance_s = 3e-6;

/// Phase in half cycles since a zero crossing, or in periods of the pulses, for a sample of the capture.
double repeats(const Figures& figures, double dt_s, std::size_t sample) {
  const double from_steady = (static_cast<double>(sample) - static_cast<double>(figures.steady_first)) * dt_s;
  if (figures.direct) return figures.direct->pulses ? figures.direct->pulses->frequency_hz * from_steady : 0.0;
  return figures.steady_phase_deg / 180.0 + 2.0 * figures.mains_frequency_hz.value_or(0.0) * from_steady;
}

/// Where the voltage was taken ahead of the dimmer or the contact, the lamp's own voltage is zero wherever that is
/// open: there the lamp draws far less than it does at this voltage on average. (A lamp with a reservoir draws nothing
/// at times while connected; but then its bridge blocks, and zero is as good as any lower voltage.)
void open_the_switch(std::vector<double>& voltage, const Capture& capture, const Figures& figures) {
  constexpr double conducting_share = 0.3;  // of the average conductance: between noise and a lamp that runs
  if (figures.voltage_rms_v <= 0.0) return;
  const double conductance_s = conducting_share * figures.current_rms_a / figures.voltage_rms_v;
  for (std::size_t s = 0; s < voltage.size(); ++s) {
    if (std::abs(capture.current_a[s] - figures.current_offset_a) < conductance_s * std::abs(voltage[s]))
      voltage[s] = 0.0;
  }
}

/// Samples where something happens: each 1, the others 0.
using Busy = std::vector<std::uint8_t>;

void mark(Busy& busy, std::size_t sample, std::size_t before, std::size_t after) {
  const auto first = static_cast<std::ptrdiff_t>(sample >= before ? sample - before : 0);
  const auto last = static_cast<std::ptrdiff_t>(std::min(busy.size() - 1, sample + after));
  std::fill(busy.begin() + first, busy.begin() + last + 1, std::uint8_t{1});
}

Busy around_jumps(std::size_t samples, const std::vector<std::size_t>& jumps, std::size_t fine) {
  constexpr std::size_t fine_blocks_after_jump = 24;
  Busy busy(samples, 0);
  for (const std::size_t jump : jumps) mark(busy, jump, 2 * fine, fine_blocks_after_jump * fine);
  return busy;
}

/// Where the measured current bends by more than noise does: a tap that comes in, a bridge that opens.
/// around: how many samples before and after it are busy.
void add_bends(Busy& busy, std::span<const double> current, double noise_a, std::size_t around) {
  constexpr double beyond_noise = 10.0;  // four standard deviations of a second difference
  for (std::size_t s = 1; s + 1 < busy.size(); ++s) {
    if (std::abs(current[s - 1] - 2.0 * current[s] + current[s + 1]) > beyond_noise * noise_a)
      mark(busy, s, around, around);
  }
}

/// Samples at which blocks begin and end.
std::vector<std::size_t> cut_into_blocks(const Busy& busy, std::size_t coarse, std::size_t fine) {
  const std::size_t samples = busy.size();
  std::vector<std::size_t> bounds = {0};
  while (bounds.back() + fine < samples) {
    const std::size_t at = bounds.back();
    std::size_t next = std::min(at + coarse, samples - 1);
    const auto first_busy = std::find(busy.begin() + static_cast<std::ptrdiff_t>(at),
                                      busy.begin() + static_cast<std::ptrdiff_t>(next), std::uint8_t{1});
    if (first_busy != busy.begin() + static_cast<std::ptrdiff_t>(next)) {
      next = std::min(at + fine, samples - 1);
    }
    bounds.push_back(next);
  }
  return bounds;
}

/// Where a pulse begins or ends within a block: in the middle of what the jumps there span.
void place_steps(DrivenCapture& drive) {
  drive.step_s.assign(drive.bounds.size() - 1, -1.0);
  std::size_t next = 0;
  for (std::size_t k = 0; k + 1 < drive.bounds.size(); ++k) {
    const std::size_t first = next;
    while (next < drive.jumps.size() && drive.jumps[next] < drive.bounds[k + 1]) ++next;
    if (next == first) continue;
    const double middle = 0.5 * static_cast<double>(drive.jumps[first] + drive.jumps[next - 1] + 1);
    drive.step_s[k] = (middle - static_cast<double>(drive.bounds[k])) * drive.dt_s;
  }
}

void measure_blocks(DrivenCapture& drive, const Capture& capture) {
  const std::span<const double> current(capture.current_a.begin() + static_cast<std::ptrdiff_t>(drive.first_sample),
                                        capture.current_a.end());
  const std::size_t blocks = drive.bounds.size() - 1;
  drive.current_a.resize(blocks);
  drive.noise_a.resize(blocks);
  drive.allowed_a.resize(blocks);
  drive.timing_a.assign(blocks, 0.0);
  drive.use.assign(blocks, Use::fitted);
  for (std::size_t k = 0; k < blocks; ++k) {
    const std::size_t a = drive.bounds[k];
    const std::size_t b = drive.bounds[k + 1];
    const double count = static_cast<double>(b - a);
    double sum = 0.5 * (current[a] + current[b]);
    for (std::size_t s = a + 1; s < b; ++s) sum += current[s];
    drive.current_a[k] = sum / count;
    // Neighbouring blocks share their boundary sample; counted as independent, a block of n samples has 1/n of their
    // variance.
    const double white = drive.current_noise_a / std::sqrt(count);
    const double step = 0.15 * capture.current_step_a;  // does not average out: the steps follow the waveform
    drive.noise_a[k] = std::hypot(white, step);
    drive.allowed_a[k] = model_allowance * std::abs(drive.current_a[k] - drive.offset_guess_a);
    if (!capture.clipped.empty()) {
      for (std::size_t s = a; s <= b; ++s) {
        if (capture.clipped[drive.first_sample + s] != 0) drive.use[k] = Use::left_out;
      }
    }
  }
  for (std::size_t k = 1; k + 1 < blocks; ++k) {
    const double apart = 0.5 * drive.length_s(k - 1) + drive.length_s(k) + 0.5 * drive.length_s(k + 1);
    const double in_doubt = 2.0 * std::hypot(drive.noise_a[k], drive.allowed_a[k]);
    const double change = std::max(0.0, std::abs(drive.current_a[k + 1] - drive.current_a[k - 1]) - in_doubt);
    drive.timing_a[k] = time_allowance_s * change / apart;
  }
  // A delay moves the first and last blocks out of the record.
  const std::size_t edge = std::min<std::size_t>(blocks / 8, 1 + 8 / drive.coarse);
  for (std::size_t k = 0; k < edge; ++k) {
    if (!drive.from_rest) drive.use[k] = Use::left_out;
    drive.use[blocks - 1 - k] = Use::left_out;
  }
}

/// DC that stands at one level, or is switched between two.
bool has_levels(const Figures& figures) { return figures.direct && !figures.turn_on; }

/// The one or two levels of a DC voltage, one value a sample: each the mean of the samples nearest to it.
std::vector<double> dc_levels(const std::vector<double>& voltage, bool pulses) {
  const auto [lowest, highest] = std::minmax_element(voltage.begin(), voltage.end());
  double low = *lowest;
  double high = *highest;
  constexpr int rounds = 5;
  for (int round = 0; round < rounds; ++round) {
    const double between = pulses ? 0.5 * (low + high) : *lowest - 1.0;
    double sum[2] = {0.0, 0.0}, count[2] = {0.0, 0.0};
    for (const double v : voltage) {
      sum[v > between ? 1 : 0] += v;
      count[v > between ? 1 : 0] += 1.0;
    }
    if (count[0] > 0.0) low = sum[0] / count[0];
    if (count[1] > 0.0) high = sum[1] / count[1];
  }
  std::vector<double> levels;
  for (const double v : voltage) levels.push_back(!pulses || v > 0.5 * (low + high) ? high : low);
  return levels;
}

/// Takes what smoothing left of the noise from DC levels that show nothing else. A level is flat throughout or not at
/// all: single instants of a ripple that passes zero must not be taken out of it. raw: the voltage less its levels;
/// rest: the same smoothed.
void flatten_levels(Smooth& rest, const std::vector<double>& raw, const std::vector<double>& levels,
                    const std::vector<std::size_t>& jumps, double noise) {
  constexpr std::size_t near_edge = 8;   // [samples], where nothing is told by what is left
  constexpr std::size_t narrow = 6;      // [samples] of a window
  constexpr double of_the_record = 0.3;  // of a window's error: what the mean of a whole level has, rather less
  constexpr double on_the_way = 4.0;     // times the noise: a sample between the levels
  const double highest = *std::max_element(levels.begin(), levels.end());
  const auto near_jump = [&](std::size_t s) {
    const auto jump = std::lower_bound(jumps.begin(), jumps.end(), s < near_edge ? 0 : s - near_edge);
    return jump != jumps.end() && *jump <= s + near_edge;
  };
  for (const bool upper : {false, true}) {
    const auto belongs = [&](std::size_t s) { return (levels[s] == highest) == upper; };
    double ripple = 0.0;
    double error = 0.0;
    double least_sd = noise;
    for (std::size_t s = 0; s < levels.size(); ++s) {
      if (!belongs(s) || near_jump(s) || rest.window[s] <= narrow) continue;
      ripple += rest.value[s] * rest.value[s];
      error += rest.sd[s] * rest.sd[s];
      least_sd = std::min(least_sd, rest.sd[s]);
    }
    if (!(ripple < error)) continue;
    for (std::size_t s = 0; s < levels.size(); ++s) {
      if (!belongs(s) || std::abs(raw[s]) > on_the_way * noise) continue;
      rest.value[s] = 0.0;
      rest.sd[s] = of_the_record * least_sd;
    }
  }
}

/// The drive's voltage: what the mains explain, plus the rest with its noise smoothed away.
void remove_noise(DrivenCapture& drive, const std::vector<double>& voltage, std::vector<double> current,
                  const std::vector<std::size_t>& jumps, const Capture& capture, const Figures& figures) {
  constexpr double settled_sds = 2.5;  // a rest this small is taken for none
  const auto samples_in = [&](double seconds) {
    return std::max<std::size_t>(3, static_cast<std::size_t>(std::lround(seconds / drive.dt_s)));
  };
  for (double& i : current) i -= drive.offset_guess_a;
  const std::vector<double> quiet =
      without_noise(current, jumps, drive.current_noise_a, capture.current_step_a, samples_in(0.1e-3)).value;
  MainsPart mains =
      mains_part(voltage, quiet, drive.dt_s, drive.first_sample, figures, drive.voltage_noise_v).value_or(MainsPart{});
  const bool levels = has_levels(figures);
  if (levels) mains.voltage_v = dc_levels(voltage, figures.direct->pulses.has_value());
  std::vector<double> rest = voltage;
  for (double& v : rest) v -= mains.offset_v;
  for (std::size_t s = 0; s < mains.voltage_v.size(); ++s) rest[s] -= mains.voltage_v[s];
  Smooth smooth = without_noise(rest, jumps, drive.voltage_noise_v, capture.voltage_step_v, samples_in(0.5e-3));
  if (levels) flatten_levels(smooth, rest, mains.voltage_v, jumps, drive.voltage_noise_v);
  for (std::size_t s = 0; s < mains.voltage_v.size(); ++s) {
    // Where the rest is nothing but noise the mains part stands alone, known from the whole record.
    if (!levels && std::abs(smooth.value[s]) < settled_sds * smooth.sd[s] && smooth.window[s] > 6) {
      smooth.value[s] = 0.0;
      smooth.sd[s] *= 0.3;
    }
    smooth.value[s] += mains.voltage_v[s];
  }
  drive.voltage_v = std::move(smooth.value);
  drive.voltage_sd_v = std::move(smooth.sd);
  drive.voltage_window = std::move(smooth.window);
}

/// Where the switch was seen by the current alone, its instants are as late as the current channel, while the supply's
/// sine is not: blocks at these instants would pull the delay away from what the rest of the record says.
void leave_out_jumps(DrivenCapture& drive) {
  constexpr double before_s = 10e-6;
  constexpr double after_s =
      60e-6;  // a usual delay and a few time constants of a slow clamp (common practice, no source)
  for (const std::size_t jump : drive.jumps) {
    const double at = static_cast<double>(jump) * drive.dt_s;
    for (std::size_t k = 0; k < drive.blocks(); ++k) {
      const double begins = static_cast<double>(drive.bounds[k]) * drive.dt_s;
      const double ends = static_cast<double>(drive.bounds[k + 1]) * drive.dt_s;
      if (ends > at - before_s && begins < at + after_s) drive.use[k] = Use::left_out;
    }
  }
}

/// Blocks of a record whose noise is removed, with what is measured on them.
void cut(DrivenCapture& drive, const Capture& capture, const Figures& figures, const DriveOptions& options) {
  const auto in_samples = [&](double seconds) {
    return std::max<std::size_t>(1, static_cast<std::size_t>(std::lround(seconds / drive.dt_s)));
  };
  const std::size_t coarse = in_samples(options.coarse_s);
  drive.coarse = coarse;
  const std::size_t samples = drive.voltage_v.size();
  const std::size_t fine = std::min(coarse, in_samples(options.fine_s));
  Busy busy = around_jumps(samples, drive.jumps, fine);
  if (options.step_s > 0.0) {
    const std::span<const double> current(capture.current_a);
    constexpr double late_or_early_s = 60e-6;  // the measured bend against the lamp's: thrice a usual delay
    add_bends(busy, current.subspan(drive.first_sample, samples),
              std::hypot(drive.current_noise_a, capture.current_step_a),
              std::max(2 * fine, in_samples(late_or_early_s)));
  }
  drive.bounds = cut_into_blocks(busy, coarse, fine);
  drive.steps.assign(drive.bounds.size() - 1, 1);
  for (std::size_t k = 0; options.step_s > 0.0 && k < drive.steps.size(); ++k) {
    const double length_s = static_cast<double>(drive.bounds[k + 1] - drive.bounds[k]) * drive.dt_s;
    if (busy[drive.bounds[k]] != 0 || busy[drive.bounds[k + 1]] != 0)
      drive.steps[k] = std::max<std::size_t>(1, static_cast<std::size_t>(std::lround(length_s / options.step_s)));
  }
  if (figures.direct && figures.direct->pulses) place_steps(drive);
  drive.line_v = line_through(drive, drive.voltage_v);
  measure_blocks(drive, capture);
  if (figures.cut.supply_side_voltage && !figures.turn_on) leave_out_jumps(drive);

  // Mains repeat after half a cycle, with the other sign.
  const double repeat_s = drive.repeat_hz > 0.0 ? (drive.frequency_hz > 0.0 ? 0.5 : 1.0) / drive.repeat_hz : 0.0;
  const auto in_blocks = std::lround(repeat_s / (static_cast<double>(coarse) * drive.dt_s));
  drive.phases = repeat_s > 0.0 ? std::max<std::size_t>(4, static_cast<std::size_t>(in_blocks)) : drive.blocks();
  drive.phase.resize(drive.blocks());
  const double cycles = drive.repeat_hz * static_cast<double>(samples) * drive.dt_s;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    if (drive.repeat_hz <= 0.0) {
      drive.phase[k] = k;
      continue;
    }
    const std::size_t middle = (drive.bounds[k] + drive.bounds[k + 1]) / 2;
    const double place = repeats(figures, drive.dt_s, drive.first_sample + middle);
    const double share = place - std::floor(place);
    drive.phase[k] = std::min(drive.phases - 1, static_cast<std::size_t>(share * static_cast<double>(drive.phases)));
    const auto cycle = static_cast<std::size_t>(drive.repeat_hz * static_cast<double>(middle) * drive.dt_s);
    if (!options.hold_out || cycles < 2.5 || drive.use[k] != Use::fitted) continue;
    if (cycle % 3 == 1) drive.use[k] = Use::judged;
    if (cycle == 0 && drive.from_rest) drive.use[k] = Use::both;
  }
}

}  // namespace

std::vector<double> line_through(const DrivenCapture& drive, const std::vector<double>& voltage_v) {
  std::vector<double> line;
  line.reserve(drive.bounds.size());
  for (const std::size_t bound : drive.bounds) line.push_back(voltage_v[bound]);
  // Moved by a twelfth of their second difference, the bounds' values give straight lines the mean of a curved voltage.
  double before = line[0];
  for (std::size_t b = 1; b + 1 < line.size(); ++b) {
    const std::size_t samples = drive.bounds[b] - drive.bounds[b - 1];
    const double here = line[b];
    if (samples > 2 && samples == drive.coarse && samples == drive.bounds[b + 1] - drive.bounds[b])
      line[b] -= (before - 2.0 * here + line[b + 1]) * (1.0 / 12.0);
    before = here;
  }
  return line;
}

std::vector<double> jump_sigma(const DrivenCapture& drive, std::span<const double> model_a, double delay_s) {
  std::vector<double> sigma(drive.blocks(), 0.0);
  const double share = std::clamp(drive.dt_s / jump_time_s, least_jump_share, most_jump_share);
  const auto change = [&](std::span<const double> mean_a, std::size_t b) {
    const double before = mean_a[b == 0 ? b : b - 1];
    const double next = mean_a[std::min(b + 1, drive.blocks() - 1)];
    return std::max(std::abs(mean_a[b] - before), std::abs(mean_a[b] - next));
  };
  for (const std::size_t jump : drive.jumps) {
    const double seen = static_cast<double>(jump) + delay_s / drive.dt_s;
    const double last_bound = static_cast<double>(drive.bounds.back());
    if (seen < static_cast<double>(drive.bounds.front()) || seen + 1.0 >= last_bound) continue;
    const auto block_at = [&](double place) {
      const auto after = std::upper_bound(drive.bounds.begin(), drive.bounds.end(), place,
                                          [](double at, std::size_t bound) { return at < static_cast<double>(bound); });
      return static_cast<std::size_t>(after - drive.bounds.begin()) - 1;
    };
    // The blocks that a late channel shows the jump in, and two more.
    const std::size_t last = std::min(drive.blocks() - 1, block_at(seen + 0.99) + 2);
    for (std::size_t b = block_at(seen); b <= last; ++b) {
      // What falls between two samples shows in the model alone.
      sigma[b] = std::max(sigma[b], share * std::max(change(drive.current_a, b), change(model_a, b)));
    }
  }
  return sigma;
}

// A first-order chain with the smoothing window's reach.
void draw_noise(DrivenCapture& drive, std::uint64_t seed) {
  constexpr int draws = 5;
  std::mt19937_64 random(seed);
  std::vector<double> stay(drive.voltage_v.size());
  std::vector<double> fresh(drive.voltage_v.size());
  for (std::size_t s = 0; s < stay.size(); ++s) {
    if (s > 0 && drive.voltage_window[s] == drive.voltage_window[s - 1]) {
      stay[s] = stay[s - 1];
      fresh[s] = fresh[s - 1];
      continue;
    }
    stay[s] = std::exp(-3.0 / static_cast<double>(drive.voltage_window[s]));
    fresh[s] = std::sqrt((1.0 - stay[s] * stay[s]) * 12.0);
  }
  std::vector<double> noisy(drive.voltage_v.size());
  for (int n = 0; n < draws; ++n) {
    double error = 0.0;
    for (std::size_t s = 0; s < noisy.size(); ++s) {
      const double uniform = static_cast<double>(random() >> 11U) * 0x1p-53 - 0.5;
      error = stay[s] * error + fresh[s] * uniform;
      noisy[s] = drive.voltage_v[s] + drive.voltage_sd_v[s] * error;
    }
    drive.noisy_line_v.push_back(line_through(drive, noisy));
  }
}

DrivenCapture in_other_blocks(DrivenCapture drive, const Capture& capture, const Figures& figures,
                              const DriveOptions& options) {
  drive.noisy_line_v.clear();
  cut(drive, capture, figures, options);
  return drive;
}

DrivenCapture make_drive(const Capture& capture, const Figures& figures, const DriveOptions& options) {
  DrivenCapture drive;
  drive.dt_s = capture.sample_interval_s;
  drive.offset_guess_a = figures.current_offset_a;
  drive.from_rest = figures.turn_on.has_value();
  const double frequency = figures.mains_frequency_hz.value_or(0.0);
  drive.frequency_hz = frequency;
  drive.repeat_hz = figures.direct && figures.direct->pulses ? figures.direct->pulses->frequency_hz : frequency;

  std::vector<double> voltage = capture.voltage_v;
  if (figures.cut.supply_side_voltage || (figures.turn_on && figures.turn_on->supply_side_voltage)) {
    open_the_switch(voltage, capture, figures);
  }

  const bool steady = !figures.turn_on && figures.steady_last > figures.steady_first;
  const std::size_t end = steady ? figures.steady_last : voltage.size();
  const std::size_t begin = steady ? figures.steady_first : 0;
  const auto longest = static_cast<std::size_t>(
      std::min(static_cast<double>(end - begin), std::max(64.0, options.max_duration_s / drive.dt_s)));
  std::size_t last = end;
  if (figures.turn_on) {
    // A little of the time before it shows the offset.
    const std::size_t before =
        std::min<std::size_t>(figures.turn_on->sample, static_cast<std::size_t>(2e-3 / drive.dt_s) + 2);
    drive.first_sample = figures.turn_on->sample - before;
    last = std::min(voltage.size(), drive.first_sample + longest);
    if (figures.turn_on->supply_side_voltage) {
      std::fill(voltage.begin(), voltage.begin() + static_cast<std::ptrdiff_t>(figures.turn_on->sample), 0.0);
    }
  } else {
    drive.first_sample = end - longest;
  }
  voltage = {voltage.begin() + static_cast<std::ptrdiff_t>(drive.first_sample),
             voltage.begin() + static_cast<std::ptrdiff_t>(last)};
  if (voltage.size() < 32) {
    throw Error(ErrorCode::input_refused, fmt::format("{} samples are too few to fit a lamp to", voltage.size()),
                Place{.file = capture.file}, "Record at least one whole mains cycle, or some milliseconds of DC.");
  }

  double peak = 0.0;
  for (const double v : voltage) peak = std::max(peak, std::abs(v));
  const double slew = 2.0 * std::numbers::pi * frequency * peak * drive.dt_s;
  drive.voltage_noise_v = noise_of(voltage, capture.voltage_step_v);
  std::vector<double> current(capture.current_a.begin() + static_cast<std::ptrdiff_t>(drive.first_sample),
                              capture.current_a.begin() + static_cast<std::ptrdiff_t>(last));
  drive.current_noise_a = std::max(noise_of(current, capture.current_step_a), 1e-6 * figures.current_peak_a + 1e-12);
  std::vector<std::size_t> jumps = jumps_of(voltage, slew, drive.voltage_noise_v);
  if (has_levels(figures)) {
    // Without mains' slope to allow for, noise alone makes a jump now and then.
    const std::vector<double> levels = dc_levels(voltage, figures.direct->pulses.has_value());
    std::erase_if(
        jumps, [&](std::size_t s) { return levels[s > 0 ? s - 1 : s] == levels[std::min(s + 2, levels.size() - 1)]; });
  }
  remove_noise(drive, voltage, std::move(current), jumps, capture, figures);
  if (figures.turn_on) {
    // Nothing is connected yet: what the probe shows there is noise.
    const std::size_t closed = figures.turn_on->sample - drive.first_sample;
    std::fill(drive.voltage_v.begin(), drive.voltage_v.begin() + static_cast<std::ptrdiff_t>(closed), 0.0);
    std::fill(drive.voltage_sd_v.begin(), drive.voltage_sd_v.begin() + static_cast<std::ptrdiff_t>(closed), 0.0);
  }

  drive.jumps = jumps;
  cut(drive, capture, figures, options);
  draw_noise(drive, options.noise_seed);
  return drive;
}

void soften(DrivenCapture& soft, const DrivenCapture& drive, double offset_a) {
  constexpr double junctions_v = 0.1;   // two junctions of 2 kT/q each
  constexpr double least_share = 1e-2;  // of the rms current: below it the drop is counted as there
  double square = 0.0;
  for (const double i : drive.current_a) square += (i - offset_a) * (i - offset_a);
  const double rms = std::sqrt(square / static_cast<double>(drive.blocks()));
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const double share = std::max(least_share, std::abs(drive.current_a[k] - offset_a) / std::max(rms, 1e-12));
    for (std::size_t s = drive.bounds[k]; s <= drive.bounds[k + 1]; ++s) {
      soft.voltage_v[s] = drive.voltage_v[s] - std::copysign(junctions_v * std::log(share), drive.voltage_v[s]);
    }
  }
}

std::optional<std::size_t> end_of_whole_cycles(const DrivenCapture& drive) {
  if (drive.from_rest || drive.frequency_hz <= 0.0) return std::nullopt;
  const double cycle = 1.0 / (drive.frequency_hz * drive.dt_s);
  // Half a coarse block short of a whole cycle still is one: single cycles are cut out of longer records that way.
  const double length = static_cast<double>(drive.bounds.back() - drive.bounds.front());
  const double whole = std::floor(length / cycle + 0.01) * cycle;
  if (whole < cycle) return std::nullopt;
  const auto end = std::lower_bound(drive.bounds.begin() + 1, drive.bounds.end(),
                                    drive.bounds.front() + static_cast<std::size_t>(std::lround(whole)));
  return static_cast<std::size_t>(std::min(end, drive.bounds.end() - 1) - drive.bounds.begin()) - 1;
}

}  // namespace lampload
