#pragma once
// From stored captures to a stored fit, and from a stored fit to what advice needs.

#include <optional>
#include <string>
#include <vector>

#include "cli/library_option.h"
#include "cli/terminal.h"
#include "core/advice/recommendation.h"
#include "core/lamp/one_port.h"
#include "db/library.h"

namespace lampload {

/// Fits the captures, those of each sample on their own. A lamp that no family describes gives a record with accepted =
/// false. Throws Error{input_refused} where the captures cannot belong together or hold no lamp current.
StoredFit fit_captures(const std::vector<StoredCapture>& captures, const Nominal& nominal, Telling telling);

/// Figures to look through many lamps by, at the supply that an accepted fit was made on. Empty on DC, and where the
/// lamp cannot be simulated on its own.
std::optional<ScreeningFigures> figures_for_screening(const StoredFit& fit, const std::vector<StoredCapture>& captures,
                                                      const Nominal& nominal, const OperatingPoint& at);

/// The spread between pieces that counts are made with: what is usual where none is stored.
LoadSpread load_spread_of(const StoredFit& fit);

/// What is known of the lamp, from its record: from the waveform alone where no accepted fit is stored. Of the captures
/// those that the fit was made from; one that is not stored yet counts as such.
LampEvidence evidence_of(const std::string& name, const std::optional<StoredFit>& fit,
                         const std::vector<StoredCapture>& captures, const Nominal& nominal);

/// The same from the lamp's record, with the comparisons made with its fit; `nominal` instead of what is stored with
/// it.
LampEvidence evidence_of(const LampRecord& lamp, const Nominal& nominal);

/// A channel file if there is one of that name, else the channel of that name in the library.
struct ChosenChannel {
  Channel channel;
  bool from_file = false;
};
ChosenChannel choose_channel(const std::string& name_or_file, const LibraryOption& library);

}  // namespace lampload
