#include "cli/report/catalogue.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <nlohmann/json.hpp>

#include "cli/basis.h"
#include "cli/options.h"
#include "cli/quantity.h"
#include "cli/report/assets.h"
#include "cli/report/circuit.h"
#include "cli/report/html.h"
#include "cli/screens.h"
#include "cli/version.h"
#include "core/lower_case.h"
#include "db/digest.h"

namespace lampload {
namespace {

std::string site_page(const std::string& title, const Html& html, std::string_view root, std::string_view scripts) {
  return filled(report_assets::catalogue, {{"version", program_version},
                                           {"title", Html::attribute(title).html},
                                           {"root", root},
                                           {"body", html.body()},
                                           {"scripts", scripts}});
}

nlohmann::json known(const std::optional<double>& value) { return value ? nlohmann::json(*value) : nullptr; }

}  // namespace

std::string file_name_of(const std::string& lamp) {
  constexpr std::size_t longest = 48;
  constexpr std::size_t digits = 10;
  std::string name;
  for (const char c : lamp) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80 && std::isalnum(byte) != 0) {
      name += lower_case(c);
    } else if (!name.empty() && name.back() != '-') {
      name += '-';
    }
    if (name.size() == longest) break;
  }
  if (!name.empty() && name.back() != '-') name += '-';
  return name + sha256_hex(lamp).substr(0, digits);
}

CatalogueEntry entry_of(const LampRecord& lamp) {
  CatalogueEntry entry;
  entry.name = lamp.name;
  entry.circuit = "not fitted";
  if (lamp.fit && !lamp.fit->accepted) entry.circuit = "no family describes it";
  if (lamp.fit && lamp.fit->accepted) {
    entry.circuit = spoken(lamp.fit->family);
    if (!lamp.fit->load_law.empty()) entry.circuit += fmt::format(" ({})", spoken(lamp.fit->load_law));
  }
  const std::optional<bool>& dimmable = lamp.nominal.label_dimmable;
  entry.label = !dimmable ? "not said" : *dimmable ? "dimmable" : "not dimmable";
  if (const StoredCapture* one = least_cut(lamp.captures)) {
    entry.power_w = one->figures.active_power_w;
    entry.voltage_v = one->figures.voltage_rms_v;
    entry.current_rms_a = one->figures.current_rms_a;
    entry.current_peak_a = one->figures.current_peak_a;
  }
  for (const StoredCapture& one : lamp.captures) {
    if (!one.figures.inrush) continue;
    entry.inrush_peak_a = std::max(entry.inrush_peak_a.value_or(0.0), one.figures.inrush->peak_a);
  }
  if (lamp.trust == Trust::revoked_signer) entry.circuit = "do not rely on it: its signer was revoked";
  entry.page = "lamps/" + file_name_of(lamp.name) + ".html";
  return entry;
}

std::string catalogue_lamp_page(const LampRecord& lamp, const std::string& model) {
  Html html;
  html.isolate(lamp.name);
  html.paragraph(Markup{"<a href=\"../index.html\">All lamps</a>"});
  html.heading(1, Html::name(lamp.name));
  const std::string caution = caution_of(lamp.name, lamp.trust, lamp.origin);
  if (lamp.trust == Trust::revoked_signer) html.paragraph(html.text("Caution: " + caution + "."), "answer warning");
  const bool accepted = lamp.fit && lamp.fit->accepted;
  html.paragraph(html.text(lamp.fit ? fit_in_short(*lamp.fit, lamp.captures) : "not fitted yet"),
                 accepted ? "answer" : "answer warning");
  html.paragraph(html.text("Its label: " + entry_of(lamp).label + "."));
  if (lamp.nominal.base) html.paragraph(html.text("Base: " + *lamp.nominal.base));
  if (lamp.nominal.technology) html.paragraph(html.text("Technology: " + *lamp.nominal.technology));
  if (!model.empty()) {
    html.paragraph(Markup{fmt::format("<a href=\"{}\" download>Model file</a>", Html::attribute(model).html)} +
                   html.text(", to be taken into a library of one's own."));
  }
  HtmlScreen screen(html, 3);
  if (!lamp.captures.empty()) {
    html.heading(2, html.text("The captures"));
    show_figures_in_short(screen, lamp.captures);
  }
  if (lamp.fit) {
    html.heading(2, html.text("The equivalent circuit"));
    const std::vector<DrawnPart> parts = drawn_parts(*lamp.fit);
    if (!parts.empty()) {
      html.open("div", " class=\"scroll circuit\" tabindex=\"0\" role=\"group\" aria-label=\"Drawing of the circuit\"");
      html.raw(circuit_drawing(parts, html));
      html.close("div");
      html.paragraph(html.text(circuit_in_words(parts)), "soft");
    }
    show_fit(screen, *lamp.fit);
    show_samples(screen, *lamp.fit);
  }
  html.heading(2, html.text("Cautions"));
  if (!caution.empty()) html.paragraph(html.text(caution + "."));
  html.paragraph(
      html.text("What another lamp of this name does may differ: lamps change over the years. Advice from a "
                "model of measured lamps; local codes and licensed practice come first."));
  html.paragraph(html.text(measuring_cautions()));
  return site_page(lamp.name, html, "../", "");
}

std::string catalogue_index(const std::string& title) {
  Html html;
  html.heading(1, Html::name(title));
  html.raw({R"(<form role="search">
<label>Search <input type="search" name="search" autocomplete="off"></label>
<label>Circuit <select name="family"><option value="">all</option></select></label>
<label>Label <select name="label"><option value="">all</option><option>dimmable</option><option>not dimmable</option><option>not said</option></select></label>
</form>
<p role="status"></p>
<noscript><p>The list needs scripts; the pages of the lamps are in the folder "lamps".</p></noscript>
<div class="scroll" tabindex="0" role="group" aria-label="Lamps"><table>
<thead><tr><th scope="col" aria-sort="ascending">lamp</th><th scope="col">circuit</th><th scope="col">label</th><th scope="col">power</th><th scope="col">supply</th><th scope="col">rms current</th><th scope="col">peak current</th><th scope="col">inrush</th></tr></thead>
<tbody></tbody></table></div>
<div class="tools"><button type="button">Previous page</button><button type="button">Next page</button></div>
)"});
  html.paragraph(
      html.text("Figures of the least cut capture of each lamp. Mains kills: measuring and installing is work "
                "for people whom local rules allow."),
      "soft");
  return site_page(title, html, "", "<script src=\"lamps.js\"></script>\n<script src=\"catalogue.js\"></script>");
}

std::string catalogue_data(const std::vector<CatalogueEntry>& lamps) {
  nlohmann::json rows = nlohmann::json::array();
  for (const CatalogueEntry& one : lamps) {
    rows.push_back({printable(one.name), printable(one.circuit), one.label, known(one.power_w), known(one.voltage_v),
                    known(one.current_rms_a), known(one.current_peak_a), known(one.inrush_peak_a), one.page});
  }
  nlohmann::json columns = nlohmann::json::array();
  for (const char* unit : {"", "", "", "W", "V", "A", "A", "A"}) columns.push_back({{"unit", unit}});
  const nlohmann::json all = {{"columns", std::move(columns)}, {"lamps", std::move(rows)}};
  return "window.lampload = " + all.dump(-1, ' ', true, nlohmann::json::error_handler_t::replace) + ";\n";
}

}  // namespace lampload
