#pragma once
// The library as a static site: what stands in its files.

#include <string>
#include <vector>

#include "db/library.h"

namespace lampload {

/// One lamp of the index.
struct CatalogueEntry {
  std::string name;
  std::string circuit;  ///< in words; "not fitted" where there is none
  std::string label;
  std::optional<double> power_w;  ///< of the least cut capture
  std::optional<double> voltage_v;
  std::optional<double> current_rms_a;
  std::optional<double> current_peak_a;
  std::optional<double> inrush_peak_a;
  std::string page;  ///< relative to the index
};

/// Of a lamp's name, for a file: its letters and digits, and what keeps two lamps apart.
std::string file_name_of(const std::string& lamp);

CatalogueEntry entry_of(const LampRecord& lamp);

/// `model`: path of the model file relative to the page; empty: there is none.
std::string catalogue_lamp_page(const LampRecord& lamp, const std::string& model);

std::string catalogue_index(const std::string& title);
/// The script that holds the lamps for the index.
std::string catalogue_data(const std::vector<CatalogueEntry>& lamps);

}  // namespace lampload
