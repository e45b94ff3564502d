#include <nlohmann/json.hpp>

#include "cli/json_output.h"
#include "cli/options.h"

namespace lampload {

std::string guide_json(const CaptureGuide& guide) {
  using Json = nlohmann::ordered_json;
  Json captures = Json::array();
  for (const GuidedCapture& capture : guide.captures) {
    captures.push_back({{"kind", capture.kind},
                        {"how", capture.how},
                        {"range", capture.range},
                        {"sample_rate_hz", capture.sample_rate_hz},
                        {"duration_s", capture.duration_s},
                        {"trigger", capture.trigger}});
  }
  std::vector<std::string> cautions = {measuring_cautions()};
  cautions.insert(cautions.end(), guide.cautions.begin(), guide.cautions.end());
  const Json document = {{"guide",
                          {{"kind", guide.word},
                           {"lamp", guide.lamp},
                           {"families", guide.families},
                           {"cautions", cautions},
                           {"captures", std::move(captures)},
                           {"probes", guide.probes},
                           {"deskew", guide.deskew},
                           {"afterwards", guide.afterwards}}}};
  return document.dump(2) + "\n";
}

}  // namespace lampload
