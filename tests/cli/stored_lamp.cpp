#include "stored_lamp.h"

#include "core/advice/screening.h"
#include "core/lamp/lamp.h"
#include "db/library.h"

namespace lampload::test {

void store_lamp(const Workplace& place, const std::string& name, const std::string& family, const std::string& load_law,
                const std::vector<double>& parameters) {
  StoredFit fit;
  fit.accepted = true;
  fit.verdict = "put there by a test";
  fit.family = family;
  fit.load_law = load_law;
  const FamilyInfo& info = find_family(family, load_law);
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    fit.parameters.push_back({std::string(info.parameters[i].name), std::string(info.parameters[i].unit), parameters[i],
                              0.0, parameters[i], parameters[i], true, ""});
  }
  fit.covariance.assign(parameters.size() * parameters.size(), 0.0);
  LampEvidence exact;
  exact.lamp = Lamp(info, parameters);
  fit.screening = screening_figures(exact, 230.0, 50.0);
  fit.provenance = {"a test", "2026-01-01T00:00:00Z", "", "0"};
  Library::open((place.path("data") / "lampload" / "library.db").string(), Library::Access::read_write)
      .store(name, {}, {}, fit);
}

}  // namespace lampload::test
