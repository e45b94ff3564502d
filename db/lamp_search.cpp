#include "db/lamp_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <initializer_list>
#include <sstream>
#include <string_view>
#include <utility>
#include <variant>

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

/// What the columns of a lamp must meet.
struct Condition {
  std::string sql;
  std::size_t words = 0;  ///< the first values are their patterns
  std::vector<std::variant<std::string, double>> values;

  [[nodiscard]] bool any() const { return !values.empty(); }
  /// What stands before a question mark, and its value.
  void add(std::string_view part, std::variant<std::string, double> value) {
    values.push_back(std::move(value));
    sql += fmt::format(" AND {} ?{}", part, values.size());
  }
  void bind(SQLite::Statement& statement) const {
    Bind bind{statement};
    for (const auto& value : values) std::visit([&](const auto& one) { bind(one); }, value);
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
  for (const std::string& word : words) {
    if (word.size() > longest_word) {
      throw Error(ErrorCode::usage, fmt::format("a word of more than {} bytes is looked for", longest_word), {},
                  "Name a part of it");
    }
    condition.values.emplace_back(pattern_of(word));
  }
  condition.words = words.size();
  if (!search.family.empty()) condition.add("family =", search.family);
  if (!search.load_law.empty()) condition.add("load_law =", search.load_law);
  if (!search.base.empty()) condition.add("base COLLATE NOCASE =", search.base);
  if (!search.technology.empty()) condition.add("technology =", search.technology);
  if (search.least_power_w) condition.add("coalesce(power_w, rated_power_w) >=", *search.least_power_w);
  if (search.most_power_w) condition.add("coalesce(power_w, rated_power_w) <=", *search.most_power_w);
  if (search.voltage_v) {
    condition.add("coalesce(voltage_rms_v, nominal_voltage_v) >=", 0.9 * *search.voltage_v);
    condition.add("coalesce(voltage_rms_v, nominal_voltage_v) <=", 1.1 * *search.voltage_v);
  }
  return condition;
}

struct NamedRow {
  std::int64_t id = 0;
  std::string name;
};

/// Of the lamps in `table`, those that hold every word in one of these columns. ASCII case does not count for LIKE.
std::string matches_sql(const Condition& condition, std::string_view table,
                        std::initializer_list<std::string_view> in) {
  std::string sql = fmt::format("SELECT id, name FROM {} WHERE superseded_by IS NULL", table);
  for (std::size_t word = 1; word <= condition.words; ++word) {
    std::string held;
    for (const std::string_view column : in) {
      held += fmt::format(R"({}{} LIKE ?{} ESCAPE '\')", held.empty() ? "" : " OR ", column, word);
    }
    sql += " AND (" + held + ")";
  }
  return sql + condition.sql;
}

std::vector<NamedRow> rows_of(SQLite::Database& db, const Condition& condition) {
  std::string sql = matches_sql(condition, "lamp_types", {"name"});
  // Names have an index of their own, and so have the few lamps with notes.
  if (condition.words > 0) {
    sql += " UNION " + matches_sql(condition, "lamp_types INDEXED BY lamp_types_noted", {"name", "notes"}) +
           " AND notes <> ''";
  }
  SQLite::Statement select(db, sql);
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
    if (!condition.any()) {
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
