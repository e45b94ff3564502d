// Quality notes on captures made for each of them in closed form, and on good ones, where none may speak.
#include "core/waveform/quality.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <numbers>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "core/capture/conditioning.h"
#include "core/capture/read.h"
#include "core/circuit/simulated_capture.h"
#include "core/waveform/peak_between_samples.h"
#include "tests/places.h"

namespace lampload::waveform_quality_test {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double hertz = 50.0;

using Signal = std::function<double(double seconds)>;

double phase_deg(double seconds) { return std::fmod(360.0 * hertz * seconds + 36000.0, 360.0); }
double mains(double seconds) { return 325.0 * std::sin(2.0 * pi * hertz * seconds); }
/// With a third, fifth and seventh harmonic, as supplies have them.
double distorted(double seconds) {
  const double angle = 2.0 * pi * hertz * seconds;
  return 325.0 * (std::sin(angle) + 0.005 * std::sin(3.0 * angle) + 0.015 * std::sin(5.0 * angle + 0.6) +
                  0.008 * std::sin(7.0 * angle - 1.0));
}

struct Scope {
  double rate_hz = 100e3;
  double seconds = 0.2;
  double start_s = 0.0;
};

Capture record(const Signal& voltage, const Signal& current, const Scope& scope = {}) {
  Capture capture;
  capture.file = "simulated";
  capture.sample_interval_s = 1.0 / scope.rate_hz;
  const auto count = static_cast<std::size_t>(std::lround(scope.seconds * scope.rate_hz));
  for (std::size_t k = 0; k < count; ++k) {
    const double t = scope.start_s + static_cast<double>(k) / scope.rate_hz;
    capture.voltage_v.push_back(voltage(t));
    capture.current_a.push_back(current(t));
  }
  return capture;
}

const QualityNote* note(const Figures& figures, const std::string& code) {
  const auto found = std::find_if(figures.quality.begin(), figures.quality.end(),
                                  [&](const QualityNote& one) { return one.code == code; });
  return found == figures.quality.end() ? nullptr : &*found;
}

double evidence(const QualityNote& note, const std::string& name) {
  for (const Evidence& one : note.evidence) {
    if (one.name == name) return one.value;
  }
  ADD_FAILURE() << note.code << " says nothing of " << name;
  return 0.0;
}

std::string codes(const Figures& figures) {
  std::string text;
  for (const QualityNote& one : figures.quality) text += (text.empty() ? "" : " ") + one.code;
  return text;
}

bool says(const QualityNote& note, const std::string& part) { return note.message.find(part) != std::string::npos; }

/// x behind a first-order high pass, in the steady state: the mean over a cycle is zero.
Signal without_dc(const Signal& x, double corner_hz) {
  const double step = 2e-6;
  auto table = std::make_shared<std::vector<double>>();
  const auto cycle = static_cast<std::size_t>(std::lround(1.0 / hertz / step));
  double low = 0.0;
  for (std::size_t k = 0; k < 60 * cycle; ++k) {
    const double value = x(static_cast<double>(k) * step);
    low += (value - low) * (1.0 - std::exp(-2.0 * pi * corner_hz * step));
    if (k >= 59 * cycle) table->push_back(value - low);
  }
  return [table, step, cycle](double t) { return (*table)[static_cast<std::size_t>(std::lround(t / step)) % cycle]; };
}

/// Pulses of 2.2 ms about the crest, as a lamp with a reservoir draws them.
double pulses(double t) {
  const double phase = std::fmod(phase_deg(t), 180.0);
  const double side = phase_deg(t) < 180.0 ? 1.0 : -1.0;
  return phase > 55.0 && phase < 95.0 ? side * 0.3 * std::cos((phase - 55.0) / 40.0 * pi / 2.0) : 0.0;
}

TEST(QualityNotes, GoodCapturesHaveNone) {
  EXPECT_EQ(codes(measure(record(mains, [](double t) { return mains(t) / 800.0; }))), "");
  EXPECT_EQ(codes(measure(record(distorted, [](double t) { return distorted(t) / 800.0; }))), "");
  EXPECT_EQ(codes(measure(record(distorted, pulses))), "");
  // A capacitance of 100 nF beside the pulses: an interference capacitor.
  EXPECT_EQ(codes(measure(record(mains, [](double t) { return pulses(t) + 0.0102 * std::cos(2.0 * pi * hertz * t); }))),
            "");
}

TEST(QualityNotes, AClippedSurgeIsAnError) {
  for (const double range : {3.0, 20.0}) {
    Capture capture = record([](double t) { return t < 0.045 ? 0.0 : mains(t); },
                             [&](double t) {
                               const double surge = t < 0.045 ? 0.0 : 10.0 * std::exp(-(t - 0.045) / 1e-3);
                               return std::min(range, surge + (t < 0.045 ? 0.0 : mains(t) / 800.0));
                             },
                             {.seconds = 0.4});
    mark_clipped(capture.current_a, 0.0, 2, capture.clipped);
    const Figures figures = measure(capture);
    SCOPED_TRACE(range);
    ASSERT_EQ(note(figures, "clipping_current") != nullptr, range < 10.0) << codes(figures);
    if (range > 10.0) continue;
    EXPECT_EQ(note(figures, "clipping_current")->severity, Severity::error);
    EXPECT_NEAR(evidence(*note(figures, "clipping_current"), "level"), 3.0, 1e-9);
  }
}

// Two samples or more at the last code of an 8-bit digitiser, behind a surge that jumps up; also where an offset was
// taken off a record that is cut off at both ends. One that stays below it is left alone.
TEST(QualityNotes, ASurgeAtTheLastCodeIsClipped) {
  const double step = 4.0 / 128.0;
  for (const double top_a : {3.2, 3.9, 4.5, 4.9}) {
    for (const double offset_a : {0.0, 0.31}) {
      const bool both_ends = offset_a != 0.0;
      Capture capture = record([](double t) { return t < 0.04533 ? 0.0 : mains(t); },
                               [&](double t) {
                                 if (t < 0.04533) return -offset_a;
                                 const double since = both_ends ? std::fmod(t - 0.04533, 0.01) : t - 0.04533;
                                 const double surge = top_a * std::exp(-since / 280e-6);
                                 const double exact =
                                     mains(t) / 8000.0 + (mains(t) < 0.0 && both_ends ? -surge : surge);
                                 return std::clamp(std::round(exact / step), -128.0, 127.0) * step - offset_a;
                               },
                               {.rate_hz = 50e3, .seconds = 0.3});
      mark_clipped(capture.current_a, step, 2, capture.clipped);
      const Figures figures = measure(capture);
      const QualityNote* found = note(figures, "clipping_current");
      ASSERT_EQ(found != nullptr, top_a > 4.0) << top_a << " " << offset_a << codes(figures);
      if (found != nullptr) {
        EXPECT_EQ(found->severity, Severity::error);
      }
    }
  }
}

TEST(QualityNotes, AClippedVoltageMakesTheCutDoubtful) {
  Capture capture =
      record([](double t) { return std::clamp(mains(t), -280.0, 280.0); }, [](double t) { return mains(t) / 800.0; });
  mark_clipped(capture.voltage_v, 0.0, 1, capture.clipped);
  const Figures figures = measure(capture);
  const QualityNote* found = note(figures, "clipping_voltage");
  ASSERT_NE(found, nullptr) << codes(figures);
  EXPECT_EQ(says(*found, "is not to be believed"), figures.cut.edge != Edge::none) << found->message;
  EXPECT_NE(figures.cut.edge, Edge::none);
}

// What a coarse digitiser makes of a resistance's power and crest factor stays within what is said of it.
TEST(QualityNotes, ACoarseRangeSaysWhatItCosts) {
  std::mt19937 generator(5);
  std::normal_distribution<double> noise(0.0, 0.3);
  for (const double steps : {4.5, 6.7, 11.2, 19.8, 60.0}) {
    for (const double offset : {0.0, 0.3}) {
      const double step = 0.5 / steps;
      Capture capture = record(mains, [&](double t) {
        return step * std::round(0.5 * std::sin(2.0 * pi * hertz * t) / step + offset + noise(generator));
      });
      capture.current_step_a = step;
      const Figures figures = measure(capture);
      const QualityNote* found = note(figures, "current_resolution");
      SCOPED_TRACE(steps);
      ASSERT_EQ(found != nullptr, steps < 25.0);
      if (found == nullptr) continue;
      const double power = 325.0 * 0.25;
      EXPECT_LE(std::abs(figures.active_power_w / power - 1.0), 0.01 * evidence(*found, "power_error_percent"));
      const double crest = *figures.current_crest_factor / std::numbers::sqrt2 - 1.0;
      EXPECT_NEAR(evidence(*found, "crest_factor_error_percent"), 100.0 * crest, 6.0 + 20.0 / steps);
      EXPECT_EQ(found->severity, Severity::warning);
    }
  }
}

// A current of one or two steps that goes with the voltage is a lamp's in a range too large; hum and noise are none.
TEST(QualityNotes, ALampOfOneStepIsNoMissingLamp) {
  const double angle = 2.0 * pi * hertz;
  const std::vector<std::pair<Signal, bool>> currents = {
      {[&](double t) { return 1.2 * std::sin(angle * t); }, true},
      {[](double t) { return pulses(t) / 0.3 * 3.0; }, true},
      {[&](double t) { return 1.5 * std::sin(angle * t + 0.7); }, false},
      {[&](double t) { return 1.5 * std::sin(angle * t - 1.5); }, false},
      {[](double) { return 0.0; }, false},
  };
  for (std::size_t k = 0; k < currents.size(); ++k) {
    std::mt19937 generator(7);
    std::normal_distribution<double> noise(0.0, 0.3);
    Capture capture =
        record(mains, [&](double t) { return 0.1 * std::round(currents[k].first(t) + noise(generator)); });
    capture.current_step_a = 0.1;
    const Figures figures = measure(capture);
    EXPECT_EQ(note(figures, "no_lamp_current") == nullptr, currents[k].second) << k << codes(figures);
    EXPECT_EQ(note(figures, "current_resolution") != nullptr, currents[k].second) << k << codes(figures);
  }
}

TEST(QualityNotes, NoiseWithoutStepsIsARangeTooLargeAsWell) {
  std::mt19937 generator(5);
  std::normal_distribution<double> noise(0.0, 0.02);
  const Figures figures = measure(record(mains, [&](double t) { return mains(t) / 1300.0 + noise(generator); }));
  ASSERT_NE(note(figures, "current_resolution"), nullptr);
  EXPECT_NEAR(evidence(*note(figures, "current_resolution"), "noise_a"), 0.02, 0.002);
}

// A range for the surge is right for a turn-on, however little of the running current it shows.
TEST(QualityNotes, ARangeForTheSurgeIsNoWarning) {
  Capture capture = record([](double t) { return t < 0.045 ? 0.0 : mains(t); },
                           [](double t) {
                             const double exact =
                                 t < 0.045 ? 0.0 : 8.0 * std::exp(-(t - 0.045) / 1e-3) + mains(t) / 800.0;
                             return 0.1 * std::round(exact / 0.1);
                           },
                           {.seconds = 0.4});
  capture.current_step_a = 0.1;
  const Figures figures = measure(capture);
  ASSERT_NE(note(figures, "current_resolution"), nullptr);
  EXPECT_EQ(note(figures, "current_resolution")->severity, Severity::note);
}

// A capacitor charged through a resistance: the current rises at once and decays. Wherever the samples fall, the true
// peak is between the one seen and the one said to be possible.
TEST(PeakBetweenSamples, HoldsTheTruePeak) {
  double widest = 0.0;
  for (const double decay : {1.5, 3.0, 6.0, 12.0, 30.0}) {  // samples
    for (double instant = 0.02; instant < 1.0; instant += 0.07) {
      std::vector<double> exponential, half_sine;
      for (int k = 0; k < 200; ++k) {
        const double since = k - 20 - instant;
        exponential.push_back(since < 0.0 ? 0.0 : 10.0 * std::exp(-since / decay));
        half_sine.push_back(since < 0.0 || since > 2.0 * decay ? 0.0 : 10.0 * std::sin(pi * since / (2.0 * decay)));
      }
      for (const auto& pulse : {exponential, half_sine}) {
        const auto top = static_cast<std::size_t>(std::max_element(pulse.begin(), pulse.end()) - pulse.begin());
        const double at_most = peak_at_most_a(pulse, 0.0, top);
        EXPECT_GE(at_most, 10.0 * (decay < 3.0 ? 0.97 : 0.985))
            << decay << " " << instant << (&pulse == &half_sine ? " half sine" : "");
        if (decay >= 3.0) widest = std::max(widest, at_most / 10.0);
      }
    }
  }
  EXPECT_LT(widest, 1.4);
}

TEST(QualityNotes, ASurgeBetweenSamplesIsSaid) {
  const auto look = [](double tau_s) {
    const auto closed = [](double t) { return t >= 0.045; };
    return measure(
        record([&](double t) { return closed(t) ? mains(t) : 0.0; },
               [&](double t) { return closed(t) ? 20.0 * std::exp(-(t - 0.045) / tau_s) + mains(t) / 800.0 : 0.0; },
               {.rate_hz = 20e3, .seconds = 0.4, .start_s = 2e-5}));
  };
  const Figures coarse = look(150e-6);  // three samples
  ASSERT_NE(note(coarse, "slow_sampling"), nullptr);
  EXPECT_EQ(note(coarse, "slow_sampling")->severity, Severity::warning);
  EXPECT_LT(evidence(*note(coarse, "slow_sampling"), "peak_a"), 20.0);
  EXPECT_GT(evidence(*note(coarse, "slow_sampling"), "peak_at_most_a"), 20.0);
  EXPECT_EQ(note(look(3e-3), "slow_sampling"), nullptr);
}

// The step response of a first-order channel: 1 - exp(-t / tau).
TEST(QualityNotes, ASlowClampIsToldByAResistanceAtTheEdge) {
  constexpr double firing_s = 4e-3;
  for (const double bandwidth_hz : {8e3, 30e3, 1e6}) {
    const double tau = 0.5 / pi / bandwidth_hz;
    const auto into = [](double t) { return std::fmod(t, 0.01); };
    const Figures figures =
        measure(record([&](double t) { return into(t) < firing_s ? 0.0 : mains(t); },
                       [&](double t) {
                         const double since = into(t) - firing_s;
                         return since < 0.0 ? 0.0 : mains(t) / 800.0 * (1.0 - std::exp(-since / tau));
                       },
                       {.rate_hz = 500e3, .start_s = 1e-3 + 0.3e-6}));
    const QualityNote* found = note(figures, "slow_clamp");
    SCOPED_TRACE(bandwidth_hz);
    ASSERT_EQ(found != nullptr, bandwidth_hz < 100e3) << codes(figures);
    if (found == nullptr) continue;
    EXPECT_NEAR(evidence(*found, "bandwidth_hz"), bandwidth_hz, 0.15 * bandwidth_hz);
    EXPECT_EQ(found->severity, bandwidth_hz < 20e3 ? Severity::warning : Severity::note);
    // r = tau / 50 us; the peak of a pulse so smeared is r^(r / (1 - r)).
    const double r = tau / 50e-6;
    EXPECT_NEAR(evidence(*found, "peak_low_percent"), 100.0 * (1.0 - std::pow(r, r / (1.0 - r))), 4.0);
  }
}

Nominal labelled(std::optional<double> volts, std::optional<double> watts) {
  Nominal nominal;
  nominal.voltage_v = volts;
  nominal.rated_power_w = watts;
  return nominal;
}

TEST(QualityNotes, FactorsOfTheProbesAreNamed) {
  struct Factor {
    double wrong_by;
    const char* part;
  };
  for (const Factor& one :
       {Factor{0.1, "--voltage-scale 10."}, Factor{0.01, "--voltage-scale 100."}, Factor{0.001, "taken for millivolts"},
        Factor{10.0, "--voltage-scale 0.1."}, Factor{1000.0, "millivolts had been taken for volts"}}) {
    const Figures figures =
        measure(record([&](double t) { return one.wrong_by * mains(t); }, [](double t) { return mains(t) / 800.0; }));
    ASSERT_NE(note(figures, "voltage_implausible"), nullptr) << one.wrong_by;
    EXPECT_TRUE(says(*note(figures, "voltage_implausible"), one.part)) << note(figures, "voltage_implausible")->message;
  }
  // A supply of 12 V that is said to be one is no missing factor.
  const Capture low = record([](double t) { return mains(t) / 19.2; }, [](double t) { return mains(t) / 100.0; });
  EXPECT_EQ(codes(measure(low, labelled(12.0, std::nullopt))), "");
}

TEST(QualityNotes, TheLabelShowsAFactorOfTheClamp) {
  const Capture capture = record(mains, [](double t) { return mains(t) / 8000.0; });  // 6.6 W
  const Figures figures = measure(capture, labelled(std::nullopt, 60.0));
  ASSERT_NE(note(figures, "current_implausible"), nullptr) << codes(figures);
  EXPECT_TRUE(says(*note(figures, "current_implausible"), "--current-scale 10."));
  EXPECT_EQ(codes(measure(capture, labelled(std::nullopt, 7.0))), "");
  EXPECT_EQ(codes(measure(capture)), "");
  const Figures milliamperes = measure(record(mains, [](double t) { return mains(t); }));
  ASSERT_NE(note(milliamperes, "current_implausible"), nullptr);
  EXPECT_TRUE(says(*note(milliamperes, "current_implausible"), "--current-scale 0.001."));
}

TEST(QualityNotes, SwappedChannelsAreAnError) {
  for (const Signal& lamp : {Signal([](double t) { return mains(t) / 800.0; }), Signal(pulses)}) {
    const Figures figures = measure(record(lamp, mains));
    ASSERT_NE(note(figures, "channels_swapped"), nullptr) << codes(figures);
    EXPECT_EQ(note(figures, "channels_swapped")->severity, Severity::error);
    EXPECT_EQ(note(figures, "voltage_implausible"), nullptr);
  }
}

TEST(QualityNotes, OffsetsOfBothChannelsAreSaid) {
  const Figures figures =
      measure(record([](double t) { return mains(t) - 6.0; }, [](double t) { return mains(t) / 800.0; }));
  ASSERT_NE(note(figures, "voltage_offset"), nullptr);
  EXPECT_NEAR(evidence(*note(figures, "voltage_offset"), "offset_v"), -6.0, 0.01);
  EXPECT_TRUE(says(*note(figures, "voltage_offset"), "--voltage-offset -6"));
}

// A resistance on distorted mains, seen through a channel that is late, early, or passes no DC; and one with a
// capacitance of its own, which is the lamp's.
TEST(ChannelDelay, IsEstimatedFromAResistiveLamp) {
  for (const double late_s : {-200e-6, 150e-6}) {
    const Figures figures = measure(record(distorted, [&](double t) { return distorted(t - late_s + 1.0) / 800.0; }));
    ASSERT_NE(note(figures, "channel_delay"), nullptr) << codes(figures);
    EXPECT_NEAR(evidence(*note(figures, "channel_delay"), "current_leads_s"), -late_s, 0.03 * std::abs(late_s));
    EXPECT_EQ(note(figures, "channel_delay")->severity, Severity::warning);
    EXPECT_TRUE(says(*note(figures, "channel_delay"), "so do its harmonics"));
    EXPECT_TRUE(says(*note(figures, "channel_delay"), "--current-delay"));
    // cos(60 degrees plus the skew)
    EXPECT_TRUE(says(*note(figures, "channel_delay"), late_s < 0.0 ? "0.50 would read 0.44" : "0.50 would read 0.54"))
        << note(figures, "channel_delay")->message;
  }
  const Figures low_cut = measure(record(distorted, without_dc([](double t) { return distorted(t) / 800.0; }, 7.0)));
  ASSERT_NE(note(low_cut, "channel_delay"), nullptr) << codes(low_cut);
  EXPECT_NEAR(evidence(*note(low_cut, "channel_delay"), "current_leads_deg"), std::atan(7.0 / 50.0) * 180.0 / pi, 0.3);
  EXPECT_TRUE(says(*note(low_cut, "channel_delay"), "passes no DC"));

  // 2 uF beside 800 ohm: the current leads by 27 degrees at the fundamental; 0.5 uF: by 7.
  const double farad = 0.5e-6, dt = 1e-7;
  const Figures lamp = measure(record(distorted, [&](double t) {
    return distorted(t) / 800.0 + farad * (distorted(t + dt) - distorted(t - dt)) / (2.0 * dt);
  }));
  EXPECT_EQ(codes(lamp), "");
}

TEST(ChannelDelay, PulsesShowAClampThatPassesNoDc) {
  for (const double corner_hz : {1.0, 8.0}) {
    const Figures figures = measure(record(mains, without_dc(pulses, corner_hz)));
    SCOPED_TRACE(corner_hz);
    const QualityNote* found = note(figures, "channel_delay");
    ASSERT_EQ(found != nullptr, corner_hz > 5.0) << codes(figures);
    if (found == nullptr) continue;
    EXPECT_NEAR(evidence(*found, "current_leads_deg"), std::atan(corner_hz / hertz) * 180.0 / pi, 2.5);
  }
}

// The pulse of a lamp at a leading edge, decaying with 50 us, seen late.
TEST(ChannelDelay, ALateCurrentIsSeenAtTheEdge) {
  for (const double late_s : {0.0, 15e-6}) {
    const auto into = [](double t) { return std::fmod(t + 1.0, 0.01); };
    const Figures figures = measure(
        record([&](double t) { return into(t) < 5e-3 ? 0.0 : mains(t); },
               [&](double t) {
                 const double since = into(t - late_s) - 5e-3;
                 return since < 0.0 ? 0.0 : std::copysign(2.0 * std::exp(-since / 50e-6), mains(t - late_s + 1.0));
               },
               {.rate_hz = 250e3, .start_s = 1.3e-6}));
    const QualityNote* found = note(figures, "channel_delay");
    ASSERT_EQ(found != nullptr, late_s > 0.0) << codes(figures);
    if (found != nullptr) {
      EXPECT_NEAR(evidence(*found, "current_late_s"), late_s, 4e-6);
    }
  }
}

/// Seconds since the last firing at `angle_deg`, of either polarity.
double since_firing(double t, double angle_deg) { return std::fmod(t + 1.0 - angle_deg / 360.0 / hertz, 0.01); }

// A lamp whose reservoir stands above the voltage at the edge draws nothing there: what noise does is no delay.
TEST(ChannelDelay, AnEdgeWithoutCurrentShowsNone) {
  const double step = 0.4 / 128.0;
  for (unsigned seed = 0; seed < 12; ++seed) {
    std::mt19937 generator(seed);
    std::normal_distribution<double> noise(0.0, 0.3);
    const double edge_deg = 10.0 + 3.0 * seed;
    const Figures figures =
        measure(record([&](double t) { return std::fmod(phase_deg(t), 180.0) < edge_deg ? 0.0 : mains(t); },
                       [&](double t) { return step * std::round(pulses(t) / step + noise(generator)); },
                       {.rate_hz = 50e3, .start_s = 2e-3}));
    EXPECT_EQ(note(figures, "channel_delay"), nullptr) << edge_deg << " " << note(figures, "channel_delay")->message;
  }
}

// The pulse of a reservoir lamp, decaying with 100 us, and a resistance: any time up to a quarter cycle too early.
TEST(ChannelDelay, ACurrentFarTooEarlyIsSeenAndTakenOut) {
  constexpr double edge_deg = 95.0;
  const auto into = [&](double t) { return std::fmod(phase_deg(t), 180.0); };
  const auto volts = [&](double t) { return into(t) < edge_deg ? 0.0 : mains(t); };
  const Signal lamp = [&](double t) {
    return into(t) < edge_deg ? 0.0 : std::copysign(std::exp(-since_firing(t, edge_deg) / 100e-6), mains(t));
  };
  const Signal resistance = [&](double t) { return volts(t) / 800.0; };
  for (const Signal& current : {lamp, resistance}) {
    const Figures true_figures = measure(record(volts, current, {.start_s = 2.3e-6}));
    EXPECT_EQ(note(true_figures, "channel_delay"), nullptr);
    for (const double early_s : {80e-6, 240e-6, 1e-3, 4e-3}) {
      SCOPED_TRACE(early_s);
      const Figures figures =
          measure(record(volts, [&](double t) { return current(t + early_s); }, {.start_s = 2.3e-6}));
      const QualityNote* found = note(figures, "channel_delay");
      ASSERT_NE(found, nullptr) << codes(figures);
      EXPECT_EQ(found->severity, Severity::warning);
      EXPECT_NEAR(evidence(*found, "current_late_s"), -early_s, 12e-6);
      EXPECT_NEAR(figures.active_power_w, true_figures.active_power_w, 0.05 * true_figures.active_power_w);
      EXPECT_TRUE(says(*found, "as the figures have it"));
    }
  }
}

TEST(ChannelDelay, AResistanceShowsItByTheShapeOfTheCut) {
  for (const bool leading : {true, false}) {
    const auto volts = [&](double t) {
      const bool before = std::fmod(phase_deg(t), 180.0) < 85.0;
      return before == leading ? 0.0 : mains(t);
    };
    for (const double late_s : {-500e-6, -200e-6, -60e-6, 0.0, 60e-6, 200e-6, 500e-6}) {
      if (leading && late_s < 0.0) continue;  // above
      const Figures figures =
          measure(record(volts, [&](double t) { return volts(t - late_s + 1.0) / 800.0; }, {.start_s = 2.3e-6}));
      SCOPED_TRACE(late_s);
      const QualityNote* found = note(figures, "channel_delay");
      ASSERT_EQ(found != nullptr, late_s != 0.0) << codes(figures);
      if (found == nullptr) continue;
      EXPECT_NEAR(evidence(*found, "current_late_s"), late_s, 8e-6);
      EXPECT_TRUE(says(*found, late_s < 0.0 ? "us earlier" : "us later")) << found->message;
    }
    // A choke of a time constant of 100 us is the lamp's own.
    double choke = 0.0;
    const Figures slow = measure(record(volts, [&](double t) {
      choke += (volts(t) - choke) * (1.0 - std::exp(-1e-5 / 100e-6));
      return choke / 800.0;
    }));
    EXPECT_EQ(note(slow, "channel_delay"), nullptr) << note(slow, "channel_delay")->message;
  }
}

TEST(QualityNotes, UnevenFiringAndHalfWaves) {
  for (const double apart_deg : {0.5, 5.0, 40.0}) {
    for (const bool leading : {true, false}) {
      for (const bool supply_side : {true, false}) {
        if (supply_side && apart_deg > 10.0) continue;  // two cuts of one sine are read as none
        const auto cut = [&](double t) {
          const double phase = phase_deg(t);
          const double edge = 100.0 + (phase < 180.0 ? 0.5 : -0.5) * apart_deg;
          const bool on = leading ? std::fmod(phase, 180.0) >= edge : std::fmod(phase, 180.0) < edge;
          return on ? mains(t) : 0.0;
        };
        const Figures figures = measure(record(supply_side ? Signal(mains) : Signal(cut),
                                               [&](double t) { return cut(t) / 800.0; }, {.start_s = 3.3e-3}));
        SCOPED_TRACE(apart_deg);
        const QualityNote* found = note(figures, "asymmetric_firing");
        ASSERT_EQ(found != nullptr, apart_deg > 2.0) << leading << supply_side << codes(figures);
        if (found != nullptr) {
          EXPECT_NEAR(evidence(*found, "edge_difference_deg"), apart_deg, 0.7);
          EXPECT_EQ(note(figures, "voltage_offset"), nullptr);  // it is the lamp's
          EXPECT_EQ(note(figures, "current_offset"), nullptr);
        }
      }
    }
  }
  const Figures half = measure(record(mains, [](double t) { return std::max(0.0, mains(t)) / 800.0; }));
  EXPECT_NE(note(half, "asymmetric_current"), nullptr) << codes(half);
}

TEST(QualityNotes, ContactBounceIsCounted) {
  for (const bool bounces : {false, true}) {
    const auto closed = [&](double t) {
      const bool open = bounces && ((t > 0.0463 && t < 0.0468) || (t > 0.0472 && t < 0.0480));
      return t >= 0.0455 && !open;
    };
    const Figures figures = measure(record([&](double t) { return closed(t) ? mains(t) : 0.0; },
                                           [&](double t) {
                                             const double surge = 1.0 + 8.0 * std::exp(-(t - 0.0455) / 0.02);
                                             return closed(t) ? surge * mains(t) / 800.0 : 0.0;
                                           },
                                           {.seconds = 0.5}));
    const QualityNote* found = note(figures, "contact_bounce");
    ASSERT_EQ(found != nullptr, bounces) << codes(figures);
    if (found == nullptr) continue;
    EXPECT_EQ(evidence(*found, "interruptions"), 2.0);
    EXPECT_NEAR(evidence(*found, "duration_s"), 2.5e-3, 2e-5);
  }
}

// Lamps of every kind on an ordinary supply, by the project's own simulation: ringing, interference capacitors, chokes,
// late pulses. Nothing stands against such captures but that an 8-bit digitiser is coarse for a lamp whose capacitor
// makes the peak.
TEST(QualityNotes, OfEveryKindOfLampNothingIsSaid) {
  struct Kind {
    const char *family, *law;
    std::vector<double> parameters;
    std::string coarse = {};
  };
  const std::vector<Kind> kinds = {
      {"filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}},
      {"rectifier_capacitor", "constant_power", {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0}},
      {"rectifier_capacitor", "constant_power", {8.0, 1e-3, 4.7e-8, 1.6, 1e-5, 0.5, 15.0}},
      {"capacitive_dropper", "", {3.3e-7, 220.0, 1e6, 1.6, 2.2e-6, 90.0, 600.0}},
      {"inductive", "", {120.0, 0.8}},
      {"inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 0.0}},
      {"linear_driver", "three_taps", {1.6, 1e-8, 1e6, 90.0, 0.02, 180.0, 0.04, 260.0, 0.06}},
      {"corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}, "current_resolution"},
  };
  for (const Kind& kind : kinds) {
    const Lamp lamp(find_family(kind.family, kind.law), kind.parameters);
    for (const Edge edge : {Edge::none, Edge::leading, Edge::trailing}) {
      // An ideal switch that breaks a winding's current makes kilovolts, and that is said.
      if (edge != Edge::none && std::string(kind.family) == "inductive") continue;
      CaptureSetup setup;
      setup.edge = edge;
      setup.conduction_deg = edge == Edge::none ? 180.0 : 100.0;
      setup.voltage_step_v = 3.2;
      Capture capture = simulate_capture(lamp, 230.0, 50.0, setup);
      condition(capture, {});
      const std::string found = codes(measure(capture));
      EXPECT_EQ(found, edge == Edge::leading ? kind.coarse : "") << kind.family << kind.law << static_cast<int>(edge);
    }
  }
}

// Made with ngspice, and as good as an 8-bit scope gives them: nothing may be said of them that is not so.

}  // namespace
}  // namespace lampload::waveform_quality_test
