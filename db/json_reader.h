#pragma once
// Checked reading of JSON documents: text to a tree with limits, and objects whose every key must be known.

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload::json {

using Json = nlohmann::ordered_json;

/// Of a file that people write by hand.
inline constexpr std::size_t usual_bytes = std::size_t{1} << 20U;

/// Parses text of at most `largest` bytes, at most `deepest` levels deep, without repeated keys and with at most 1000
/// keys in one object. Throws Error{input_refused} with the line and column of the fault.
Json parse(std::string_view text, const std::string& origin, int deepest = 8, std::size_t largest = usual_bytes);

/// The whole of a file; of a larger one nothing is read. Throws Error{input_refused}.
std::string read_file(const std::string& path, std::size_t largest = usual_bytes);

/// One object inside a document, with the path of its keys for error messages. Every fault throws
/// Error{input_refused}.
class Object {
 public:
  /// `path` is empty for the document itself.
  Object(const Json& json, std::string origin, std::string path);

  /// Refuses any key that is not in `known`.
  void allow_only(std::span<const std::string_view> known) const;
  [[nodiscard]] bool has(std::string_view key) const;
  /// The key is required by the functions below.
  [[nodiscard]] double number(std::string_view key, double lower, double upper) const;
  /// A whole number.
  [[nodiscard]] int whole(std::string_view key, double lower, double upper) const;
  [[nodiscard]] bool flag(std::string_view key) const;
  [[nodiscard]] std::string text(std::string_view key) const;
  /// Index of the text among the names allowed.
  [[nodiscard]] std::size_t choice(std::string_view key, std::span<const std::string_view> allowed) const;
  /// The same for a list of texts, none of them twice.
  [[nodiscard]] std::vector<std::size_t> choices(std::string_view key, std::span<const std::string_view> allowed) const;
  [[nodiscard]] Object object(std::string_view key) const;
  /// A list of objects, which may be empty.
  [[nodiscard]] std::vector<Object> objects(std::string_view key) const;
  /// A list of numbers; a list of such lists.
  [[nodiscard]] std::vector<double> numbers(std::string_view key, double lower, double upper) const;
  [[nodiscard]] std::vector<std::vector<double>> rows(std::string_view key, double lower, double upper) const;
  [[nodiscard]] const Json& json() const { return json_; }
  /// All its keys, in the order of the document.
  [[nodiscard]] std::vector<std::string> keys() const;

  /// To throw: a fault at this key.
  [[noreturn]] void refuse(std::string_view key, std::string message, std::string remedy = {}) const;

 private:
  [[nodiscard]] const Json& at(std::string_view key) const;
  [[nodiscard]] std::string path_of(std::string_view key) const;
  [[nodiscard]] std::vector<double> numbers_in(const Json& list, const std::string& key, double lower,
                                               double upper) const;
  std::size_t index_of(std::string_view key, const Json& value, std::span<const std::string_view> allowed) const;

  const Json& json_;
  std::string origin_;
  std::string path_;
};

}  // namespace lampload::json
