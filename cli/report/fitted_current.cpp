#include "cli/report/fitted_current.h"

#include <algorithm>
#include <cmath>

#include "cli/report_json.h"
#include "core/error.h"
#include "core/lamp/lamp.h"
#include "fit/replay.h"

namespace lampload {
namespace {

const StoredFit& fit_of_piece(const StoredFit& fit, const std::string& sample) {
  const auto own = std::find_if(fit.samples.begin(), fit.samples.end(),
                                [&](const StoredFit& one) { return one.sample == sample && one.accepted; });
  return own == fit.samples.end() ? fit : *own;
}

/// Of a record in parts (the dimmer was turned) that of its first part.
ReplayedChannel channel_of(const StoredFit& fit, const StoredCapture& stored) {
  ReplayedChannel channel;
  channel.current_offset_a = stored.figures.current_offset_a;
  const std::optional<FitReport> report = report_from_json(fit.report);
  if (!report) return channel;
  channel.bandwidth_hz = report->bandwidth_hz;
  for (const CaptureReport& one : report->captures) {
    // the fit's name of it may have folders in front
    const std::size_t at = one.file.rfind('/') + 1;
    if (!std::string_view(one.file).substr(at).starts_with(stored.capture.file)) continue;
    channel.current_offset_a = one.current_offset_a;
    channel.current_delay_s = one.current_delay_s;
    break;
  }
  return channel;
}

}  // namespace

FittedCurrent fitted_current(const LampRecord& lamp, const StoredCapture& stored) {
  FittedCurrent fitted;
  if (!lamp.fit || !lamp.fit->accepted) return fitted;
  const StoredFit& fit = fit_of_piece(*lamp.fit, stored.sample);
  std::vector<double> parameters;
  for (const StoredEstimate& one : fit.parameters) parameters.push_back(one.value);
  try {
    const Lamp circuit(find_family(fit.family, fit.load_law), parameters);
    fitted.shown_a = replayed_current(circuit, stored.capture, stored.figures, channel_of(fit, stored));
  } catch (const Error& error) {
    if (error.code() != ErrorCode::input_refused) throw;
    return fitted;  // too short to be fitted, and so to be drawn
  }
  double square = 0.0;
  for (std::size_t s = 0; s < fitted.shown_a.size(); ++s) {
    fitted.residual_a.push_back(stored.capture.current_a[s] - fitted.shown_a[s]);
    square += fitted.residual_a.back() * fitted.residual_a.back();
  }
  fitted.rms_a = std::sqrt(square / static_cast<double>(std::max<std::size_t>(1, fitted.residual_a.size())));
  return fitted;
}

}  // namespace lampload
