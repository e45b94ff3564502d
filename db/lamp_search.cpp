#include "db/lamp_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>
#include <string_view>
#include <utility>

#include "core/error.h"
#include "db/library_impl.h"
#include "db/nearest.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

constexpr std::size_t most_near = 3;
// What SQLite takes is a thousand conditions and patterns of 50,000 bytes.
constexpr std::size_t most_words = 100;
constexpr std::size_t longest_word = 1000;

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

std::vector<std::string> words_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

/// As LIKE reads it: whatever holds the word, with its own signs taken as they stand.
std::string pattern_of(const std::string& word) {
  std::string pattern = "%";
  for (const char c : word) {
    if (c == '%' || c == '_' || c == '\\') pattern += '\\';
    pattern += c;
  }
  return pattern + "%";
}

// Powers and voltages as they are indexed (db/migrations).
Condition condition_of(const LampSearch& search) {
  Condition condition;
  const std::vector<std::string> words = words_of(search.words);
  if (words.size() > most_words) {
    throw Error(ErrorCode::usage, fmt::format("{} words are looked for, more than {}", words.size(), most_words), {},
                "Name fewer of them");
  }
  // ASCII case does not count for LIKE. Names and the few notes that there are have indexes of their own.
  for (const std::string& word : words) {
    if (word.size() > longest_word) {
      throw Error(ErrorCode::usage, fmt::format("a word of more than {} bytes is looked for", longest_word), {},
                  "Name a part of it");
    }
    condition.text(R"((name LIKE ? ESCAPE '\' OR
        id IN (SELECT id FROM lamp_types WHERE notes <> '' AND notes LIKE ? ESCAPE '\')))",
                   pattern_of(word));
    condition.texts.push_back(pattern_of(word));
  }
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

struct NamedRow {
  std::int64_t id = 0;
  std::string name;
};

std::vector<NamedRow> rows_of(SQLite::Database& db, const Condition& condition) {
  SQLite::Statement select(db, "SELECT id, name FROM lamp_types WHERE " + condition.sql);
  condition.bind(select);
  std::vector<NamedRow> list;
  while (select.executeStep()) {
    NamedRow& one = list.emplace_back();
    Row{select}(one.id)(one.name);
  }
  return list;
}

/// Is each asked word near to one of the name's?
bool near_word_by_word(std::vector<NearTo>& asked, std::string_view name) {
  return std::all_of(asked.begin(), asked.end(), [&](NearTo& word) {
    for (std::size_t begin = 0; begin < name.size();) {
      const std::size_t end = std::min(name.find(' ', begin), name.size());
      if (end > begin && word.distance(name.substr(begin, end - begin))) return true;
      begin = end + 1;
    }
    return false;
  });
}

// An index is read, a second time where need be: a hundred thousand names to keep would take longer.
std::vector<std::string> names_near(SQLite::Database& db, const std::string& words) {
  SQLite::Statement names(db, "SELECT name FROM lamp_types WHERE superseded_by IS NULL ORDER BY name");
  const auto name = [&] { return std::string_view(names.getColumn(0).getText()); };
  Nearest whole(words);
  while (names.executeStep()) whole.look_at(name());
  std::vector<std::string> near = whole.names(most_near);
  if (!near.empty()) return near;
  std::vector<NearTo> asked;
  for (const std::string& word : words_of(words)) asked.emplace_back(word);
  names.reset();
  while (near.size() < most_near && names.executeStep()) {
    if (near_word_by_word(asked, name())) near.emplace_back(name());
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
    FoundLamps found;
    if (!condition.any) {
      found.lamps = summaries(db, nullptr, search.most);
      found.all = search.most > 0 ? number_shown(db) : found.lamps.size();
      return found;
    }
    std::vector<NamedRow> matches = rows_of(db, condition);
    std::sort(matches.begin(), matches.end(), [](const NamedRow& a, const NamedRow& b) { return a.name < b.name; });
    found.all = matches.size();
    found.lamps = summaries(db, &matches, search.most);
    if (matches.empty() && !words_of(search.words).empty()) found.nearest = names_near(db, search.words);
    return found;
  });
}

}  // namespace lampload
