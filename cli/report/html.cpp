#include "cli/report/html.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "cli/report/assets.h"
#include "cli/version.h"

namespace lampload {
namespace {

std::string escaped(std::string_view plain) {
  std::string html;
  for (const char c : printable(plain)) {
    switch (c) {
      case '&':
        html += "&amp;";
        break;
      case '<':
        html += "&lt;";
        break;
      case '>':
        html += "&gt;";
        break;
      case '"':
        html += "&quot;";
        break;
      case '\'':
        html += "&#39;";
        break;
      default:
        html += c;
    }
  }
  return html;
}

std::string_view class_of(Style style) {
  switch (style) {
    case Style::good:
      return "good";
    case Style::warning:
      return "warning";
    case Style::bad:
      return "bad";
    case Style::heading:
    case Style::plain:
      break;
  }
  return {};
}

std::string_view without_blanks(std::string_view text) {
  text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
  return text;
}

}  // namespace

Markup Html::attribute(std::string_view plain) { return {escaped(plain)}; }

Markup Html::name(std::string_view plain) { return {"<bdi>" + escaped(plain) + "</bdi>"}; }

void Html::isolate(std::string_view name) {
  const bool ascii = std::all_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; });
  if (!ascii) isolated_.push_back(escaped(name));
}

Markup Html::text(std::string_view plain) const {
  std::string html = escaped(plain);
  for (const std::string& name : isolated_) {
    const std::string apart = "<bdi>" + name + "</bdi>";
    for (std::size_t at = html.find(name); at != std::string::npos; at = html.find(name, at + apart.size())) {
      html.replace(at, name.size(), apart);
    }
  }
  return {html};
}

void Html::open(std::string_view element, std::string_view attributes) {
  body_ += fmt::format("<{}{}>\n", element, attributes);
}

void Html::close(std::string_view element) { body_ += fmt::format("</{}>\n", element); }

void Html::heading(int level, const Markup& inner, std::string_view id) {
  const std::string where = id.empty() ? "" : fmt::format(" id=\"{}\"", id);
  body_ += fmt::format("<h{0}{1}>{2}</h{0}>\n", level, where, inner.html);
}

void Html::paragraph(const Markup& inner, std::string_view css_class) {
  const std::string as = css_class.empty() ? "" : fmt::format(" class=\"{}\"", css_class);
  body_ += fmt::format("<p{}>{}</p>\n", as, inner.html);
}

void Html::list(const std::vector<Markup>& items) {
  if (items.empty()) return;
  body_ += "<ul>\n";
  for (const Markup& item : items) body_ += "<li>" + item.html + "</li>\n";
  body_ += "</ul>\n";
}

void Html::table(std::string_view caption, const std::vector<std::string>& headings,
                 const std::vector<std::vector<std::string>>& rows, std::string_view css_class) {
  const std::string as = css_class.empty() ? "" : fmt::format(" class=\"{}\"", css_class);
  const std::string label = attribute(caption.empty() ? "table" : caption).html;
  // What is wider than the screen is scrolled on its own, by keys too.
  body_ += fmt::format("<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{}\"><table{}>\n", label, as);
  if (!caption.empty()) body_ += "<caption>" + text(caption).html + "</caption>\n";
  const bool headed =
      std::any_of(headings.begin(), headings.end(), [](const std::string& heading) { return !heading.empty(); });
  if (headed) {
    body_ += "<thead><tr>";
    for (const std::string& heading : headings) {
      body_ += heading.empty() ? "<td></td>" : "<th scope=\"col\">" + text(heading).html + "</th>";
    }
    body_ += "</tr></thead>\n";
  }
  body_ += "<tbody>\n";
  for (const std::vector<std::string>& row : rows) {
    body_ += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i) {
      const std::string_view cell = i == 0 && !row[i].empty() ? "th" : "td";
      body_ += fmt::format("<{0}{1}>{2}</{0}>", cell, cell == "th" ? " scope=\"row\"" : "",
                           isolated_.empty() ? text(row[i]).html : "<bdi>" + text(row[i]).html + "</bdi>");
    }
    body_ += "</tr>\n";
  }
  body_ += "</tbody></table></div>\n";
}

void Html::details(std::string_view summary) { body_ += "<details><summary>" + text(summary).html + "</summary>\n"; }

void HtmlScreen::show_line(std::string_view text, Style style) {
  if (without_blanks(text).empty()) return;
  show_paragraph(text, 0, style);
}

void HtmlScreen::show_paragraph(std::string_view text, std::size_t /*indent*/, Style style) {
  if (style == Style::heading) {
    page_->heading(level_, page_->text(without_blanks(text)));
  } else {
    page_->paragraph(page_->text(without_blanks(text)), class_of(style));
  }
}

void HtmlScreen::show_table(const Table& table, std::size_t /*indent*/) {
  if (!table.empty()) page_->table("", table.headings(), table.rows());
}

std::string filled(std::string_view page, const std::vector<std::pair<std::string_view, std::string_view>>& texts) {
  std::string out;
  while (!page.empty()) {
    const std::size_t begin = page.find("{{");
    if (begin == std::string_view::npos) break;
    const std::size_t end = page.find("}}", begin);
    out += page.substr(0, begin);
    const std::string_view name = page.substr(begin + 2, end - begin - 2);
    for (const auto& [known, text] : texts) {
      if (known == name) out += text;
    }
    page.remove_prefix(end + 2);
  }
  return out += page;
}

std::string in_script(std::string json) {
  std::string text;
  for (const char c : json) {
    if (c == '<') {
      text += "\\u003c";
    } else {
      text += c;
    }
  }
  return text;
}

std::string whole_page(std::string_view title, const Html& page, const std::string& data) {
  return filled(report_assets::page, {{"version", program_version},
                                      {"title", Html::attribute(title).html},
                                      {"style", report_assets::style},
                                      {"body", page.body()},
                                      {"data", in_script(data)},
                                      {"script", report_assets::plots}});
}

}  // namespace lampload
