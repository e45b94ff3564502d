#pragma once
// A page of HTML in the making. Text becomes markup in one place, Html::text(): characters that mean something to a
// browser are escaped, and those that cannot be seen are shown as printable() shows them.

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cli/terminal.h"

namespace lampload {

/// What may stand in a page as it is.
struct Markup {
  std::string html;
};
inline Markup operator+(Markup a, const Markup& b) { return {std::move(a.html) + b.html}; }

class Html {
 public:
  /// For elements and attributes alike. Names that were told to isolate() stand apart from the text's direction.
  [[nodiscard]] Markup text(std::string_view plain) const;
  /// The same without elements in it.
  [[nodiscard]] static Markup attribute(std::string_view plain);
  /// Something that was named by a person, on its own.
  [[nodiscard]] static Markup name(std::string_view plain);
  /// Of a name with letters that are written from right to left.
  void isolate(std::string_view name);

  void heading(int level, const Markup& inner, std::string_view id = {});
  void paragraph(const Markup& inner, std::string_view css_class = {});
  void list(const std::vector<Markup>& items);
  /// `rows` without their heading; the first cell of a row is its heading. `css_class`: "numbers", "matrix".
  void table(std::string_view caption, const std::vector<std::string>& headings,
             const std::vector<std::vector<std::string>>& rows, std::string_view css_class = {});
  /// `attributes`: with a space before each, ready to stand in the tag.
  void open(std::string_view element, std::string_view attributes = {});
  void close(std::string_view element);
  void details(std::string_view summary);  ///< close("details") ends it
  void raw(const Markup& markup) { body_ += markup.html; }

  [[nodiscard]] const std::string& body() const { return body_; }

 private:
  std::vector<std::string> isolated_;  ///< escaped
  std::string body_;
};

/// Lets whatever writes to a terminal write into a page: lines in the style of a heading become headings, tables
/// tables.
class HtmlScreen final : public Screen {
 public:
  HtmlScreen(Html& page, int heading_level) : page_(&page), level_(heading_level) {}

 private:
  void show_line(std::string_view text, Style style) override;
  void show_paragraph(std::string_view text, std::size_t indent, Style style) override;
  void show_table(const Table& table, std::size_t indent) override;

  Html* page_;
  int level_;
};

/// Each {{name}} of the template by its text, in one pass: what is put in is not looked through.
std::string filled(std::string_view page, const std::vector<std::pair<std::string_view, std::string_view>>& texts);

/// A whole page: nothing in it comes from elsewhere. `data`: JSON for the script.
std::string whole_page(std::string_view title, const Html& page, const std::string& data);

/// JSON text as it may stand in a script element.
std::string in_script(std::string json);

}  // namespace lampload
