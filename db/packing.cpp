#include "db/packing.h"

#include <fmt/format.h>
#include <sqlite3.h>
#include <zstd.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <map>
#include <memory>
#include <utility>

#include "core/error.h"
#include "db/dictionaries.h"
#include "db/waveform_blob.h"

namespace lampload::packing {
namespace {

constexpr int text_level = 12;  // higher ones gain a twentieth and take ten times as long
constexpr int array_level = 19;
constexpr int migration_level = 9;              // a hundred thousand lamps at once
constexpr std::size_t most_bytes = 64U << 20U;  // a damaged frame must not ask for any amount
constexpr std::size_t width = sizeof(float);

using Compressor = std::unique_ptr<ZSTD_CCtx, decltype(&ZSTD_freeCCtx)>;
using Decompressor = std::unique_ptr<ZSTD_DCtx, decltype(&ZSTD_freeDCtx)>;

std::size_t sound(std::size_t result) {
  if (ZSTD_isError(result) != 0) {
    throw Error(ErrorCode::library, fmt::format("a packed part of a fit is damaged: {}", ZSTD_getErrorName(result)));
  }
  return result;
}

std::string packed(std::string_view bytes, int level, const ZSTD_CDict* dictionary = nullptr) {
  if (bytes.empty()) return {};
  if (bytes.size() > most_bytes) {
    throw Error(ErrorCode::input_refused,
                fmt::format("a part of the fit has {} bytes, too many to keep", bytes.size()));
  }
  thread_local const Compressor context(ZSTD_createCCtx(), &ZSTD_freeCCtx);
  ZSTD_CCtx_reset(context.get(), ZSTD_reset_session_and_parameters);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_checksumFlag, 1);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_compressionLevel, level);
  ZSTD_CCtx_refCDict(context.get(), dictionary);
  std::string frame(ZSTD_compressBound(bytes.size()), '\0');
  frame.resize(sound(ZSTD_compress2(context.get(), frame.data(), frame.size(), bytes.data(), bytes.size())));
  return frame;
}

std::string unpacked(std::string_view frame, const ZSTD_DDict* dictionary) {
  if (frame.empty()) return {};
  const unsigned long long size = ZSTD_getFrameContentSize(frame.data(), frame.size());
  if (size > most_bytes) {
    throw Error(ErrorCode::library, "a packed part of a fit is damaged: it does not say how long it is");
  }
  thread_local const Decompressor context(ZSTD_createDCtx(), &ZSTD_freeDCtx);
  std::string bytes(size, '\0');
  ZSTD_DCtx_reset(context.get(), ZSTD_reset_session_and_parameters);
  ZSTD_DCtx_refDDict(context.get(), dictionary);
  if (sound(ZSTD_decompressDCtx(context.get(), bytes.data(), bytes.size(), frame.data(), frame.size())) != size) {
    throw Error(ErrorCode::library, "a packed part of a fit is damaged: it is too short");
  }
  return bytes;
}

/// A dictionary made ready for both ways.
class Dictionary {
 public:
  explicit Dictionary(std::string_view text)
      : pack_(ZSTD_createCDict(text.data(), text.size(), text_level), &ZSTD_freeCDict),
        read_(ZSTD_createDDict(text.data(), text.size()), &ZSTD_freeDDict) {}
  [[nodiscard]] const ZSTD_CDict* to_pack() const { return pack_.get(); }
  [[nodiscard]] const ZSTD_DDict* to_read() const { return read_.get(); }

 private:
  std::unique_ptr<ZSTD_CDict, decltype(&ZSTD_freeCDict)> pack_;
  std::unique_ptr<ZSTD_DDict, decltype(&ZSTD_freeDDict)> read_;
};

const Dictionary& of_reports() {
  static const Dictionary dictionary(report_dictionary());
  return dictionary;
}

const Dictionary& of_estimates() {
  static const Dictionary dictionary(estimates_dictionary());
  return dictionary;
}

/// To 16 binary digits: the lowest 8 of a float32's 24 become zero, which takes no room.
std::uint32_t rounded_bits(double value) {
  const auto single = static_cast<float>(value);
  if (!std::isfinite(single)) throw Error(ErrorCode::input_refused, "a figure for screening is not finite");
  const auto bits = std::bit_cast<std::uint32_t>(single);
  return (bits + 0x80U) & ~0xFFU;
}

/// An SQL function of one text or blob, whose result is a blob.
template <std::string (*pack)(std::string_view)>
void pack_one(sqlite3_context* context, int, sqlite3_value** values) {
  try {
    const void* bytes = sqlite3_value_blob(values[0]);
    const auto size = static_cast<std::size_t>(sqlite3_value_bytes(values[0]));
    const std::string frame = pack({static_cast<const char*>(bytes), size});
    sqlite3_result_blob(context, frame.data(), static_cast<int>(frame.size()), SQLITE_TRANSIENT);
  } catch (const std::exception& fault) {
    sqlite3_result_error(context, fault.what(), -1);
  }
}

std::string text_of(sqlite3_value* value) {
  const auto* text = reinterpret_cast<const char*>(sqlite3_value_text(value));
  return {text, static_cast<std::size_t>(sqlite3_value_bytes(value))};
}

/// The rows of one fit as they come, by kind and position.
using Rows = std::map<std::string, std::map<std::int64_t, StoredEstimate>>;

void take_estimate(sqlite3_context* context, int, sqlite3_value** values) {
  auto** rows = static_cast<Rows**>(sqlite3_aggregate_context(context, sizeof(Rows*)));
  if (rows == nullptr) return sqlite3_result_error_nomem(context);
  if (*rows == nullptr) *rows = new Rows;
  StoredEstimate& one = (**rows)[text_of(values[0])][sqlite3_value_int64(values[1])];
  one.name = text_of(values[2]);
  one.unit = text_of(values[3]);
  one.value = sqlite3_value_double(values[4]);
  one.standard_uncertainty = sqlite3_value_double(values[5]);
  one.lower_95 = sqlite3_value_double(values[6]);
  one.upper_95 = sqlite3_value_double(values[7]);
  one.identified = sqlite3_value_int(values[8]) != 0;
  one.remark = text_of(values[9]);
}

void pack_estimates(sqlite3_context* context) {
  auto** held = static_cast<Rows**>(sqlite3_aggregate_context(context, 0));
  const std::unique_ptr<Rows> rows(held != nullptr ? std::exchange(*held, nullptr) : nullptr);
  FitEstimates estimates;
  if (rows != nullptr) {
    for (auto& [position, one] : (*rows)["parameter"]) estimates.parameters.push_back(std::move(one));
    for (auto& [position, one] : (*rows)["derived"]) estimates.derived.push_back(std::move(one));
  }
  try {
    const std::string frame = packed_estimates(estimates);
    sqlite3_result_blob(context, frame.data(), static_cast<int>(frame.size()), SQLITE_TRANSIENT);
  } catch (const std::exception& fault) {
    sqlite3_result_error(context, fault.what(), -1);
  }
}

/// Rounded to 16 binary digits, the bytes sorted by place.
std::string planes_of(std::span<const double> values) {
  std::string planes(values.size() * width, '\0');
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::uint32_t bits = rounded_bits(values[i]);
    for (std::size_t place = 0; place < width; ++place) {
      planes[place * values.size() + i] = static_cast<char>(static_cast<std::uint8_t>(bits >> (8 * place)));
    }
  }
  return planes;
}

std::string packed_bytes(std::string_view bytes) { return packed(bytes, migration_level); }
std::string packed_plain_screening(std::string_view bytes) {
  return packed(planes_of(blob::from_plain(bytes)), migration_level);
}

}  // namespace

std::string packed_report(std::string_view text) { return packed(text, text_level, of_reports().to_pack()); }

std::string report_of(std::string_view frame) { return unpacked(frame, of_reports().to_read()); }

std::string packed_estimates(const FitEstimates& estimates) {
  return packed(estimates_to_json(estimates), text_level, of_estimates().to_pack());
}

FitEstimates estimates_of(std::string_view frame) {
  return estimates_from_json(unpacked(frame, of_estimates().to_read()));
}

std::string packed_covariance(std::span<const double> values) { return packed(blob::plain(values), array_level); }

std::vector<double> covariance_of(std::string_view frame) { return blob::from_plain(unpacked(frame, nullptr)); }

std::string packed_screening(std::span<const double> values) { return packed(planes_of(values), array_level); }

std::vector<double> screening_of(std::string_view frame) {
  const std::string planes = unpacked(frame, nullptr);
  std::vector<double> values(planes.size() / width);
  for (std::size_t i = 0; i < values.size(); ++i) {
    std::uint32_t bits = 0;
    for (std::size_t place = 0; place < width; ++place) {
      bits |= static_cast<std::uint32_t>(static_cast<std::uint8_t>(planes[place * values.size() + i])) << (8 * place);
    }
    values[i] = static_cast<double>(std::bit_cast<float>(bits));
  }
  return values;
}

void add_functions(SQLite::Database& db) {
  db.createFunction("packed_report_1", 1, true, nullptr, &pack_one<packed_report>);
  db.createFunction("packed_bytes_1", 1, true, nullptr, &pack_one<packed_bytes>);
  db.createFunction("packed_screening_1", 1, true, nullptr, &pack_one<packed_plain_screening>);
  db.createFunction("packed_estimates_1", 10, true, nullptr, nullptr, &take_estimate, &pack_estimates);
}

}  // namespace lampload::packing
