#include "db/merge.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <optional>
#include <utility>

#include "core/error.h"
#include "db/admission.h"
#include "db/channel_file.h"
#include "db/free_name.h"
#include "db/lamp_rows.h"
#include "db/library_impl.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"
#include "db/upkeep.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;
using Outcome = Receipt::Outcome;

constexpr const char* merged_mark = "merged";

/// A lamp type of the other library.
struct OtherLamp {
  std::int64_t id = 0;
  std::string name;
  std::optional<std::int64_t> successor;
  std::string signer;
  Trust trust = Trust::own;
};

/// What is to be done with it.
struct LampStep {
  std::int64_t id = 0;
  rows::Admitted admitted;
  std::optional<std::int64_t> successor;  ///< in the other library; of one whose successor is in this one then
};

struct ChannelStep {
  Channel channel;               ///< under the name it gets
  std::optional<Channel> aside;  ///< the one that was stored, under the name it gets
};

struct MergePlan {
  LibraryMerge told;
  std::vector<LampStep> lamps;
  std::map<std::int64_t, std::string> places;  ///< of lamps of the other library, in this one
  std::vector<ChannelStep> channels;
  std::vector<SignerKey> keys;
};

bool stays_out(const Receipt& receipt) {
  return receipt.outcome == Outcome::unchanged || receipt.outcome == Outcome::kept;
}

/// Those that are listed first, then each behind its successor.
std::vector<OtherLamp> lamps_of(SQLite::Database& db) {
  SQLite::Statement select(db, fmt::format(R"(
    WITH RECURSIVE chain (id, depth) AS (
      SELECT id, 0 FROM lamp_types WHERE superseded_by IS NULL
      UNION ALL SELECT lamp_types.id, depth + 1 FROM lamp_types JOIN chain ON superseded_by = chain.id)
    SELECT lamp_types.id, lamp_types.name, superseded_by, coalesce(received_lamps.signer, ''), {}
    FROM chain JOIN lamp_types ON lamp_types.id = chain.id
      LEFT JOIN received_lamps ON received_lamps.lamp_type_id = lamp_types.id
    ORDER BY depth, lamp_types.name, lamp_types.id)",
                                           rows::trust_column));
  std::vector<OtherLamp> lamps;
  while (select.executeStep()) {
    OtherLamp& lamp = lamps.emplace_back();
    int trust = 0;
    Row{select}(lamp.id)(lamp.name)(lamp.successor)(lamp.signer)(trust);
    lamp.trust = static_cast<Trust>(trust);
  }
  return lamps;
}

/// What was stored besides what the content is made of.
std::string more_there(SQLite::Database& from, std::int64_t there, SQLite::Database& to, const std::string& here) {
  const auto counts = [](SQLite::Database& db, const char* which, const auto& value) {
    SQLite::Statement select(db, fmt::format(R"(
      SELECT fits, (SELECT count(*) FROM comparisons WHERE lamp_type_id = lamp_types.id) FROM lamp_types WHERE {} = ?)",
                                             which));
    Bind{select}(value);
    std::pair<int, int> counted;
    if (select.executeStep()) Row{select}(counted.first)(counted.second);
    return counted;
  };
  const auto [fits, comparisons] = counts(from, "id", there);
  const auto [fits_here, comparisons_here] = counts(to, "name", here);
  std::string more;
  if (fits > fits_here) more += "earlier fits";
  if (comparisons > comparisons_here) more += std::string(more.empty() ? "" : " and ") + "comparisons";
  return more.empty() ? "" : more + " that are there only were left there";
}

/// Of lamps of the other library, as far as they were worked out.
using LampContents = std::map<std::int64_t, std::string>;

class Planning {
 public:
  Planning(SQLite::Database& from, const std::string& from_path, SQLite::Database& to, const std::string& to_path,
           OnConflict on_conflict, const std::string& time_utc, LampContents& contents)
      : from_(from),
        from_path_(from_path),
        to_(to),
        on_conflict_(on_conflict),
        time_utc_(time_utc),
        admission_(to, to_path, time_utc, {.mark = merged_mark, .of_library = true}),
        keys_here_(rows::signer_keys(to)),
        contents_(contents) {}

  MergePlan run() {
    for (const OtherLamp& lamp : lamps_of(from_)) {
      MergedLamp told = lamp.successor ? earlier(lamp) : listed(lamp);
      told.trust = lamp.trust;
      told.superseded = lamp.successor.has_value();
      if (!stays_out(told.receipt) && told.refused.empty() && lamp.trust == Trust::own) ++plan_.told.own;
      plan_.told.lamps.push_back(std::move(told));
    }
    channels();
    keys();
    return std::move(plan_);
  }

 private:
  /// Its content is worked out where it matters, and once.
  rows::Incoming incoming(const OtherLamp& lamp, bool compared) {
    std::string& content = contents_[lamp.id];
    if (compared && content.empty()) content = rows::content_of(from_, from_path_, lamp.name);
    return {lamp.name, content, "", ""};
  }

  [[nodiscard]] std::string why_refused(const OtherLamp& lamp) const {
    for (const SignerKey& key : keys_here_) {
      if (lamp.signer != key.public_key || key.accepted) continue;
      return fmt::format("'{}' is signed with the key of '{}', which was revoked here on {}{}{}", lamp.name, key.name,
                         key.time_utc, key.reason.empty() ? "" : ": ", key.reason);
    }
    return "";
  }

  MergedLamp listed(const OtherLamp& lamp) {
    MergedLamp told;
    LampStep step{.id = lamp.id,
                  .admitted = admission_.admit(incoming(lamp, admission_.to_be_compared(lamp.name)), on_conflict_),
                  .successor = {}};
    told.receipt = step.admitted.receipt;
    if (!told.receipt.stored_as.empty()) plan_.places[lamp.id] = told.receipt.stored_as;
    if (told.receipt.outcome == Outcome::unchanged) {
      told.receipt.remark = more_there(from_, lamp.id, to_, told.receipt.stored_as);
    }
    if (stays_out(told.receipt)) return told;
    told.refused = why_refused(lamp);
    plan_.lamps.push_back(std::move(step));
    return told;
  }

  /// It comes along with the lamp that took its place, under whatever name is free.
  MergedLamp earlier(const OtherLamp& lamp) {
    MergedLamp told;
    told.receipt = {.name = lamp.name, .stored_as = "", .outcome = Outcome::kept, .remark = ""};
    Receipt& receipt = told.receipt;
    const rows::Incoming coming = incoming(lamp, true);
    std::string same = admission_.same_stored(coming);
    const auto successor = plan_.places.find(*lamp.successor);
    // A lamp that makes room here may be the very one that did so there, on another day.
    if (same.empty() && successor != plan_.places.end())
      same = admission_.same_beside(successor->second, coming.content);
    if (!same.empty()) {
      receipt.outcome = Outcome::unchanged;
      receipt.stored_as = same;
      plan_.places[lamp.id] = same;
      return told;
    }
    if (successor == plan_.places.end()) {
      receipt.remark = "the lamp that took its place there was left out";
      return told;
    }
    if (!why_refused(lamp).empty()) {
      receipt.remark = "it was replaced there, and its signer was revoked here";
      return told;
    }
    receipt.stored_as = admission_.admit_beside(coming);
    receipt.outcome = receipt.stored_as == lamp.name ? Outcome::added : Outcome::added_beside;
    plan_.places[lamp.id] = receipt.stored_as;
    plan_.lamps.push_back({lamp.id, {.receipt = receipt}, lamp.successor});
    return told;
  }

  void channels() {
    const auto stored = [](SQLite::Database& db) {
      SQLite::Statement select(db, "SELECT name, description FROM channels ORDER BY name");
      std::map<std::string, std::string> all;
      while (select.executeStep()) all[select.getColumn(0).getString()] = select.getColumn(1).getString();
      return all;
    };
    std::map<std::string, std::string> here = stored(to_);
    const auto given_name = [&](const std::string& name, const std::string& mark) {
      std::string free = free_name(name, mark, [&](const std::string& other) { return here.contains(other); });
      here[free];
      return free;
    };
    const auto renamed = [](const std::string& description, const std::string& name) {
      Channel channel = parse_channel(description, name);
      channel.name = name;
      return channel;
    };
    for (const auto& coming : stored(from_)) {
      const std::string& name = coming.first;
      const std::string& description = coming.second;
      Receipt& receipt = plan_.told.channels.emplace_back(
          Receipt{.name = name, .stored_as = name, .outcome = Outcome::added, .remark = ""});
      const auto found = here.find(name);
      if (found == here.end()) {
        plan_.channels.push_back({renamed(description, name), std::nullopt});
        continue;
      }
      const auto beside = std::find_if(here.begin(), here.end(), [&](const auto& one) {
        return one.first.starts_with(name) && !one.second.empty() &&
               channel_json(renamed(one.second, name)) == channel_json(renamed(description, name));
      });
      if (beside != here.end()) {
        receipt.outcome = Outcome::unchanged;
        receipt.stored_as = beside->first;
        continue;
      }
      receipt.remark = "another channel of this name is stored";
      if (on_conflict_ == OnConflict::keep) {
        receipt.outcome = Outcome::kept;
        receipt.stored_as.clear();
      } else if (on_conflict_ == OnConflict::replace) {
        receipt.outcome = Outcome::replaced;
        const std::string aside = given_name(name, "until " + time_utc_.substr(0, 10));
        receipt.remark = fmt::format("the one that was stored is '{}' now", aside);
        plan_.channels.push_back({renamed(description, name), renamed(found->second, aside)});
      } else {
        receipt.outcome = Outcome::added_beside;
        receipt.stored_as = given_name(name, merged_mark);
        plan_.channels.push_back({renamed(description, receipt.stored_as), std::nullopt});
      }
    }
  }

  void keys() {
    const auto named = [&](const std::string& name) {
      return std::any_of(keys_here_.begin(), keys_here_.end(), [&](const SignerKey& one) { return one.name == name; });
    };
    for (SignerKey key : rows::signer_keys(from_)) {
      Receipt& receipt = plan_.told.keys.emplace_back(
          Receipt{.name = key.name, .stored_as = key.name, .outcome = Outcome::added, .remark = ""});
      const auto same = std::find_if(keys_here_.begin(), keys_here_.end(),
                                     [&](const SignerKey& one) { return one.public_key == key.public_key; });
      if (same != keys_here_.end()) {
        receipt.stored_as = same->name;
        receipt.outcome = same->accepted == key.accepted ? Outcome::unchanged : Outcome::kept;
        if (same->accepted && !key.accepted) {
          receipt.remark =
              fmt::format("revoked there{}{}, accepted here, and stays so: 'lampload keys revoke' if it should not",
                          key.reason.empty() ? "" : " because: ", key.reason);
        } else if (!same->accepted && key.accepted) {
          receipt.remark = "accepted there, revoked here, and stays so";
        }
        continue;
      }
      if (named(key.name)) {
        key.name = free_name(key.name, merged_mark, named);
        receipt.stored_as = key.name;
        receipt.outcome = Outcome::added_beside;
        receipt.remark = "another key has this name here";
      } else {
        receipt.remark = key.accepted ? "accepted there, so here too" : "revoked there, so here too";
      }
      plan_.keys.push_back(key);
      keys_here_.push_back(key);
    }
  }

  SQLite::Database& from_;
  const std::string& from_path_;
  SQLite::Database& to_;
  OnConflict on_conflict_;
  std::string time_utc_;
  rows::Admission admission_;
  std::vector<SignerKey> keys_here_;
  LampContents& contents_;
  MergePlan plan_;
};

void carry_out(const MergePlan& plan, SQLite::Database& from, SQLite::Database& to, const std::string& time_utc) {
  rows::LampCopier copier(from, to);
  for (const LampStep& step : plan.lamps) {
    std::optional<std::int64_t> aside;
    if (!step.admitted.aside_from.empty()) aside = rows::set_aside(to, step.admitted, time_utc);
    const std::int64_t made = copier.copy(step.id, step.admitted.receipt.stored_as);
    if (aside) rows::link_successor(to, *aside, step.admitted.receipt.stored_as);
    if (step.successor) rows::link_successor(to, made, plan.places.at(*step.successor));
  }
  for (const ChannelStep& step : plan.channels) {
    if (step.aside) rows::store_channel(to, *step.aside);
    rows::store_channel(to, step.channel);
  }
  for (const SignerKey& key : plan.keys) rows::store_signer_key(to, key);
}

void check_whole(const std::string& path, SQLite::Database& db) {
  const LibraryCheck found = check_library(db);
  if (found.faults.empty()) return;
  throw Error(ErrorCode::library,
              fmt::format("is not whole, and nothing was taken from it: {}{}", found.faults.front(),
                          found.faults.size() > 1 ? fmt::format("; and {} more", found.faults.size() - 1) : ""),
              Place{.file = path},
              "'lampload library check' tells all of it, 'lampload library salvage' saves what can be read");
}

}  // namespace

std::size_t LibraryMerge::refused() const {
  return static_cast<std::size_t>(
      std::count_if(lamps.begin(), lamps.end(), [](const MergedLamp& one) { return !one.refused.empty(); }));
}

bool LibraryMerge::changes() const {
  const auto changed = [](const Receipt& one) { return !stays_out(one); };
  return std::any_of(lamps.begin(), lamps.end(), [&](const MergedLamp& one) { return changed(one.receipt); }) ||
         std::any_of(channels.begin(), channels.end(), changed) || std::any_of(keys.begin(), keys.end(), changed);
}

LibraryMerge merge_library(const std::string& path, const std::string& other, OnConflict on_conflict, bool trial,
                           const std::string& time_utc) {
  std::error_code none;
  if (!fs::exists(other, none)) {
    throw Error(ErrorCode::library, "there is no such file", Place{.file = other}, "Name another library");
  }
  if (fs::equivalent(path, other, none)) {
    throw Error(ErrorCode::library, "is this library itself", Place{.file = other}, "Name another library");
  }
  SQLite::Database from = schema::open(other, Library::Access::read_only);
  return schema::guarded(other, [&] {
    SQLite::Transaction view(from);  // what is looked through is what is taken
    check_whole(other, from);
    LampContents contents;
    const auto plan_for = [&](SQLite::Database& to) {
      return Planning(from, other, to, path, on_conflict, time_utc, contents).run();
    };
    return schema::guarded(path, [&] {
      {
        SQLite::Database to = fs::exists(path) ? schema::open(path, Library::Access::read_only) : schema::in_memory();
        LibraryMerge told = plan_for(to).told;
        if (trial || told.refused() > 0 || !told.changes()) return told;
      }
      SQLite::Database to = schema::open(path, Library::Access::read_write);
      SQLite::Transaction transaction(to, SQLite::TransactionBehavior::IMMEDIATE);
      MergePlan plan = plan_for(to);  // it may have changed since
      if (plan.told.refused() > 0) return plan.told;
      carry_out(plan, from, to, time_utc);
      transaction.commit();
      plan.told.stored = true;
      return plan.told;
    });
  });
}

}  // namespace lampload
