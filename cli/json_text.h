#pragma once
// JSON as it is printed.

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace lampload {

/// A JSON text that is also harmless on a terminal: what printable() would show otherwise, and JSON lets stand as it
/// is, is written as \uNNNN. It means the same.
std::string json_text(std::string_view json);
/// A whole document over several lines, harmless likewise. Text that is not UTF-8 is replaced.
std::string document_text(const nlohmann::ordered_json& document);

/// A document_text() of one object, member by member, for lists so long that a tree of them all would take many times
/// the room of their text.
class DocumentWriter {
 public:
  void member(std::string_view key, const nlohmann::ordered_json& value);
  void begin_list(std::string_view key);
  void element(const nlohmann::ordered_json& value);
  void end_list();
  [[nodiscard]] std::string finish() &&;

 private:
  void begin(std::string_view key);
  void add(const nlohmann::ordered_json& value, std::string_view indent);
  std::string text_ = "{";
  bool first_member_ = true;
  bool first_element_ = true;
};

/// null where a text is empty.
nlohmann::ordered_json known(const std::string& text);

}  // namespace lampload
