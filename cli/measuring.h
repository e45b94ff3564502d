#pragma once
// Captures from files to measured ones, and where results come from.

#include <optional>
#include <string>
#include <vector>

#include "cli/options.h"
#include "db/library.h"

namespace lampload {

/// Reads and measures every file before anything else happens: one refused file refuses all.
/// The results carry digest and provenance, ready to be stored.
std::vector<StoredCapture> read_and_measure(const CaptureArguments& arguments, Telling telling);

/// Says of each capture which piece it is of: `label`, else what the same recording is stored with, else the first.
void assign_samples(std::vector<StoredCapture>& captures, const std::string& label,
                    const std::optional<LampRecord>& stored);

/// Login name, time now, program version.
Provenance provenance_now(const std::string& instrument);

/// The lamp's record where there is one. Throws Error{library} as Library does.
std::optional<LampRecord> lamp_if_stored(const std::string& lamp, const LibraryOption& library);

/// What the label and the place say: given now, or else stored.
Nominal merged(Nominal stored, const Nominal& given);

std::vector<Figures> figures_of(const std::vector<StoredCapture>& captures);

}  // namespace lampload
