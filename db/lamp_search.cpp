#include "db/lamp_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>
#include <string_view>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "core/lower_case.h"
#include "db/library_impl.h"
#include "db/nearest.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

constexpr std::size_t most_near = 3;

/// What the columns of a lamp must meet, and the values of its question marks in their order.
struct Condition {
  std::string sql = "superseded_by IS NULL";
  std::vector<std::string> texts;
  std::vector<double> numbers;
  bool any = false;

  void text(const std::string& part, const std::string& value) {
    sql += " AND " + part;
    texts.push_back(value);
    any = true;
  }
  void number(const std::string& part, double value) {
    sql += " AND " + part;
    numbers.push_back(value);
    any = true;
  }
  void bind(SQLite::Statement& statement) const {
    Bind bind{statement};
    for (const std::string& value : texts) bind(value);
    for (const double value : numbers) bind(value);
  }
};

// Powers and voltages as they are indexed (db/migrations).
Condition condition_of(const LampSearch& search) {
  Condition condition;
  if (!search.family.empty()) condition.text("family = ?", search.family);
  if (!search.load_law.empty()) condition.text("load_law = ?", search.load_law);
  if (!search.base.empty()) condition.text("base = ? COLLATE NOCASE", search.base);
  if (!search.technology.empty()) condition.text("technology = ?", search.technology);
  // texts are bound first
  if (search.least_power_w) condition.number("coalesce(power_w, rated_power_w) >= ?", *search.least_power_w);
  if (search.most_power_w) condition.number("coalesce(power_w, rated_power_w) <= ?", *search.most_power_w);
  if (search.voltage_v) {
    condition.number("coalesce(voltage_rms_v, nominal_voltage_v) >= ?", 0.9 * *search.voltage_v);
    condition.number("coalesce(voltage_rms_v, nominal_voltage_v) <= ?", 1.1 * *search.voltage_v);
  }
  return condition;
}

std::vector<std::string> words_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

bool holds(std::string_view text, std::string_view word) {
  return std::search(text.begin(), text.end(), word.begin(), word.end(),
                     [](char a, char b) { return lower_case(a) == lower_case(b); }) != text.end();
}

struct NamedRow {
  std::int64_t id = 0;
  std::string name;
};

std::vector<NamedRow> rows_of(SQLite::Database& db, const Condition& condition, const std::string& order) {
  SQLite::Statement select(db, fmt::format("SELECT id, name FROM lamp_types WHERE {}{}", condition.sql, order));
  condition.bind(select);
  std::vector<NamedRow> list;
  while (select.executeStep()) {
    NamedRow& one = list.emplace_back();
    Row{select}(one.id)(one.name);
  }
  return list;
}

/// All lamps that are shown, by name: an index alone is read.
std::vector<NamedRow> shown(SQLite::Database& db) { return rows_of(db, {}, " ORDER BY name"); }

std::vector<NamedRow> with_words(SQLite::Database& db, const std::vector<NamedRow>& all,
                                 const std::vector<std::string>& words) {
  std::unordered_map<std::int64_t, std::string> notes;
  SQLite::Statement select(db, "SELECT id, notes FROM lamp_types WHERE notes <> ''");
  while (select.executeStep()) notes[select.getColumn(0).getInt64()] = select.getColumn(1).getString();
  std::vector<NamedRow> found;
  for (const NamedRow& one : all) {
    const auto note = notes.empty() ? notes.end() : notes.find(one.id);
    const bool fits = std::all_of(words.begin(), words.end(), [&](const std::string& word) {
      return holds(one.name, word) || (note != notes.end() && holds(note->second, word));
    });
    if (fits) found.push_back(one);
  }
  return found;
}

/// Those of `list` that meet the condition too, in their order.
std::vector<NamedRow> kept_by(SQLite::Database& db, const Condition& condition, std::vector<NamedRow> list) {
  std::unordered_set<std::int64_t> meet;
  for (const NamedRow& one : rows_of(db, condition, "")) meet.insert(one.id);
  std::erase_if(list, [&](const NamedRow& one) { return !meet.contains(one.id); });
  return list;
}

/// Is each asked word near to one of the name's?
bool near_word_by_word(std::vector<NearTo>& asked, const std::string& name) {
  return std::all_of(asked.begin(), asked.end(), [&](NearTo& word) {
    for (std::size_t begin = 0; begin < name.size();) {
      const std::size_t end = std::min(name.find(' ', begin), name.size());
      if (end > begin && word.distance(std::string_view(name).substr(begin, end - begin))) return true;
      begin = end + 1;
    }
    return false;
  });
}

std::vector<std::string> names_near(const std::vector<NamedRow>& all, const std::string& words) {
  Nearest whole(words);
  for (const NamedRow& one : all) whole.look_at(one.name);
  std::vector<std::string> near = whole.names(most_near);
  if (!near.empty()) return near;
  std::vector<NearTo> asked;
  for (const std::string& word : words_of(words)) asked.emplace_back(word);
  for (const NamedRow& one : all) {
    if (near.size() == most_near) break;
    if (near_word_by_word(asked, one.name)) near.push_back(one.name);
  }
  return near;
}

/// What the list shows of these, by name; null: of all.
std::vector<LampSummary> summaries(SQLite::Database& db, const std::vector<NamedRow>* of, std::size_t most) {
  std::string ids;
  for (std::size_t i = 0; of != nullptr && i < of->size() && (most == 0 || i < most); ++i) {
    ids += fmt::format("{}{}", ids.empty() ? "" : ",", (*of)[i].id);
  }
  SQLite::Statement select(
      db, fmt::format(R"(
      SELECT id, name, family, load_law, power_w, voltage_rms_v, captures, fits, changed_utc,
             base, technology, {}
      FROM lamp_types WHERE superseded_by IS NULL {} ORDER BY name{})",
                      rows::trust_column, of != nullptr ? "AND id IN (SELECT value FROM json_each(?))" : "",
                      of == nullptr && most > 0 ? fmt::format(" LIMIT {}", most) : ""));
  if (of != nullptr) Bind{select}("[" + ids + "]");
  std::vector<LampSummary> list;
  while (select.executeStep()) {
    LampSummary& lamp = list.emplace_back();
    int trust = 0;
    Row{select}(lamp.id)(lamp.name)(lamp.family)(lamp.load_law)(lamp.power_w)(lamp.voltage_rms_v)(lamp.captures)(
        lamp.fits)(lamp.time_utc)(lamp.base)(lamp.technology)(trust);
    lamp.trust = static_cast<Trust>(trust);
  }
  return list;
}

std::size_t number_shown(SQLite::Database& db) {
  return static_cast<std::size_t>(
      db.execAndGet("SELECT count(*) FROM lamp_types WHERE superseded_by IS NULL").getInt64());
}

}  // namespace

std::vector<LampSummary> Library::lamps() const { return find({}).lamps; }

FoundLamps Library::find(const LampSearch& search) const {
  SQLite::Database& db = impl_->db;
  return schema::guarded(impl_->path, [&] {
    SQLite::Transaction view(db);
    const Condition condition = condition_of(search);
    const std::vector<std::string> words = words_of(search.words);
    FoundLamps found;
    if (words.empty() && !condition.any) {
      found.lamps = summaries(db, nullptr, search.most);
      found.all = search.most > 0 ? number_shown(db) : found.lamps.size();
      return found;
    }
    std::vector<NamedRow> all;
    std::vector<NamedRow> matches;
    if (words.empty()) {
      matches = rows_of(db, condition, "");
      std::sort(matches.begin(), matches.end(), [](const NamedRow& a, const NamedRow& b) { return a.name < b.name; });
    } else {
      all = shown(db);
      matches = with_words(db, all, words);
      if (condition.any) matches = kept_by(db, condition, std::move(matches));
    }
    found.all = matches.size();
    found.lamps = summaries(db, &matches, search.most);
    if (matches.empty() && !words.empty()) found.nearest = names_near(all, search.words);
    return found;
  });
}

}  // namespace lampload
