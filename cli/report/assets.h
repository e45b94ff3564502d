#pragma once
// The files beside this one, as text in the program.

#include <string_view>

namespace lampload::report_assets {

extern const std::string_view page;              // page.html
extern const std::string_view style;             // page.css
extern const std::string_view plots;             // plots.js
extern const std::string_view catalogue;         // catalogue.html
extern const std::string_view catalogue_script;  // catalogue.js

}  // namespace lampload::report_assets
