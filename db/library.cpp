#include "db/library.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <pwd.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <string_view>
#include <utility>

#include "core/error.h"
#include "core/lamp/label.h"
#include "db/capture_rows.h"
#include "db/channel_file.h"
#include "db/comparison_rows.h"
#include "db/fit_rows.h"
#include "db/free_name.h"
#include "db/library_impl.h"
#include "db/nearest.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/screening_rows.h"
#include "db/statement.h"

namespace lampload {
namespace {

constexpr const char* now_utc = "strftime('%Y-%m-%dT%H:%M:%SZ', 'now')";

void check_name(const std::string& name, const char* what) {
  if (name.empty() || name.size() > longest_name) {
    throw Error(ErrorCode::input_refused, fmt::format("the name of a {} must have 1 to {} bytes, this one has {}", what,
                                                      longest_name, name.size()));
  }
  for (const char c : name) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) {
      throw Error(ErrorCode::input_refused, fmt::format("the name of a {} must not hold control characters", what));
    }
  }
}

void check_sample(const std::string& label) {
  if (!label.empty()) check_name(label, "sample");
}

// What the list shows of a lamp type is worked out here once, at each change, from its captures and fits.
constexpr const char* refresh_summary = R"(
  UPDATE lamp_types SET
    family = coalesce(newest.family, ''), load_law = coalesce(newest.load_law, ''),
    power_w = measured.power_w, voltage_rms_v = measured.voltage_rms_v,
    captures = (SELECT count(*) FROM captures WHERE lamp_type_id = lamp_types.id),
    fits = (SELECT count(*) FROM fits WHERE lamp_type_id = lamp_types.id AND type_fit_id IS NULL),
    received = CASE WHEN last.id IS NULL THEN EXISTS (SELECT 1 FROM received_lamps WHERE lamp_type_id = ?1)
                    ELSE EXISTS (SELECT 1 FROM received_lamps WHERE fit_id = last.id) OR
                         EXISTS (SELECT 1 FROM fit_captures JOIN captures ON captures.id = capture_id
                                 WHERE fit_captures.fit_id = last.id AND captures.received) END
  FROM (SELECT 1)
    LEFT JOIN (SELECT max(id) AS id FROM fits WHERE lamp_type_id = ?1 AND type_fit_id IS NULL) last
    LEFT JOIN (SELECT family, load_law FROM fits WHERE lamp_type_id = ?1 AND accepted AND type_fit_id IS NULL
               ORDER BY id DESC LIMIT 1) newest
    LEFT JOIN (SELECT coalesce((figures ->> '$.direct.on_voltage_v') * (figures ->> '$.direct.on_current_a'),
                               figures ->> '$.active_power_w') AS power_w,
                      coalesce(figures ->> '$.direct.on_voltage_v', figures ->> '$.voltage_rms_v') AS voltage_rms_v
               FROM captures WHERE lamp_type_id = ?1
               ORDER BY figures ->> '$.cut.conduction_angle_deg' DESC, figures ->> '$.turn_on' IS NOT NULL, id DESC
               LIMIT 1) measured
  WHERE lamp_types.id = ?1)";

void check_label(const Nominal& nominal) {
  const auto refuse = [](const std::string& fault) {
    if (!fault.empty()) throw Error(ErrorCode::input_refused, fault);
  };
  if (nominal.base) refuse(fault_of_base(*nominal.base));
  if (nominal.technology) refuse(fault_of_technology(*nominal.technology));
}

std::int64_t upsert_lamp_type(SQLite::Database& db, const std::string& name, const Nominal& nominal) {
  SQLite::Statement upsert(db, fmt::format(R"(
    INSERT INTO lamp_types (name, nominal_voltage_v, nominal_frequency_hz, rated_power_w, cold_resistance_ohm,
                            label_dimmable, base, technology, changed_utc)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, {0})
    ON CONFLICT (name) DO UPDATE SET
      nominal_voltage_v = coalesce(excluded.nominal_voltage_v, nominal_voltage_v),
      nominal_frequency_hz = coalesce(excluded.nominal_frequency_hz, nominal_frequency_hz),
      rated_power_w = coalesce(excluded.rated_power_w, rated_power_w),
      cold_resistance_ohm = coalesce(excluded.cold_resistance_ohm, cold_resistance_ohm),
      label_dimmable = coalesce(excluded.label_dimmable, label_dimmable), base = coalesce(excluded.base, base),
      technology = coalesce(excluded.technology, technology), changed_utc = {0})",
                                           now_utc));
  Bind{upsert}(name)(nominal.voltage_v)(nominal.frequency_hz)(nominal.rated_power_w)(nominal.cold_resistance_ohm)(
      nominal.label_dimmable)(nominal.base)(nominal.technology);
  upsert.exec();
  SQLite::Statement select(db, "SELECT id FROM lamp_types WHERE name = ?");
  Bind{select}(name);
  select.executeStep();
  return select.getColumn(0).getInt64();
}

/// A table that is given takes the place of the stored one.
void store_dc_points(SQLite::Database& db, std::int64_t lamp_type, const std::vector<DcPoint>& points) {
  if (points.empty()) return;
  SQLite::Statement clear(db, "DELETE FROM dc_points WHERE lamp_type_id = ?");
  Bind{clear}(lamp_type);
  clear.exec();
  SQLite::Statement insert(db, "INSERT INTO dc_points VALUES (?, ?, ?, ?, ?)");
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isfinite(points[i].voltage_v) || !std::isfinite(points[i].current_a)) {
      throw Error(ErrorCode::input_refused, fmt::format("point {} of the DC table is not finite", i + 1));
    }
    Bind{insert}(lamp_type)(static_cast<std::int64_t>(i))(points[i].voltage_v)(points[i].current_a)(
        points[i].uncertainty_a);
    insert.exec();
    insert.reset();
  }
}

std::vector<DcPoint> dc_points_of(SQLite::Database& db, std::int64_t lamp_type) {
  SQLite::Statement select(
      db, "SELECT voltage_v, current_a, uncertainty_a FROM dc_points WHERE lamp_type_id = ? ORDER BY position");
  Bind{select}(lamp_type);
  std::vector<DcPoint> points;
  while (select.executeStep()) {
    DcPoint& point = points.emplace_back();
    Row{select}(point.voltage_v)(point.current_a)(point.uncertainty_a);
  }
  return points;
}

std::vector<std::string> all_names(SQLite::Database& db, const char* table) {
  SQLite::Statement select(db, fmt::format("SELECT name FROM {} ORDER BY name", table));
  std::vector<std::string> names;
  while (select.executeStep()) names.push_back(select.getColumn(0).getString());
  return names;
}

Error not_found(SQLite::Database& db, const std::string& path, const char* table, const char* what,
                const std::string& name) {
  return {ErrorCode::not_found,
          fmt::format("no {} '{}' in the library; {}", what, name,
                      nearest_sentence(name, all_names(db, table), fmt::format("it holds no {} yet", what))),
          Place{.file = path}};
}

std::string home_folder() {
  if (const char* home = std::getenv("HOME"); home != nullptr && *home != '\0') return home;
  if (const passwd* entry = ::getpwuid(::getuid()); entry != nullptr) return entry->pw_dir;
  throw Error(ErrorCode::library, "no home folder is known for the library", {}, "Name a file with --library");
}

}  // namespace

const StoredCapture* least_cut(std::span<const StoredCapture> captures) {
  const auto open =
      std::max_element(captures.begin(), captures.end(),
                       [](const StoredCapture& a, const StoredCapture& b) { return less_open(a.figures, b.figures); });
  return open == captures.end() ? nullptr : &*open;
}

bool same_recording(const StoredCapture& a, const StoredCapture& b) {
  return a.sha256 == b.sha256 && a.options.voltage_column == b.options.voltage_column &&
         a.options.current_column == b.options.current_column;
}

Library::Library(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Library::Library(Library&&) noexcept = default;
Library& Library::operator=(Library&&) noexcept = default;
Library::~Library() = default;

Library Library::open(const std::string& path, Access access) {
  return Library(std::make_unique<Impl>(Impl{path, schema::open(path, access)}));
}

Library Library::in_memory() { return Library(std::make_unique<Impl>(Impl{"", schema::in_memory()})); }

std::string Library::default_path() {
  // A relative XDG path is to be ignored, says the base directory specification.
  const char* data = std::getenv("XDG_DATA_HOME");
  const std::filesystem::path base = data != nullptr && std::filesystem::path(data).is_absolute()
                                         ? std::filesystem::path(data)
                                         : std::filesystem::path(home_folder()) / ".local" / "share";
  return (base / "lampload" / "library.db").string();
}

int Library::schema_version() { return static_cast<int>(schema::migrations().size()); }

std::int64_t rows::store_lamp(SQLite::Database& db, const std::string& lamp, const Nominal& nominal,
                              const std::vector<StoredCapture>& captures, const std::optional<StoredFit>& fit) {
  check_name(lamp, "lamp");
  check_label(nominal);
  const std::int64_t lamp_type = upsert_lamp_type(db, lamp, nominal);
  store_dc_points(db, lamp_type, nominal.dc_points);
  std::optional<StoredFit> made = fit;
  for (const StoredCapture& capture : captures) {
    check_sample(capture.sample);
    const std::int64_t id = rows::store_capture(db, lamp_type, capture);
    if (!made) continue;
    made->capture_ids.push_back(id);
    for (StoredFit& of_sample : made->samples) {
      if (of_sample.sample == capture.sample) of_sample.capture_ids.push_back(id);
    }
  }
  if (made) {
    const std::int64_t id = rows::store_fit(db, lamp_type, *made);
    rows::store_screening(db, lamp_type, id, made->accepted ? made->screening : std::nullopt);
  }
  rows::refresh_lamp(db, lamp_type);
  return lamp_type;
}

void rows::store_channel(SQLite::Database& db, const Channel& channel) {
  check_name(channel.name, "channel");
  const std::string description = channel_json(channel);
  parse_channel(description, channel.name);  // what could not be read back is refused here
  SQLite::Statement upsert(db, fmt::format(R"(
    INSERT INTO channels (name, description, changed_utc) VALUES (?, ?, {0})
    ON CONFLICT (name) DO UPDATE SET description = excluded.description, changed_utc = {0})",
                                           now_utc));
  Bind{upsert}(channel.name)(description);
  upsert.exec();
}

void rows::refresh_lamp(SQLite::Database& db, std::int64_t lamp_type) {
  SQLite::Statement refresh(db, refresh_summary);
  Bind{refresh}(lamp_type);
  refresh.exec();
}

std::int64_t Library::store(const std::string& lamp, const Nominal& nominal, const std::vector<StoredCapture>& captures,
                            const std::optional<StoredFit>& fit, const std::optional<Channel>& channel) {
  return schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(impl_->db, SQLite::TransactionBehavior::IMMEDIATE);
    const std::int64_t lamp_type = rows::store_lamp(impl_->db, lamp, nominal, captures, fit);
    if (channel) rows::store_channel(impl_->db, *channel);
    transaction.commit();
    return lamp_type;
  });
}

std::vector<LampScreening> Library::screening() const {
  std::vector<LampScreening> all;
  screening([&](const std::vector<LampScreening>& some) { all.insert(all.end(), some.begin(), some.end()); });
  std::sort(all.begin(), all.end(), [](const LampScreening& a, const LampScreening& b) { return a.lamp < b.lamp; });
  return all;
}

void Library::screening(const std::function<void(const std::vector<LampScreening>&)>& take) const {
  schema::guarded(impl_->path, [&] { rows::screening(impl_->db, take); });
}

LampRecord rows::read_lamp(SQLite::Database& db, const std::string& path, const std::string& name, bool with_samples) {
  SQLite::Statement select(
      db,
      "SELECT id, name, notes, nominal_voltage_v, nominal_frequency_hz, rated_power_w, "
      "cold_resistance_ohm, label_dimmable, base, technology, fits FROM lamp_types WHERE name = ?");
  Bind{select}(name);
  if (!select.executeStep()) throw not_found(db, path, "lamp_types", "lamp", name);
  LampRecord record;
  Row{select}(record.id)(record.name)(record.notes)(record.nominal.voltage_v)(record.nominal.frequency_hz)(
      record.nominal.rated_power_w)(record.nominal.cold_resistance_ohm)(record.nominal.label_dimmable)(
      record.nominal.base)(record.nominal.technology)(record.fits);
  record.nominal.dc_points = dc_points_of(db, record.id);
  record.captures = rows::captures_of(db, record.id, with_samples);
  record.fit = rows::newest_fit(db, record.id);
  record.comparisons = rows::comparisons_of(db, record.id);
  rows::read_origin(db, record);
  return record;
}

LampRecord Library::lamp(const std::string& name, bool with_samples) const {
  return schema::guarded(impl_->path, [&] {
    // One view of the file for all the reads below.
    SQLite::Transaction view(impl_->db);
    return rows::read_lamp(impl_->db, impl_->path, name, with_samples);
  });
}

void Library::store_comparisons(const std::string& lamp, const std::vector<StoredComparison>& comparisons) {
  SQLite::Database& db = impl_->db;
  schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement select(db, R"(
      SELECT id, (SELECT max(id) FROM fits WHERE lamp_type_id = lamp_types.id AND type_fit_id IS NULL)
      FROM lamp_types WHERE name = ?)");
    Bind{select}(lamp);
    if (!select.executeStep()) throw not_found(db, impl_->path, "lamp_types", "lamp", lamp);
    std::int64_t lamp_type = 0;
    std::optional<std::int64_t> fit;
    Row{select}(lamp_type)(fit);
    if (!fit) throw Error(ErrorCode::input_refused, fmt::format("lamp '{}' has no fit to compare with", lamp));
    for (const StoredComparison& one : comparisons) rows::store_comparison(db, lamp_type, *fit, one);
    transaction.commit();
  });
}

namespace {

/// By the options that set them.
constexpr std::array<std::pair<std::string_view, std::string_view>, 7> label_columns = {{
    {"nominal-voltage", "nominal_voltage_v"},
    {"nominal-frequency", "nominal_frequency_hz"},
    {"rated-power", "rated_power_w"},
    {"cold-resistance", "cold_resistance_ohm"},
    {"label-dimmable", "label_dimmable"},
    {"base", "base"},
    {"technology", "technology"},
}};
constexpr std::string_view dc_table_word = "dc-table";

}  // namespace

std::vector<std::string> Library::label_words() {
  std::vector<std::string> words;
  for (const auto& [word, column] : label_columns) words.emplace_back(word);
  words.emplace_back(dc_table_word);
  return words;
}

void Library::forget_label(const std::string& lamp, const std::vector<std::string>& words) {
  SQLite::Database& db = impl_->db;
  schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement select(db, "SELECT id FROM lamp_types WHERE name = ?");
    Bind{select}(lamp);
    if (!select.executeStep()) throw not_found(db, impl_->path, "lamp_types", "lamp", lamp);
    const std::int64_t id = select.getColumn(0).getInt64();
    select.reset();
    for (const std::string& word : words) {
      const auto column = std::find_if(label_columns.begin(), label_columns.end(),
                                       [&](const auto& entry) { return entry.first == word; });
      if (column == label_columns.end() && word != dc_table_word) {
        throw Error(ErrorCode::usage, fmt::format("'{}' is nothing that a label says", word), {},
                    fmt::format("Name one of {}", fmt::join(label_words(), ", ")));
      }
      SQLite::Statement forget(db, column != label_columns.end()
                                       ? fmt::format("UPDATE lamp_types SET {} = NULL WHERE id = ?", column->second)
                                       : std::string("DELETE FROM dc_points WHERE lamp_type_id = ?"));
      Bind{forget}(id);
      forget.exec();
    }
    SQLite::Statement changed(db, fmt::format("UPDATE lamp_types SET changed_utc = {} WHERE id = ?", now_utc));
    Bind{changed}(id);
    changed.exec();
    transaction.commit();
  });
}

void Library::remove_lamp(const std::string& name) {
  SQLite::Database& db = impl_->db;
  schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    SQLite::Statement remove(db, "DELETE FROM lamp_types WHERE name = ?");
    Bind{remove}(name);
    if (remove.exec() == 0) throw not_found(db, impl_->path, "lamp_types", "lamp", name);
    transaction.commit();
  });
}

void Library::store_channel(const Channel& channel) {
  schema::guarded(impl_->path, [&] { rows::store_channel(impl_->db, channel); });
}

std::vector<Channel> Library::channels() const {
  return schema::guarded(impl_->path, [&] {
    SQLite::Statement select(impl_->db, "SELECT name, description FROM channels ORDER BY name");
    std::vector<Channel> list;
    while (select.executeStep()) {
      list.push_back(parse_channel(select.getColumn(1).getString(), select.getColumn(0).getString()));
    }
    return list;
  });
}

Channel Library::channel(const std::string& name) const {
  return schema::guarded(impl_->path, [&] {
    SQLite::Statement select(impl_->db, "SELECT description FROM channels WHERE name = ?");
    Bind{select}(name);
    if (!select.executeStep()) throw not_found(impl_->db, impl_->path, "channels", "channel", name);
    return parse_channel(select.getColumn(0).getString(), name);
  });
}

void Library::remove_channel(const std::string& name) {
  SQLite::Database& db = impl_->db;
  schema::guarded(impl_->path, [&] {
    SQLite::Statement remove(db, "DELETE FROM channels WHERE name = ?");
    Bind{remove}(name);
    if (remove.exec() == 0) throw not_found(db, impl_->path, "channels", "channel", name);
  });
}

}  // namespace lampload
