#include "cli/measuring.h"

#include <fmt/format.h>
#include <pwd.h>
#include <unistd.h>

#include <array>
#include <ctime>

#include "cli/quantity.h"
#include "cli/version.h"
#include "core/capture/read.h"
#include "core/error.h"
#include "db/digest.h"

namespace lampload {
namespace {

std::string login_name() {
  std::array<char, 4096> buffer{};
  passwd entry{};
  passwd* found = nullptr;
  if (getpwuid_r(geteuid(), &entry, buffer.data(), buffer.size(), &found) == 0 && found != nullptr) {
    return found->pw_name;
  }
  return "user " + std::to_string(geteuid());
}

std::string time_now_utc() {
  const std::time_t now = std::time(nullptr);
  std::tm utc{};
  gmtime_r(&now, &utc);
  std::array<char, 32> text{};
  const std::size_t length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &utc);
  return {text.data(), length};
}

/// Of the file; of two files of one measurement, of their digests one after the other.
std::string digest_of(const std::string& capture) {
  const std::vector<std::string> files = files_of_capture(capture);
  if (files.size() == 1) return sha256_of_file(files.front());
  std::string digests;
  for (const std::string& file : files) digests += sha256_of_file(file);
  return sha256_hex(digests);
}

}  // namespace

void assign_samples(std::vector<StoredCapture>& captures, const std::string& label,
                    const std::optional<LampRecord>& stored) {
  for (StoredCapture& capture : captures) {
    capture.sample = label.empty() ? first_sample : label;
    if (!label.empty() || !stored) continue;
    for (const StoredCapture& old : stored->captures) {
      if (same_recording(old, capture)) capture.sample = old.sample;
    }
  }
}

Provenance provenance_now(const std::string& instrument) {
  return {login_name(), time_now_utc(), instrument, program_version};
}

std::vector<StoredCapture> read_and_measure(const CaptureArguments& arguments, Telling telling) {
  Progress progress("reading", telling);
  const Provenance provenance = provenance_now(arguments.instrument);
  std::vector<StoredCapture> measured;
  for (const std::string& file : arguments.files) {
    StoredCapture stored;
    stored.capture = read_capture(file, arguments.options);
    stored.options = arguments.options;
    stored.figures = measure(stored.capture, arguments.nominal);
    stored.sha256 = digest_of(file);
    stored.provenance = provenance;
    progress.note(fmt::format("{}: {} ({}); {} samples, one every {}", file, stored.capture.form.name,
                              stored.capture.form.reason, stored.capture.samples(),
                              quantity(stored.capture.sample_interval_s, "s", 4)));
    measured.push_back(std::move(stored));
    progress.show(static_cast<double>(measured.size()) / static_cast<double>(arguments.files.size()));
  }
  return measured;
}

std::optional<LampRecord> lamp_if_stored(const std::string& lamp, const LibraryOption& library) {
  if (library.holds_nothing_yet()) return std::nullopt;
  try {
    return Library::open(library.path(), Library::Access::read_only).lamp(lamp);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::not_found) throw;
    return std::nullopt;
  }
}

Nominal merged(Nominal stored, const Nominal& given) {
  if (given.voltage_v) stored.voltage_v = given.voltage_v;
  if (given.frequency_hz) stored.frequency_hz = given.frequency_hz;
  if (given.rated_power_w) stored.rated_power_w = given.rated_power_w;
  if (given.cold_resistance_ohm) stored.cold_resistance_ohm = given.cold_resistance_ohm;
  if (given.label_dimmable) stored.label_dimmable = given.label_dimmable;
  if (given.base) stored.base = given.base;
  if (given.technology) stored.technology = given.technology;
  if (!given.dc_points.empty()) stored.dc_points = given.dc_points;
  return stored;
}

std::vector<Figures> figures_of(const std::vector<StoredCapture>& captures) {
  std::vector<Figures> figures;
  for (const StoredCapture& stored : captures) figures.push_back(stored.figures);
  return figures;
}

}  // namespace lampload
