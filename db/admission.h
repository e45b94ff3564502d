#pragma once
// What lamps that come into a library one after the other meet there: worked out before anything is written, so that a
// trial run tells what a real one does, conflicts among the lamps themselves included.

#include <SQLiteCpp/SQLiteCpp.h>

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "db/library.h"

namespace lampload::rows {

/// A lamp that comes in.
struct Incoming {
  std::string name;
  std::string content;  ///< same text, same model, whatever its name
  std::string digest;   ///< of the record it is in
  std::string file;     ///< that it is from; empty: none
  std::string signer = {};
  bool with_samples = false;
};

/// Where it goes.
struct Admitted {
  Receipt receipt;
  /// A lamp that makes room first, and the name it has from then on; empty: none does.
  std::string aside_from = {};
  std::string aside_to = {};
};

class Admission {
 public:
  struct Rules {
    std::string mark;  ///< put behind a name that is taken
    /// The lamps are those of another library, and different ones already for being there: one of the same content is
    /// left alone whatever its record says, and may be stored under its name with a mark behind it.
    bool of_library;
  };

  /// `path` for the place of an error; `time_utc` is when lamps that make room stop being listed.
  Admission(SQLite::Database& db, std::string path, std::string time_utc, Rules rules);

  Admitted admit(const Incoming& lamp, OnConflict on_conflict);
  /// `name`, or with something behind it that keeps it apart; taken from now on. Of a lamp that is not listed.
  std::string admit_beside(const Incoming& lamp);
  /// Whether what comes under this name has to be held against anything: else its content need not be known.
  bool to_be_compared(const std::string& name);
  /// The stored lamp with this content under this name (of a library: or one made of it, or that it was made of);
  /// empty: none.
  std::string same_stored(const Incoming& lamp);
  /// The same under a name made of `name`.
  std::string same_beside(const std::string& name, const std::string& content);

 private:
  struct Held {
    std::string stored_name;  ///< in the database; empty: it comes in now
    std::string content;      ///< of one that comes in now
    std::string file;
  };
  struct Same {
    std::string name;
    std::string digest;
    std::string signer = {};
    bool revoked = false;
    bool lacks_samples = false;
  };

  [[nodiscard]] bool taken(const std::string& name);
  [[nodiscard]] std::string free_name(const std::string& name, const std::string& mark);
  [[nodiscard]] std::optional<Same> received_same(const std::string& content);
  [[nodiscard]] bool has_content(const std::string& name, const std::string& content);
  void set_aside(Admitted& admitted, const std::string& name);
  void put(const std::string& name, const Incoming& lamp);
  [[nodiscard]] std::vector<std::string> names_beside(const std::string& name);

  SQLite::Database& db_;
  std::string path_;
  std::string time_utc_;
  Rules rules_;
  bool holds_received_ = false;
  std::map<std::string, Held> put_;       ///< names that were given away on the way
  std::set<std::string> gone_;            ///< names of the database that made room
  std::map<std::string, Same> contents_;  ///< of listed lamps that came in on the way
};

/// Same text, same model: the content digest of lamp model files, or of one that could not be shared all it has.
std::string content_of(SQLite::Database& db, const std::string& path, const std::string& name);

/// Gives way: the lamp keeps everything but its name. Returns its row.
std::int64_t set_aside(SQLite::Database& db, const Admitted& admitted, const std::string& time_utc);
/// Whose place lamp `name` took.
void link_successor(SQLite::Database& db, std::int64_t aside, const std::string& name);

}  // namespace lampload::rows
