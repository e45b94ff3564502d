#pragma once
// The library on disk: lamp types, their samples, captures, fits, and channels. One SQLite file; every write is one
// transaction.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "core/advice/comparison.h"
#include "core/advice/recommendation.h"
#include "core/advice/screening.h"
#include "core/capture/capture.h"
#include "core/circuit/channel.h"
#include "core/waveform/figures.h"
#include "db/trust.h"

namespace lampload {

/// Who measured or fitted, when, with what.
struct Provenance {
  std::string person;           ///< login name or what the person gave
  std::string time_utc;         ///< ISO 8601, Z
  std::string instrument;       ///< as the person names it; may be empty
  std::string program_version;  ///< of lampload
};

/// The piece that captures are of where nothing is said.
inline constexpr const char* first_sample = "sample 1";

/// A stored capture. `sha256` is of the file as it was read, in hexadecimal.
struct StoredCapture {
  std::int64_t id = 0;
  Capture capture;
  CaptureOptions options;
  Figures figures;
  std::string sha256;
  Provenance provenance;
  /// Which piece of this lamp type was measured. Stored while empty: where the recording is stored already, the piece
  /// it is stored with, else first_sample.
  std::string sample;
  bool received = false;      ///< came in a lamp model file
  bool figures_only = false;  ///< of such a capture: its samples did not come with it
};

/// The one that shows the lamp at full power (less_open()); null: there is none.
const StoredCapture* least_cut(std::span<const StoredCapture> captures);

/// Of the same columns of the same file: what is stored once with a lamp type.
bool same_recording(const StoredCapture& a, const StoredCapture& b);

/// A stored estimate: fit/ is not known here, so the library keeps its own plain record of a fit.
struct StoredEstimate {
  std::string name;
  std::string unit;
  double value = 0.0;
  double standard_uncertainty = 0.0;
  double lower_95 = 0.0;
  double upper_95 = 0.0;
  bool identified = true;
  std::string remark;
};

struct StoredRival {
  std::string family;
  std::string load_law;
  double distance = 0.0;
};

/// Between the pieces of a lamp type, of one quantity: one standard deviation.
struct StoredSpread {
  std::string name;
  bool relative = true;  ///< a share of the value; else of the parameter's typical size
  int samples = 0;
  double spread = 0.0;
  double lower_95 = 0.0;
  double upper_95 = 0.0;
  double measured = 0.0;     ///< from these pieces alone
  double usual_share = 0.0;  ///< of what is known of it, what is usual brings
};

/// Of one sample, or of a lamp type: then the mean of its samples' fits.
struct StoredFit {
  std::int64_t id = 0;
  std::string sample;  ///< empty: of the lamp type
  bool accepted = false;
  std::string verdict;
  std::string family;
  std::string load_law;
  std::vector<StoredEstimate> parameters;  ///< in the order of the family's table
  std::vector<StoredEstimate> derived;
  std::vector<double> covariance;  ///< coordinates of to_coordinate(), row by row
  double residual_rms_a = 0.0;
  double normalised_residual = 0.0;
  std::vector<StoredRival> rivals;
  std::string next_capture;  ///< what to measure next; empty: nothing
  std::string next_narrows;
  std::string next_sentence;
  std::uint64_t seed = 0;
  std::string report;  ///< JSON text, kept as it was given: how the fit came about; empty: none
  std::vector<std::int64_t> capture_ids;
  Provenance provenance;
  std::vector<StoredFit> samples;  ///< that the type's mean was made from; empty: one piece was measured
  std::string spread_source;       ///< "default", "mixture", "measured"; empty where no spread was estimated
  std::vector<StoredSpread> parameter_spreads;
  std::vector<StoredSpread> derived_spreads;
  std::vector<StoredSpread> load_spreads;  ///< by the constraint that each decides
  /// Stored beside the lamp type's newest accepted fit, and not read back with a lamp: see Library::screening().
  std::optional<ScreeningFigures> screening;
};

/// A capture of a finished channel held against the prediction of a fit. The capture itself is not kept.
struct StoredComparison {
  std::int64_t id = 0;
  std::int64_t fit_id = 0;  ///< that the prediction was made with
  Comparison comparison;
  std::string file;
  std::string sha256;
  Provenance provenance;
};

struct LampSummary {
  std::int64_t id = 0;
  std::string name;
  std::string family;  ///< of the newest accepted fit; empty: none
  std::string load_law;
  std::optional<double> power_w;  ///< of the least cut steady capture
  std::optional<double> voltage_rms_v;
  int captures = 0;
  int fits = 0;          ///< of the lamp type
  std::string time_utc;  ///< of the last change
  Trust trust = Trust::own;
  std::optional<std::string> base;  ///< as Nominal has them
  std::optional<std::string> technology;
};

/// What many lamps are looked through by.
struct LampScreening {
  std::string lamp;
  std::string family;  ///< of the newest accepted fit; empty: none
  std::string load_law;
  std::optional<bool> label_dimmable;
  Trust trust = Trust::own;
  double voltage_v = 0.0;  ///< of the supply that its figures are for
  double frequency_hz = 0.0;
  std::string packed;  ///< its figures as they are stored; many lamps at once take little room so

  /// Empty: none are stored, or an earlier version's. Throws Error{library} where they are damaged.
  [[nodiscard]] std::optional<ScreeningFigures> figures() const;
};

/// A lamp type that another took the place of; it can be named like any other.
struct SupersededLamp {
  std::string name;
  std::string time_utc;  ///< when
};

/// Everything about one lamp type (captures without their samples unless asked).
struct LampRecord {
  std::int64_t id = 0;
  std::string name;
  std::string notes;
  Nominal nominal;
  std::vector<StoredCapture> captures;
  std::optional<StoredFit> fit;  ///< the newest
  int fits = 0;
  std::vector<StoredComparison> comparisons;  ///< made with any of its fits, oldest first
  Trust trust = Trust::own;                   ///< in what its newest fit (else its captures) rests on
  std::optional<Origin> origin;               ///< how the lamp came here; empty: it was made here
  std::string superseded_by;                  ///< lamp that took its place; empty: none
  std::vector<SupersededLamp> earlier;        ///< lamps that it took the place of
};

struct SharedLamp;
struct LampSearch;
struct FoundLamps;

/// What to do with a lamp of a file where another one of its name is stored.
enum class OnConflict {
  keep,     ///< the stored one stays, the file's is left out
  replace,  ///< the file's takes the name; the stored one stays under another name
  add,      ///< the file's is stored under another name
};

/// What became of one lamp of a file, or would.
struct Receipt {
  enum class Outcome { added, unchanged, kept, replaced, added_beside };
  std::string name;       ///< in the file
  std::string stored_as;  ///< in the library; empty: not stored
  Outcome outcome = Outcome::added;
  std::string remark;  ///< what else there is to say; may be empty
};

class Library {
 public:
  enum class Access { read_only, read_write };

  /// Opens or (read_write) makes the file and its folder; migrates an older one after a backup beside it.
  /// Throws Error{library}: not a lampload library, newer than this program (left untouched), not readable, locked,
  /// damaged.
  static Library open(const std::string& path, Access access);
  /// One that holds nothing and is kept nowhere: what would happen where there is no library yet.
  static Library in_memory();
  /// The default path under the XDG data directory.
  static std::string default_path();
  /// The newest schema this program knows.
  static int schema_version();

  Library(Library&&) noexcept;
  Library& operator=(Library&&) noexcept;
  ~Library();

  /// All of it in one transaction: makes the lamp if the name is new (else adds to it; nominal values that are given
  /// replace the stored ones), adds the captures, adds the fit. A capture that is there already (same digest, same
  /// columns) is not stored twice: read in the same way it stays, read with other options the new reading takes its
  /// place. Returns the lamp's id. `captures` carry id 0; `fit` may be empty. The fit is recorded as made from
  /// fit->capture_ids (captures stored before) and all of `captures`; the fit of a sample from its own capture_ids and
  /// those of `captures` that are of it. `channel`, if given, goes with it as in
  /// store_channel().
  /// Throws Error{input_refused} for values that are not finite and for captures of another lamp.
  std::int64_t store(const std::string& lamp, const Nominal& nominal, const std::vector<StoredCapture>& captures,
                     const std::optional<StoredFit>& fit, const std::optional<Channel>& channel = std::nullopt);
  /// All of them in one transaction, as made with the lamp's newest fit (their id and fit_id are not looked at).
  /// Throws Error{not_found}; Error{input_refused} where the lamp has no fit or a value is not finite.
  void store_comparisons(const std::string& lamp, const std::vector<StoredComparison>& comparisons);
  /// By name.
  [[nodiscard]] std::vector<LampSummary> lamps() const;
  /// Those that are like what is asked for (db/lamp_search.h). Throws Error{usage} for too many or too long words.
  [[nodiscard]] FoundLamps find(const LampSearch& search) const;
  /// Of all lamps, by name; one table is read, whatever their captures.
  [[nodiscard]] std::vector<LampScreening> screening() const;
  /// The same for very many: some thousand lamps at a time, in the order in which they are stored.
  void screening(const std::function<void(const std::vector<LampScreening>&)>& take) const;
  /// Throws Error{not_found} that names the nearest names.
  [[nodiscard]] LampRecord lamp(const std::string& name, bool with_samples = false) const;
  /// What the label is no longer taken to say: words of label_words(). store() never takes anything back. Throws
  /// Error{not_found}, Error{usage} for another word.
  void forget_label(const std::string& lamp, const std::vector<std::string>& words);
  static std::vector<std::string> label_words();
  /// Throws Error{not_found}. Captures and fits go with the lamp.
  void remove_lamp(const std::string& name);

  /// What receive() at that time would do, conflicts among the lamps themselves included.
  [[nodiscard]] std::vector<Receipt> receipts(std::span<const SharedLamp> lamps, OnConflict on_conflict,
                                              const std::string& time_utc) const;
  /// All of them in one transaction; nothing is overwritten. A lamp whose content is stored already stays as it is.
  /// `lamps` may carry screening figures with their fits. Throws Error{input_refused} where a signer was revoked.
  std::vector<Receipt> receive(std::span<const SharedLamp> lamps, OnConflict on_conflict, const Provenance& provenance);
  /// Digests of the records of all received lamps.
  [[nodiscard]] std::set<std::string> received_digests() const;
  /// The record a lamp came with, in canonical form; empty: it was made here, or (unless even_if_changed) its captures
  /// or fits are no longer only those of the record.
  [[nodiscard]] std::string received_record(const std::string& lamp, bool even_if_changed = false) const;

  /// By name; revoked ones too.
  [[nodiscard]] std::vector<SignerKey> signer_keys() const;
  /// Accepts or revokes. Throws Error{input_refused} where the name belongs to another key.
  void store_signer_key(const SignerKey& key);

  /// Adds or replaces a channel of this name.
  void store_channel(const Channel& channel);
  [[nodiscard]] std::vector<Channel> channels() const;
  [[nodiscard]] Channel channel(const std::string& name) const;
  void remove_channel(const std::string& name);

 private:
  struct Impl;
  explicit Library(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace lampload
