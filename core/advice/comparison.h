#pragma once
// A capture of a finished channel held against what was predicted for it.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/load_check.h"
#include "core/advice/recommendation.h"
#include "core/capture/capture.h"
#include "core/waveform/figures.h"

namespace lampload {

/// One quantity, at the operating point of the capture.
struct Compared {
  std::string name;  ///< of a figure ("current_rms", ...) or of a constraint
  std::string unit;
  double measured = 0.0;
  double predicted = 0.0;  ///< with central values
  double lower = 0.0;      ///< what the prediction allows for: uncertainty, spread between pieces, the instrument
  double upper = 0.0;
  std::optional<double> limit = {};  ///< of a constraint

  [[nodiscard]] bool agrees() const { return measured >= lower && measured <= upper; }
  /// Measured over predicted, less 1.
  [[nodiscard]] double off() const;
  /// "31 % above", "4 % below"; of temperatures the difference.
  [[nodiscard]] std::string off_in_words() const;
};

struct Comparison {
  std::string channel;
  Mode mode = Mode::none;
  int count = 0;                    ///< of all lamps
  double conduction_deg = 180.0;    ///< that the capture shows
  double supply_v = 0.0;            ///< rms, that the capture shows; the prediction is made for it
  std::optional<double> phase_deg;  ///< of a turn-on
  std::vector<Compared> figures;
  std::vector<Compared> constraints;  ///< those that a capture can show
  std::vector<std::string> cautions;

  [[nodiscard]] bool agrees() const;
  /// The constraint that is furthest out of its interval, else the figure; null where all agree.
  [[nodiscard]] const Compared* worst() const;
  /// "current_rms is 31 % above the prediction", "as predicted".
  [[nodiscard]] std::string finding() const;
};

/// The channel with all lamps of the load is simulated at the conduction angle, supply and turn-on phase that the
/// capture shows, with the lamps' parameters central and, one kind after the other, unfavourable. What kinds of lamps
/// are allowed adds up in quadrature. An uncut capture says the supply by its rms voltage, a cut one by the sine it
/// follows.
/// mode: what the channel is set to; empty: what the capture's cut says, uncut means on and off.
/// Throws Error{usage} without lamps or with a count below 1; Error{input_refused} for a lamp without a circuit, a DC
/// channel or capture, a mode that the channel cannot do or that the capture contradicts; Error{calculation} where a
/// simulation fails.
Comparison compare(std::span<const LoadItem> load, const Channel& channel, std::optional<Mode> mode,
                   const Capture& capture, const Figures& figures);

}  // namespace lampload
