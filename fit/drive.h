#pragma once
// DrivenCapture: one capture made ready for a fit. The measured voltage drives the model, the measured current is what
// it must give.
//
// Time is cut into blocks of whole samples, short where something happens and longer elsewhere. Model and measurement
// are compared by their mean current over each block, which a peak between two samples cannot bias.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"

namespace lampload {

struct DriveOptions {
  double coarse_s = 40e-6;       ///< length of a block where nothing happens
  double fine_s = 10e-6;         ///< and around jumps
  double step_s = 0.0;           ///< there, and where the current bends: about a model's step (0: a block)
  double max_duration_s = 1e9;   ///< of the record, from its beginning (a turn-on) or from its end
  bool hold_out = false;         ///< leave every third cycle out of the fit, to judge by
  std::uint64_t noise_seed = 1;  ///< of the draws of noise
};

/// What a block is good for: to fit, to judge the families by, or both (a surge happens once in a record).
enum class Use : std::uint8_t { left_out, fitted, judged, both };
[[nodiscard]] constexpr bool is_fitted(Use use) { return use == Use::fitted || use == Use::both; }
[[nodiscard]] constexpr bool is_judged(Use use) { return use == Use::judged || use == Use::both; }

struct DrivenCapture {
  double dt_s = 0.0;                        ///< sample interval
  double frequency_hz = 0.0;                ///< of the mains; 0 for DC
  double repeat_hz = 0.0;                   ///< of the mains or of DC pulses; 0 where nothing repeats
  std::vector<double> voltage_v;            ///< at the lamp's terminals, noise removed, one a sample
  std::vector<double> voltage_sd_v;         ///< what may be wrong with each of them,
  std::vector<std::size_t> voltage_window;  ///< and over how many samples such errors go together
  std::size_t coarse = 1;                   ///< samples of a block away from jumps
  std::vector<std::size_t> bounds;          ///< block k lies between the samples bounds[k] and bounds[k + 1]
  std::vector<std::size_t> steps;           ///< of a model through each block
  /// Voltage at each bound, moved so that straight lines between the bounds have the mean of what is curved between
  /// them; and the same with draws of the noise that is left.
  std::vector<double> line_v;
  std::vector<std::vector<double>> noisy_line_v;
  std::vector<double> current_a;   ///< measured mean, one a block
  std::vector<double> noise_a;     ///< its standard deviation by the current channel's noise and steps,
  std::vector<double> allowed_a;   ///< by what a model may miss of the current,
  std::vector<double> timing_a;    ///< and by an instant that is a little off
  std::vector<std::size_t> jumps;  ///< samples after which the voltage jumps
  std::vector<double> step_s;  ///< DC: where in a block the voltage steps, one a block; negative: nowhere. Else empty
  std::vector<Use> use;
  std::vector<std::size_t> phase;  ///< of a half cycle of mains or a period of pulses, in steps of the coarse block:
                                   ///< blocks that belong together by phase
  std::size_t phases = 1;
  std::size_t first_sample = 0;  ///< in the capture
  bool from_rest = false;        ///< begins with the lamp cold and discharged
  double current_noise_a = 0.0;  ///< of one sample
  double voltage_noise_v = 0.0;
  double offset_guess_a = 0.0;

  [[nodiscard]] std::size_t blocks() const { return current_a.size(); }
  [[nodiscard]] double length_s(std::size_t k) const { return static_cast<double>(bounds[k + 1] - bounds[k]) * dt_s; }
};

/// DrivenCapture::line_v for the drive's blocks and any voltage, one value a sample.
std::vector<double> line_through(const DrivenCapture& drive, const std::vector<double>& voltage_v);

/// Standard deviation that the unknown instant of each jump between two samples adds to the blocks after it, with a
/// current channel late by delay_s and the model's mean currents. One a block [A].
std::vector<double> jump_sigma(const DrivenCapture& drive, std::span<const double> model_a, double delay_s);

/// Fills noisy_line_v: draws of what may still be wrong with the voltage.
void draw_noise(DrivenCapture& drive, std::uint64_t seed);

/// The drive of the same capture in other blocks, without draws of noise; the length of the record stays.
DrivenCapture in_other_blocks(DrivenCapture drive, const Capture& capture, const Figures& figures,
                              const DriveOptions& options);

/// Throws Error{input_refused} where the capture is too short to fit.
DrivenCapture make_drive(const Capture& capture, const Figures& figures, const DriveOptions& options);

/// Leaves in `soft`, a copy of `drive`, the voltage as junctions leave it whose drop rises with the logarithm of the
/// current, zero at its rms.
void soften(DrivenCapture& soft, const DrivenCapture& drive, double offset_a);

/// The block that ends the last whole cycle of a capture that begins running; none for DC, for less than a cycle and
/// for a turn-on.
std::optional<std::size_t> end_of_whole_cycles(const DrivenCapture& drive);

}  // namespace lampload
