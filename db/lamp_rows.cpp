#include "db/lamp_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <memory>
#include <optional>
#include <string_view>
#include <vector>

#include "db/digest.h"
#include "db/statement.h"

namespace lampload::rows {

/// A column that holds the id of a row of another table.
struct Reference {
  std::string_view column;
  std::string_view table;
};

/// Which rows of a table are a lamp type's (?1).
struct TableOfLamp {
  std::string_view name;
  std::string_view which;
  std::array<Reference, 2> references = {};
};

namespace {

constexpr std::string_view of_lamp = "lamp_type_id = ?1";
constexpr std::string_view of_fit = "fit_id IN (SELECT id FROM fits WHERE lamp_type_id = ?1)";
constexpr std::string_view of_comparison = "comparison_id IN (SELECT id FROM comparisons WHERE lamp_type_id = ?1)";
constexpr Reference to_lamp = {"lamp_type_id", "lamp_types"};
constexpr Reference to_fit = {"fit_id", "fits"};

/// What is referred to comes first. A test holds the list against the schema.
constexpr std::array tables_of_lamp = {
    TableOfLamp{"dc_points", of_lamp, {to_lamp}},
    TableOfLamp{"samples", of_lamp, {to_lamp}},
    TableOfLamp{"captures", of_lamp, {to_lamp, Reference{"sample_id", "samples"}}},
    TableOfLamp{"fits", of_lamp, {to_lamp, Reference{"type_fit_id", "fits"}}},
    TableOfLamp{"fit_rivals", of_fit, {to_fit}},
    TableOfLamp{"fit_spreads", of_fit, {to_fit}},
    TableOfLamp{"fit_captures", of_fit, {to_fit, Reference{"capture_id", "captures"}}},
    TableOfLamp{"screening", of_lamp, {to_lamp, to_fit}},
    TableOfLamp{"received_lamps", of_lamp, {to_lamp, to_fit}},
    TableOfLamp{"comparisons", of_lamp, {to_lamp, to_fit}},
    TableOfLamp{"comparison_values", of_comparison, {Reference{"comparison_id", "comparisons"}}},
};

std::vector<std::string> columns_of(SQLite::Database& db, std::string_view table) {
  SQLite::Statement select(db, fmt::format("SELECT name FROM pragma_table_info('{}')", table));
  std::vector<std::string> names;
  while (select.executeStep()) names.push_back(select.getColumn(0).getString());
  return names;
}

std::string joined(const std::vector<std::string>& names) {
  std::string text;
  for (const std::string& name : names) text += (text.empty() ? "" : ", ") + name;
  return text;
}

/// Ids of one library to those of the other, table by table.
using NewIds = std::map<std::string_view, std::map<std::int64_t, std::int64_t>>;

std::string_view referred_table(const TableOfLamp& table, std::string_view column) {
  for (const Reference& one : table.references) {
    if (one.column == column) return one.table;
  }
  return {};
}

std::string rows_sql(const TableOfLamp& table, const std::vector<std::string>& columns) {
  const bool numbered = columns.front() == "id";
  return fmt::format("SELECT {} FROM {} WHERE {}{}", joined(columns), table.name, table.which,
                     numbered ? " ORDER BY id" : "");
}

std::string insert_sql(std::string_view table, const std::vector<std::string>& columns) {
  std::string marks;
  for (std::size_t c = 0; c < columns.size(); ++c) marks += c == 0 ? "?" : ", ?";
  return fmt::format("INSERT INTO {} ({}) VALUES ({})", table, joined(columns), marks);
}

constexpr TableOfLamp lamp_itself = {"lamp_types", "id = ?1"};

}  // namespace

struct LampCopier::Prepared {
  Prepared(SQLite::Database& from, SQLite::Database& to, const TableOfLamp& which)
      : table(which),
        columns(columns_of(to, which.name)),
        select(from, rows_sql(which, columns)),
        insert(to, insert_sql(which.name, columns)) {}

  /// `put` binds a column in a way of its own, and says so.
  template <class Put>
  void copy(std::int64_t lamp_type, SQLite::Database& to, NewIds& ids, Put put) {
    select.reset();
    Bind{select}(lamp_type);
    while (select.executeStep()) {
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const int place = static_cast<int>(c) + 1;
        const SQLite::Column value = select.getColumn(static_cast<int>(c));
        const std::string_view referred = referred_table(table, columns[c]);
        if (put(columns[c], place)) continue;
        if (columns[c] == "id") {
          insert.bind(place);  // the next one that is free
        } else if (!referred.empty() && !value.isNull()) {
          insert.bind(place, ids.at(referred).at(value.getInt64()));
        } else {
          bind_as_it_is(insert, place, value);
        }
      }
      insert.exec();
      if (columns.front() == "id") ids[table.name][select.getColumn(0).getInt64()] = to.getLastInsertRowid();
      insert.reset();
    }
  }

  const TableOfLamp& table;
  std::vector<std::string> columns;
  SQLite::Statement select;
  SQLite::Statement insert;
};

LampCopier::LampCopier(SQLite::Database& from, SQLite::Database& to) : to_(to) {
  prepared_.push_back(std::make_unique<Prepared>(from, to, lamp_itself));
  for (const TableOfLamp& table : tables_of_lamp) prepared_.push_back(std::make_unique<Prepared>(from, to, table));
}

LampCopier::~LampCopier() = default;

std::int64_t LampCopier::copy(std::int64_t lamp_type, const std::string& name) {
  NewIds ids;
  for (const auto& one : prepared_) {
    one->copy(lamp_type, to_, ids, [&](const std::string& column, int place) {
      if (&one->table != &lamp_itself) return false;
      if (column == "name") one->insert.bind(place, name);
      if (column == "superseded_by") one->insert.bind(place);
      return column == "name" || column == "superseded_by";
    });
  }
  return ids.at(lamp_itself.name).at(lamp_type);
}

std::string digest_of_rows(SQLite::Database& db, std::int64_t lamp_type) {
  constexpr std::array<std::string_view, 5> apart = {"id", "name", "changed_utc", "superseded_by", "superseded_utc"};
  std::string all;
  const auto add = [&](const TableOfLamp& table) {
    const std::vector<std::string> columns = columns_of(db, table.name);
    SQLite::Statement select(db, rows_sql(table, columns));
    Bind{select}(lamp_type);
    while (select.executeStep()) {
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const bool left_out = table.name == lamp_itself.name
                                  ? std::find(apart.begin(), apart.end(), columns[c]) != apart.end()
                                  : columns[c] == "id" || !referred_table(table, columns[c]).empty();
        if (left_out) continue;
        const SQLite::Column value = select.getColumn(static_cast<int>(c));
        const std::string bytes(static_cast<const char*>(value.getBlob()), static_cast<std::size_t>(value.getBytes()));
        all += fmt::format("{}.{}:{}:", table.name, columns[c], bytes.size()) + bytes;
      }
    }
  };
  add(lamp_itself);
  for (const TableOfLamp& table : tables_of_lamp) add(table);
  return sha256_hex(all);
}

}  // namespace lampload::rows
