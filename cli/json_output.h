#pragma once
// What other programs read: one JSON document a command. docs/commands.md lists every key. Numbers at full precision in
// SI units; what is not known is null.

#include <optional>
#include <string>
#include <vector>

#include "cli/advice.h"
#include "cli/capture_guide.h"
#include "core/advice/recommendation.h"
#include "core/error.h"
#include "db/library.h"
#include "db/upkeep.h"

namespace lampload {

/// {"captures":[...]}
std::string inspect_json(const std::vector<StoredCapture>& captures);
/// {"guide":{...}}
std::string guide_json(const CaptureGuide& guide);
/// {"lamp","captures"}
std::string import_json(const std::string& lamp, const std::vector<StoredCapture>& captures);
/// {"lamp","captures","fit"}; with_report: the fit also has "report".
std::string fit_json(const std::string& lamp, const std::vector<StoredCapture>& captures, const StoredFit& fit,
                     bool with_report = false);
/// {"lamp","captures","fit","recommendation"}; recommendation is null where no channel was asked about.
std::string characterise_json(const std::string& lamp, const std::vector<StoredCapture>& captures, const StoredFit& fit,
                              const std::optional<Advice>& advice);
/// {"lamp","recommendation"}
std::string recommendation_json(const std::string& lamp, const Advice& advice);
/// {"lamp","recommendations":[...]}: one for each channel of the library, in the order given
std::string recommendations_json(const std::string& lamp, const std::vector<Advice>& advice);
/// {"channel","lamps":[...],"not_looked_at":[...],"not_checked":[...]}
std::string lamps_for_channel_json(const LampsForChannel& found);
/// What the spice command answers; file empty: none was written.
struct WrittenCircuit {
  std::string lamp, subcircuit, family, load_law;
  bool scattered = false;
  std::string file, text;
  std::vector<std::string> cautions = {};  ///< of a lamp that came from elsewhere
};
std::string spice_json(const WrittenCircuit& circuit);
/// {"library","whole","lamps","captures","fits","channels","faults"}
std::string library_check_json(const std::string& path, const LibraryCheck& found);
/// {"written","rows","damaged"}
std::string salvage_json(const std::string& file, const Salvage& saved);
/// {"lamps":[...]}
std::string lamps_json(const std::vector<LampSummary>& lamps);
/// Everything that is stored about one lamp.
std::string show_json(const LampRecord& lamp, bool with_report = false);
/// {"channels":["NAME",...]}
std::string channel_names_json(const std::vector<Channel>& channels);
/// {"KEY":["NAME",...]} for commands that change the library: what was added or removed.
std::string names_json(const std::string& key, const std::vector<std::string>& names);
/// {"error":{"code","message","file","line","column","key","remedy"}}
std::string error_json(const Error& error);

}  // namespace lampload
