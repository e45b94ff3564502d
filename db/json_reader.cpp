#include "db/json_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <system_error>
#include <utility>

#include "core/error.h"
#include "db/nearest.h"

namespace lampload::json {
namespace {

constexpr std::size_t most_keys = 1000;  // looking for repeated ones takes time

Error refused(const std::string& origin, std::string message, std::string remedy = {}) {
  return {ErrorCode::input_refused, std::move(message), Place{.file = origin}, std::move(remedy)};
}

void check_size(std::size_t size, std::size_t largest, const std::string& origin) {
  if (size > largest) {
    throw refused(origin, fmt::format("is larger than {} MiB, the most such a file may have", largest >> 20U));
  }
}

std::string name_of(const Json& value) {
  if (value.is_null()) return "null";
  if (value.is_boolean()) return "true or false";
  return fmt::format("{} {}", value.is_array() || value.is_object() ? "an" : "a", value.type_name());
}

std::string listed(std::span<const std::string_view> names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    text += fmt::format("{}\"{}\"", i == 0 ? "" : i + 1 == names.size() ? " or " : ", ", names[i]);
  }
  return text;
}

Place place_of_byte(std::string_view text, std::size_t byte, const std::string& origin) {
  const std::string_view before = text.substr(0, std::min(byte > 0 ? byte - 1 : 0, text.size()));
  const auto line = static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n')) + 1;
  const std::size_t start = before.rfind('\n');
  const std::size_t column = before.size() - (start == std::string_view::npos ? 0 : start + 1) + 1;
  return {.file = origin, .line = line, .column = std::to_string(column)};
}

}  // namespace

Json parse(std::string_view text, const std::string& origin, int deepest, std::size_t largest) {
  check_size(text.size(), largest, origin);
  std::vector<std::set<std::string>> keys;
  const auto watch = [&](int depth, Json::parse_event_t event, Json& parsed) {
    if (depth > deepest) throw refused(origin, fmt::format("is nested more than {} levels deep", deepest));
    if (event == Json::parse_event_t::object_start) keys.emplace_back();
    if (event == Json::parse_event_t::object_end) keys.pop_back();
    if (event == Json::parse_event_t::key && !keys.back().insert(parsed.get<std::string>()).second) {
      throw refused(origin, fmt::format("key \"{}\" stands twice in one object", parsed.get<std::string>()),
                    "Keep one of them");
    }
    if (event == Json::parse_event_t::key && keys.back().size() > most_keys) {
      throw refused(origin, fmt::format("an object has more than {} keys", most_keys));
    }
    return true;
  };
  try {
    return Json::parse(text, watch);
  } catch (const nlohmann::json::parse_error& fault) {
    throw Error(ErrorCode::input_refused, "is not JSON: the text cannot be understood here",
                place_of_byte(text, fault.byte, origin), "Look for a missing or extra comma, quote or bracket");
  } catch (const nlohmann::json::exception& fault) {
    throw refused(origin, fmt::format("holds a number that is out of range ({})", fault.what()));
  }
}

std::string read_file(const std::string& path, std::size_t largest) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw refused(path, "cannot be read", "Check the name and the permissions");
  std::error_code unknown;
  const auto size = std::filesystem::file_size(path, unknown);
  if (!unknown) check_size(size, largest, path);
  // A pipe does not say its size, so it is read in pieces up to the limit.
  std::string text;
  std::array<char, 65536> piece{};
  while (file && text.size() <= largest) {
    file.read(piece.data(), piece.size());
    text.append(piece.data(), static_cast<std::size_t>(file.gcount()));
  }
  if (file.bad() || (!file.eof() && text.size() <= largest)) {
    throw refused(path, "cannot be read", "Check the name and the permissions");
  }
  check_size(text.size(), largest, path);
  return text;
}

Object::Object(const Json& json, std::string origin, std::string path)
    : json_(json), origin_(std::move(origin)), path_(std::move(path)) {
  if (json_.is_object()) return;
  throw Error(ErrorCode::input_refused, fmt::format("an object {{...}} was expected, here is {}", name_of(json_)),
              Place{.file = origin_, .key = path_});
}

std::string Object::path_of(std::string_view key) const {
  return path_.empty() ? std::string(key) : fmt::format("{}.{}", path_, key);
}

void Object::refuse(std::string_view key, std::string message, std::string remedy) const {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = origin_, .key = path_of(key)},
              std::move(remedy));
}

void Object::allow_only(std::span<const std::string_view> known) const {
  const std::vector<std::string> names(known.begin(), known.end());
  for (const auto& [key, value] : json_.items()) {
    if (std::find(known.begin(), known.end(), key) != known.end()) continue;
    refuse(key, "is not a known key; " + nearest_sentence(key, names, ""));
  }
}

bool Object::has(std::string_view key) const { return json_.contains(key); }

const Json& Object::at(std::string_view key) const {
  const auto found = json_.find(key);
  if (found == json_.end()) refuse(key, "is missing", "Add it; the format's page lists every key and its unit");
  return *found;
}

double Object::number(std::string_view key, double lower, double upper) const {
  const Json& value = at(key);
  if (!value.is_number()) refuse(key, fmt::format("a number was expected, here is {}", name_of(value)));
  const double number = value.get<double>();
  if (!(number >= lower && number <= upper)) {
    refuse(key, fmt::format("{} is outside {} to {}", number, lower, upper), "Check the unit in the name of the key");
  }
  return number;
}

int Object::whole(std::string_view key, double lower, double upper) const {
  const double value = number(key, lower, upper);
  if (value != std::floor(value)) refuse(key, fmt::format("a whole number was expected, here is {}", value));
  return static_cast<int>(value);
}

bool Object::flag(std::string_view key) const {
  const Json& value = at(key);
  if (!value.is_boolean()) refuse(key, fmt::format("true or false was expected, here is {}", name_of(value)));
  return value.get<bool>();
}

std::string Object::text(std::string_view key) const {
  const Json& value = at(key);
  if (!value.is_string()) refuse(key, fmt::format("a text was expected, here is {}", name_of(value)));
  return value.get<std::string>();
}

std::size_t Object::index_of(std::string_view key, const Json& value, std::span<const std::string_view> allowed) const {
  if (!value.is_string()) {
    refuse(key, fmt::format("{} was expected, here is {}", listed(allowed), name_of(value)));
  }
  const auto found = std::find(allowed.begin(), allowed.end(), value.get_ref<const std::string&>());
  if (found == allowed.end()) {
    refuse(key, fmt::format("{} was expected, here is \"{}\"", listed(allowed), value.get<std::string>()));
  }
  return static_cast<std::size_t>(found - allowed.begin());
}

std::size_t Object::choice(std::string_view key, std::span<const std::string_view> allowed) const {
  return index_of(key, at(key), allowed);
}

std::vector<std::size_t> Object::choices(std::string_view key, std::span<const std::string_view> allowed) const {
  const Json& list = at(key);
  if (!list.is_array()) {
    refuse(key, fmt::format("a list of {} was expected, here is {}", listed(allowed), name_of(list)));
  }
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < list.size(); ++i) {
    const std::string element = fmt::format("{}[{}]", key, i);
    const std::size_t index = index_of(element, list[i], allowed);
    if (std::find(found.begin(), found.end(), index) != found.end()) {
      refuse(element, fmt::format("\"{}\" stands twice in the list", allowed[index]));
    }
    found.push_back(index);
  }
  return found;
}

Object Object::object(std::string_view key) const { return {at(key), origin_, path_of(key)}; }

std::vector<Object> Object::objects(std::string_view key) const {
  const Json& list = at(key);
  if (!list.is_array()) refuse(key, fmt::format("a list of objects was expected, here is {}", name_of(list)));
  std::vector<Object> found;
  for (std::size_t i = 0; i < list.size(); ++i) {
    found.emplace_back(list[i], origin_, path_of(fmt::format("{}[{}]", key, i)));
  }
  return found;
}

std::vector<double> Object::numbers_in(const Json& list, const std::string& key, double lower, double upper) const {
  if (!list.is_array()) refuse(key, fmt::format("a list of numbers was expected, here is {}", name_of(list)));
  std::vector<double> found;
  found.reserve(list.size());
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (!list[i].is_number()) {
      refuse(fmt::format("{}[{}]", key, i), fmt::format("a number was expected, here is {}", name_of(list[i])));
    }
    found.push_back(list[i].get<double>());
    if (!(found.back() >= lower && found.back() <= upper)) {
      refuse(fmt::format("{}[{}]", key, i), fmt::format("{} is outside {} to {}", found.back(), lower, upper));
    }
  }
  return found;
}

std::vector<double> Object::numbers(std::string_view key, double lower, double upper) const {
  return numbers_in(at(key), std::string(key), lower, upper);
}

std::vector<std::vector<double>> Object::rows(std::string_view key, double lower, double upper) const {
  const Json& list = at(key);
  if (!list.is_array()) refuse(key, fmt::format("a list of rows was expected, here is {}", name_of(list)));
  std::vector<std::vector<double>> found;
  for (std::size_t i = 0; i < list.size(); ++i) {
    found.push_back(numbers_in(list[i], fmt::format("{}[{}]", key, i), lower, upper));
  }
  return found;
}

std::vector<std::string> Object::keys() const {
  std::vector<std::string> names;
  for (const auto& [name, value] : json_.items()) names.push_back(name);
  return names;
}

}  // namespace lampload::json
