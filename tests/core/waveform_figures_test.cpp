// Figures on waveforms whose answers are known in closed form.
#include "core/waveform/figures.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <string>

#include "core/error.h"
#include "core/waveform/cut.h"
#include "core/waveform/harmonics.h"
#include "tests/reference/phase_control.h"

namespace lampload::waveform_figures_test {
namespace {

constexpr double kPi = std::numbers::pi;

struct Scope {
  double rate_hz = 100e3;
  double frequency_hz = 50.0;
  double seconds = 0.2;
  double start_deg = 0.0;
};

using Signal = std::function<double(double degrees)>;

Capture record(const Scope& scope, const Signal& voltage, const Signal& current) {
  Capture capture;
  capture.file = "simulated";
  capture.sample_interval_s = 1.0 / scope.rate_hz;
  const auto count = static_cast<std::size_t>(std::lround(scope.seconds * scope.rate_hz));
  for (std::size_t k = 0; k < count; ++k) {
    const double degrees = scope.start_deg + 360.0 * scope.frequency_hz * static_cast<double>(k) / scope.rate_hz;
    capture.voltage_v.push_back(voltage(degrees));
    capture.current_a.push_back(current(degrees));
  }
  return capture;
}

double sine(double degrees) { return std::sin(degrees * kPi / 180.0); }
double in_half_cycle(double degrees) { return std::fmod(degrees + 36000.0, 180.0); }

double cut_sine(double degrees, Edge edge, double conduction) {
  const double phase = in_half_cycle(degrees);
  const bool on = edge == Edge::leading    ? phase >= 180.0 - conduction
                  : edge == Edge::trailing ? phase < conduction
                                           : true;
  return on ? sine(degrees) : 0.0;
}

bool has(const Figures& figures, const std::string& code) {
  return std::any_of(figures.quality.begin(), figures.quality.end(),
                     [&](const QualityNote& n) { return n.code == code; });
}

/// Pulses that a firing dimmer drives, decaying with 50 us, seen `early_s` before the voltage. Closed form of the
/// power: 2 f A V tau (sin a + w tau cos a) / (1 + (w tau)^2), firing at a.
TEST(ChannelDelay, AnEarlyCurrentIsNoticedAndPowerTakenWithoutIt) {
  constexpr double firing_deg = 100.0, tau = 50e-6, amperes = 2.0, volts = 325.0, hertz = 50.0;
  const double wt = 2.0 * kPi * hertz * tau;
  const double power_w = 2.0 * hertz * amperes * volts * tau *
                         (sine(firing_deg) + wt * std::cos(firing_deg * kPi / 180.0)) / (1.0 + wt * wt);
  for (const double early_s : {0.0, 12e-6, -12e-6}) {
    const auto current = [&](double d) {
      const double at = d + early_s * hertz * 360.0;
      const double since_s = (in_half_cycle(at) - firing_deg) / 360.0 / hertz;
      return since_s < 0.0 ? 0.0 : std::copysign(amperes * std::exp(-since_s / tau), sine(at));
    };
    const auto voltage = [&](double d) { return volts * cut_sine(d, Edge::leading, 180.0 - firing_deg); };
    const Figures figures = measure(record({.rate_hz = 250e3, .start_deg = 30.0}, voltage, current));
    SCOPED_TRACE(early_s);
    EXPECT_EQ(has(figures, "channel_delay"), early_s != 0.0);
    // A late current is not corrected: its voltage changes little.
    EXPECT_NEAR(figures.active_power_w, power_w, 0.03 * power_w);
  }
}

TEST(PhaseCutResistor, AgreesWithTheClosedForm) {
  for (const auto& want : reference::kPhaseCut) {
    for (const Edge edge : {Edge::leading, Edge::trailing}) {
      const double conduction = 180.0 - want.firing_deg;
      const auto v = [&](double d) { return 325.0 * cut_sine(d, edge, conduction); };
      // Supply-side voltage gives the power factor of the whole; lamp-side voltage gives one.
      const Capture capture = record(
          {}, [](double d) { return 325.0 * sine(d); }, [&](double d) { return v(d) / 650.0; });
      const Figures figures = measure(capture);
      const double full = 0.5 / std::numbers::sqrt2;
      SCOPED_TRACE(want.firing_deg);
      EXPECT_NEAR(figures.current_rms_a / full, want.voltage, 0.003 * want.voltage + 1e-3);
      EXPECT_NEAR(figures.active_power_w / (325.0 * 0.5 / 2), want.power, 0.005 * want.power + 1e-3);
      EXPECT_NEAR(*figures.power_factor, want.power_factor, 2e-3);
      EXPECT_NEAR(*figures.displacement_factor, want.displacement_factor, 3e-3);
      // Harmonics to the 40th hold nearly all of the closed form's distortion.
      EXPECT_NEAR(*figures.current_thd_percent, 100.0 * want.thd, 0.05 * 100.0 * want.thd);
      EXPECT_EQ(figures.cut.edge, edge);
      EXPECT_TRUE(figures.cut.supply_side_voltage);
      EXPECT_TRUE(has(figures, "supply_side_voltage"));
      EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction, 1.5);

      const CycleWindow window{0, 2000.0, 10};
      const auto harmonics = harmonic_amplitudes(capture.current_a, window);
      EXPECT_NEAR(std::abs(harmonics[1]) / 0.5, want.fundamental, 2e-3);
      EXPECT_NEAR(std::abs(harmonics[3]) / 0.5, want.third, 2e-3);
      EXPECT_NEAR(std::abs(harmonics[5]) / 0.5, want.fifth, 2e-3);
      EXPECT_NEAR(std::abs(harmonics[7]) / 0.5, want.seventh, 2e-3);
    }
  }
}

// IEEE 1459-2010: S^2 = P^2 + N^2 with S = V I; for a sinusoidal voltage PF = DPF / sqrt(1 + THD^2).
TEST(PowerTerms, KeepTheIdentitiesOfTheStandard) {
  for (const double rate : {15360.0, 29999.0, 100e3}) {
    const Figures figures = measure(record(
        {.rate_hz = rate, .start_deg = 77.0}, [](double d) { return 325.0 * sine(d); },
        [](double d) { return 0.4 * sine(d + 30.0) + 0.2 * sine(3 * d - 20.0) + 0.1 * sine(5 * d); }));
    SCOPED_TRACE(rate);
    EXPECT_NEAR(figures.voltage_rms_v, 325.0 / std::numbers::sqrt2, 0.05);
    EXPECT_NEAR(figures.current_rms_a, std::sqrt((0.16 + 0.04 + 0.01) / 2), 2e-4);
    EXPECT_NEAR(figures.active_power_w, 325.0 * 0.4 / 2 * std::cos(kPi / 6), 0.1);
    EXPECT_NEAR(figures.apparent_power_va, figures.voltage_rms_v * figures.current_rms_a, 1e-9);
    EXPECT_NEAR(*figures.displacement_factor, std::cos(kPi / 6), 1e-3);
    EXPECT_NEAR(*figures.current_thd_percent, 100.0 * std::sqrt(0.05 / 0.16), 0.2);
    const double thd = *figures.current_thd_percent / 100.0;
    EXPECT_NEAR(*figures.power_factor, *figures.displacement_factor / std::sqrt(1 + thd * thd), 1e-3);
    EXPECT_NEAR(*figures.current_crest_factor * figures.current_rms_a, figures.current_peak_a, 1e-12);
  }
}

TEST(MainsFrequency, IsFoundInAnyShape) {
  for (const double hz : {49.8, 50.0, 50.3, 59.9, 60.0}) {
    for (const double conduction : {40.0, 90.0, 180.0}) {
      for (const double rate : {15e3, 50e3, 1e6}) {
        const auto v = [&](double d) {
          return 325.0 * cut_sine(d, conduction < 180 ? Edge::leading : Edge::none, conduction);
        };
        const Figures figures = measure(record({rate, hz, 0.1, 130.0}, v, [&](double d) { return v(d) / 500.0; }));
        EXPECT_NEAR(*figures.mains_frequency_hz, hz, 0.02) << conduction << " deg at " << rate;
      }
    }
  }
}

TEST(MainsFrequency, NeedsOneCycleOnly) {
  const Figures figures = measure(record(
      {30e3, 60.0, 500 / 30e3, 0.0}, [](double d) { return 172.0 * sine(d); }, [](double d) { return 0.4 * sine(d); }));
  EXPECT_NEAR(*figures.mains_frequency_hz, 60.0, 1e-9);
  EXPECT_NEAR(figures.active_power_w, 172.0 * 0.4 / 2, 0.05);
  EXPECT_TRUE(has(figures, "too_few_cycles"));
}

TEST(Measure, TakesARecordWithoutCurrent) {
  const Figures figures = measure(record(
      {}, [](double d) { return 325.0 * sine(d); }, [](double) { return 0.0; }));
  EXPECT_NEAR(figures.voltage_rms_v, 229.8, 0.1);
  EXPECT_FALSE(figures.power_factor);
  EXPECT_TRUE(has(figures, "no_lamp_current"));
}

TEST(Measure, RefusesWhatHasNoCycle) {
  EXPECT_THROW(measure(record(
                   {.seconds = 0.012}, [](double d) { return 325.0 * sine(d); }, [](double d) { return sine(d); })),
               Error);
  EXPECT_THROW(
      measure(record(
          {.frequency_hz = 400.0}, [](double d) { return 325.0 * sine(d); }, [](double d) { return sine(d); })),
      Error);
  EXPECT_THROW(measure(record(
                   {}, [](double) { return 0.0; }, [](double) { return 0.0; })),
               Error);
}

// Lamp-side voltage of a resistive lamp, soft edges, noise and an 8-bit digitiser.
TEST(Cut, IsFoundOnTheLampSide) {
  std::mt19937 generator(3);
  std::normal_distribution<double> noise(0.0, 1.0);
  for (const Edge edge : {Edge::leading, Edge::trailing}) {
    for (double conduction = 25.0; conduction <= 165.0; conduction += 10.0) {
      for (const double rate : {15e3, 50e3, 1e6}) {
        for (const double step : {0.0, 3.0}) {
          Capture capture = record(
              {rate, 50.0, 0.1, 41.0},
              [&](double d) { return 325.0 * cut_sine(d, edge, conduction) + noise(generator); },
              [&](double d) { return 0.5 * cut_sine(d, edge, conduction); });
          if (step > 0) {
            for (double& v : capture.voltage_v) v = step * std::round(v / step);
          }
          const Figures figures = measure(capture);
          EXPECT_EQ(figures.cut.edge, edge) << conduction << " deg at " << rate;
          EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction, 2.0) << rate;
          EXPECT_FALSE(figures.cut.supply_side_voltage);
        }
      }
    }
  }
}

// A lamp with a reservoir holds its terminals after a trailing cut; the edge is where the voltage leaves the sine.
TEST(Cut, IsFoundWhereALampHoldsItsVoltage) {
  for (const double conduction : {40.0, 60.0, 120.0, 140.0, 160.0}) {
    const auto v = [&](double d) {
      const double phase = in_half_cycle(d);
      const double sign = sine(d) < 0 ? -1.0 : 1.0;
      if (phase < conduction) return 325.0 * sine(d);
      return sign * 325.0 * sine(conduction) * std::exp(-(phase - conduction) / 540.0);
    };
    const auto i = [&](double d) {
      const double phase = in_half_cycle(d);
      return phase > std::min(0.6 * conduction, 65.0) && phase < conduction && phase < 95.0
                 ? 0.3 * (sine(d) < 0 ? -1.0 : 1.0)
                 : 0.0;
    };
    SCOPED_TRACE(conduction);
    const Figures figures = measure(record({50e3, 50.0, 0.1, 10.0}, v, i));
    EXPECT_EQ(figures.cut.edge, Edge::trailing);
    EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction, 4.0);
  }
}

// A lamp charged in one short pulse drops below the dimmer's holding current with most of the half cycle to come: the
// terminals then hold what the lamp's input holds, or nothing.
TEST(Cut, IsLeadingWhereTheDimmerLetsGoAfterThePulse) {
  for (const double conduction : {60.0, 80.0, 100.0}) {
    for (const double pulse : {8.0, 20.0}) {
      for (const double decay_deg : {0.5, 25.0, 200.0}) {
        const double fires = 180.0 - conduction;
        const auto v = [&](double d) {
          const double phase = in_half_cycle(d);
          const double sign = sine(d) < 0 ? -1.0 : 1.0;
          const double let_go = fires + pulse;
          if (phase >= fires && phase < let_go) return 325.0 * sine(d);
          const double since = phase >= let_go ? phase - let_go : phase + 180.0 - let_go;
          return (phase >= let_go ? sign : -sign) * 325.0 * sine(let_go) * std::exp(-since / decay_deg);
        };
        const auto i = [&](double d) {
          const double since = in_half_cycle(d) - fires;
          return since >= 0.0 && since < pulse ? 2.5 * (sine(d) < 0 ? -1.0 : 1.0) * std::exp(-5.0 * since / pulse)
                                               : 0.0;
        };
        SCOPED_TRACE(std::to_string(conduction) + " deg, pulse " + std::to_string(pulse) + ", decay " +
                     std::to_string(decay_deg));
        const Figures figures = measure(record({200e3, 50.0, 0.1, 10.0}, v, i));
        EXPECT_EQ(figures.cut.edge, Edge::leading);
        // An arc of a few degrees tells the edge, and hardly the angle.
        if (pulse > 12.0) {
          EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction, 10.0);
        }
      }
    }
  }
}

TEST(Cut, IsNotSeenInAnUncutRectifierLamp) {
  const auto pulse = [](double d) {
    const double phase = in_half_cycle(d);
    return phase > 58.0 && phase < 98.0 ? (sine(d) < 0 ? -1.0 : 1.0) * std::cos((phase - 58.0) / 40.0 * kPi / 2) : 0.0;
  };
  const Figures figures = measure(record(
      {50e3, 50.0, 0.1, 200.0}, [](double d) { return 325.0 * sine(d) - 8.0 * sine(3 * d); }, pulse));
  EXPECT_EQ(figures.cut.edge, Edge::none);
  EXPECT_DOUBLE_EQ(figures.cut.conduction_angle_deg, 180.0);
}

TEST(VoltageJumps, AreFiringInstants) {
  const Capture capture = record(
      {.rate_hz = 50e3, .seconds = 0.04}, [](double d) { return 325.0 * cut_sine(d, Edge::leading, 110.0); },
      [](double) { return 0.0; });
  const auto jumps = voltage_jumps(capture.voltage_v, capture.sample_interval_s);
  ASSERT_EQ(jumps.size(), 4U);
  for (std::size_t k = 0; k < 4; ++k) {
    EXPECT_NEAR(static_cast<double>(jumps[k]) / 1000.0 * 360.0, 70.0 + 180.0 * static_cast<double>(k), 1.0);
  }
}

// A capacitor charged through a resistor from a step: peak V/R, I2t = C V^2 / 2 within the first half cycle, width at
// half of the peak R C ln 2.
TEST(Inrush, OfAnRcStepAgreesWithTheClosedForm) {
  constexpr double kOhm = 10.0;
  constexpr double kFarad = 50e-6;
  const double tau = kOhm * kFarad;
  const double closed_deg = 2 * 360.0 + 90.0;
  const auto v = [&](double d) { return d < closed_deg ? 0.0 : 325.0 * sine(d); };
  const auto i = [&](double d) {
    const double after = (d - closed_deg) / 360.0 / 50.0;
    return after < 0 ? 0.0 : 32.5 * std::exp(-after / tau) + 0.05 * sine(d);
  };
  const Figures figures = measure(record({.rate_hz = 200e3, .seconds = 0.4}, v, i));
  ASSERT_TRUE(figures.turn_on && figures.inrush);
  EXPECT_FALSE(figures.turn_on->supply_side_voltage);
  EXPECT_NEAR(static_cast<double>(figures.turn_on->sample), closed_deg / 360.0 / 50.0 * 200e3, 2.0);
  EXPECT_NEAR(figures.inrush->phase_deg, 90.0, 1.0);
  EXPECT_NEAR(figures.inrush->peak_a, 32.55, 0.1);
  EXPECT_NEAR(figures.inrush->width_s, tau * std::log(2.0), 0.05 * tau);
  EXPECT_NEAR(figures.inrush->i2t_a2s, kFarad * 325.0 * 325.0 / (2 * kOhm), 0.05 * 0.26);
  EXPECT_NEAR(figures.current_rms_a, 0.05 / std::numbers::sqrt2, 0.001);
}

TEST(TurnOn, IsNotSeenWhereTheLampRunsFromTheStart) {
  for (const double conduction : {30.0, 90.0, 150.0}) {
    const auto v = [&](double d) { return 325.0 * cut_sine(d, Edge::leading, conduction); };
    EXPECT_FALSE(measure(record({.seconds = 0.1}, v, [&](double d) { return v(d) / 500.0; })).turn_on) << conduction;
  }
}

TEST(DirectCurrent, IsAveragedOverWholeSwitchingPeriods) {
  const auto on = [](double d) { return std::fmod(d, 20.0) < 6.0 ? 1.0 : 0.0; };  // 30 % duty
  const Figures figures = measure(record(
      {.rate_hz = 200e3, .seconds = 0.0331, .start_deg = 1.0}, [&](double d) { return 24.0 * on(d); },
      [&](double d) { return 2.0 * on(d); }));
  EXPECT_FALSE(figures.mains_frequency_hz);
  EXPECT_NEAR(figures.active_power_w, 48.0 * 0.3, 0.2);
  EXPECT_NEAR(figures.current_rms_a, 2.0 * std::sqrt(0.3), 0.02);
  EXPECT_EQ(figures.cut.edge, Edge::none);
}

TEST(Quality, NamesWhatIsWrong) {
  const auto mains = [](double d) { return 325.0 * sine(d); };
  const auto lamp = [](double d) { return 0.4 * sine(d); };
  const auto look = [](const Signal& v, const Signal& i, double current_step = 0.0, Scope scope = {}) {
    Capture capture = record(scope, v, i);
    capture.current_step_a = current_step;
    return measure(capture);
  };
  EXPECT_TRUE(look(mains, lamp).quality.empty());
  EXPECT_TRUE(has(look(mains, lamp, 0.03), "current_resolution"));
  EXPECT_TRUE(has(look(mains, [](double d) { return 0.4 * sine(d + 89.0); }), "not_a_lamp"));
  EXPECT_TRUE(has(look(mains, [](double d) { return 0.4 * sine(d) + 0.1; }), "current_offset"));
  EXPECT_TRUE(has(look([](double d) { return 3.25 * sine(d); }, lamp), "voltage_implausible"));
  EXPECT_TRUE(has(look(mains, lamp, 0.0, {.frequency_hz = 51.5}), "mains_frequency"));
  EXPECT_TRUE(has(look(mains, lamp, 0.0, {.rate_hz = 5e3}), "slow_sampling"));
  EXPECT_TRUE(has(look(mains, lamp, 0.0, {.seconds = 0.041}), "too_few_cycles"));
  EXPECT_TRUE(has(look(mains, [](double d) { return (d < 1800 ? 0.4 : 0.001) * sine(d); }), "load_changes"));
  std::mt19937 generator(1);
  std::normal_distribution<double> noise(0.0, 0.01);
  EXPECT_TRUE(has(look(mains, [&](double) { return noise(generator); }), "no_lamp_current"));
}

}  // namespace
}  // namespace lampload::waveform_figures_test
