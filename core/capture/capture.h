#pragma once
// Capture: the one in-memory form of what a scope recorded on a lamp. Everything past the reader uses it.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/capture/written_layout.h"

namespace lampload {

enum class Severity { note, warning, error };

/// A figure that a note rests on; its unit is in its name.
struct Evidence {
  std::string name;
  double value = 0.0;
};

/// Something a person should know about a capture: a stable code (snake_case), how bad, and sentences that say what was
/// seen and what to do.
struct QualityNote {
  std::string code;
  Severity severity = Severity::note;
  std::string message;
  std::vector<Evidence> evidence = {};
};

/// What the person says about the file, because the file does not (the capture options of the command line).
struct CaptureOptions {
  std::optional<std::string> time_column;     ///< header name or 1-based number
  std::optional<std::string> voltage_column;  ///< header name or 1-based number
  std::optional<std::string> current_column;  ///< header name or 1-based number
  double voltage_scale = 1.0;                 ///< factor on the file's values
  double current_scale = 1.0;                 ///< factor on the file's values
  double voltage_offset_v = 0.0;              ///< subtracted after scaling
  double current_offset_a = 0.0;              ///< subtracted after scaling
  bool invert_current = false;
  double current_delay_s = 0.0;             ///< how much later the current channel shows an event; taken out
  std::optional<double> sample_interval_s;  ///< where the file has no time column
  std::optional<int> segment;               ///< of a record in several, from 1
  std::optional<WrittenLayout> layout;      ///< how a text is laid out, where it is not detected
};

/// A column or channel of the file that is used.
struct SourceColumn {
  std::string quantity;  ///< "time", "voltage", "current"
  std::string name;      ///< in the file; its number where it has none
  double factor = 1.0;   ///< from the file's values to seconds, volts, amperes, by the file's unit
};

/// What a file was taken for.
struct FileForm {
  std::string name;
  double certainty = 0.0;  ///< 0 to 1
  std::string reason;      ///< what it was told by
  std::vector<SourceColumn> columns = {};
};

/// Voltage and current of one lamp, sampled at the same equidistant instants.
/// voltage_v and current_a have the same length; every value is finite; sample_interval_s > 0.
/// Positive power flows into the lamp.
struct Capture {
  std::string file;                ///< as the person named it
  FileForm form;                   ///< empty where it comes from no file
  double start_time_s = 0.0;       ///< of the first sample, on the instrument's own time axis
  double sample_interval_s = 0.0;  ///< [s]
  std::vector<double> voltage_v;
  std::vector<double> current_a;
  double voltage_step_v = 0.0;  ///< digitiser step seen in the data; 0: none seen
  double current_step_a = 0.0;  ///< likewise
  double stated_delay_s = 0.0;  ///< of the current channel, as the file states it; conditioning takes it out
  /// Empty, or one a sample: bit 0 voltage, bit 1 current at the end of the range, or lost.
  std::vector<std::uint8_t> clipped;
  std::vector<QualityNote> notes;  ///< what reading and conditioning saw and did

  [[nodiscard]] std::size_t samples() const { return voltage_v.size(); }
  [[nodiscard]] double sample_rate_hz() const { return 1.0 / sample_interval_s; }
  [[nodiscard]] double duration_s() const { return static_cast<double>(samples()) * sample_interval_s; }
};

/// A steady point of the lamp at DC.
struct DcPoint {
  double voltage_v = 0.0;
  double current_a = 0.0;
  std::optional<double> uncertainty_a;  ///< standard uncertainty of the current; empty: a common multimeter's

  bool operator==(const DcPoint&) const = default;
};

/// What the label of the lamp and the place say, and what was measured without a scope; all optional.
struct Nominal {
  std::optional<double> voltage_v;            ///< rms, or DC
  std::optional<double> frequency_hz;         ///< 0 for DC
  std::optional<double> rated_power_w;        ///< printed on the lamp
  std::optional<double> cold_resistance_ohm;  ///< by ohmmeter at room temperature
  std::optional<bool> label_dimmable;         ///< what the label says; empty: unknown
  std::vector<DcPoint> dc_points;             ///< of a voltage-current table; empty: none was taken
  std::optional<std::string> base;            ///< lamp cap, such as "E27" (core/lamp/label.h)
  std::optional<std::string> technology;      ///< one of technologies() there

  bool operator==(const Nominal&) const = default;
};

}  // namespace lampload
