#include "db/lamp_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>
#include <utility>

#include "db/library_impl.h"
#include "db/nearest.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

/// What a lamp must meet, and the values of its question marks in their order.
struct Condition {
  std::string sql = "1";
  std::vector<std::string> texts;
  std::vector<double> numbers;

  void text(const std::string& part, const std::string& value, int times = 1) {
    sql += " AND " + part;
    for (int i = 0; i < times; ++i) texts.push_back(value);
  }
  void number(const std::string& part, double value) {
    sql += " AND " + part;
    numbers.push_back(value);
  }
  void bind(SQLite::Statement& statement) const {
    Bind bind{statement};
    for (const std::string& value : texts) bind(value);
    for (const double value : numbers) bind(value);
  }
};

std::string pattern_of(const std::string& word) {
  std::string pattern = "%";
  for (const char c : word) {
    if (c == '%' || c == '_' || c == '\\') pattern += '\\';
    pattern += c;
  }
  return pattern + "%";
}

Condition condition_of(const LampSearch& search) {
  Condition condition;
  std::istringstream words(search.words);
  for (std::string word; words >> word;) {
    condition.text(R"((name LIKE ? ESCAPE '\' OR notes LIKE ? ESCAPE '\'))", pattern_of(word), 2);
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

std::vector<std::string> words_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

/// Is each asked word near to one of the name's?
bool near_word_by_word(const std::vector<std::string>& asked, const std::string& name) {
  const std::vector<std::string> words = words_of(name);
  return std::all_of(asked.begin(), asked.end(),
                     [&](const std::string& word) { return !nearest_names(word, words, 1).empty(); });
}

std::vector<std::string> names_near(SQLite::Database& db, const std::string& words) {
  SQLite::Statement select(db, "SELECT name FROM lamp_types WHERE superseded_by IS NULL ORDER BY name");
  std::vector<std::string> names;
  while (select.executeStep()) names.push_back(select.getColumn(0).getString());
  std::vector<std::string> near = nearest_names(words, names);
  if (!near.empty()) return near;
  constexpr std::size_t most = 3;
  const std::vector<std::string> asked = words_of(words);
  for (const std::string& name : names) {
    if (near.size() < most && near_word_by_word(asked, name)) near.push_back(name);
  }
  return near;
}

}  // namespace

std::vector<LampSummary> Library::lamps() const { return find({}).lamps; }

FoundLamps Library::find(const LampSearch& search) const {
  SQLite::Database& db = impl_->db;
  return schema::guarded(impl_->path, [&] {
    SQLite::Transaction view(db);
    const Condition condition = condition_of(search);
    FoundLamps found;
    SQLite::Statement select(db, fmt::format(R"(
      SELECT id, name, family, load_law, power_w, voltage_rms_v, captures, fits, changed_utc, base, technology, {}
      FROM lamp_types WHERE superseded_by IS NULL AND {} ORDER BY name{})",
                                             rows::trust_column, condition.sql,
                                             search.most > 0 ? fmt::format(" LIMIT {}", search.most) : ""));
    condition.bind(select);
    while (select.executeStep()) {
      LampSummary& lamp = found.lamps.emplace_back();
      int trust = 0;
      Row{select}(lamp.id)(lamp.name)(lamp.family)(lamp.load_law)(lamp.power_w)(lamp.voltage_rms_v)(lamp.captures)(
          lamp.fits)(lamp.time_utc)(lamp.base)(lamp.technology)(trust);
      lamp.trust = static_cast<Trust>(trust);
    }
    found.all = found.lamps.size();
    if (search.most > 0 && found.all == search.most) {
      SQLite::Statement count(db, "SELECT count(*) FROM lamp_types WHERE superseded_by IS NULL AND " + condition.sql);
      condition.bind(count);
      count.executeStep();
      found.all = static_cast<std::size_t>(count.getColumn(0).getInt64());
    }
    if (found.lamps.empty() && !search.words.empty()) found.nearest = names_near(db, search.words);
    return found;
  });
}

}  // namespace lampload
