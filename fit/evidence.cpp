#include "core/error.h"
#include "fit/fit.h"

namespace lampload {

LampEvidence evidence(const std::string& lamp_name, const FitResult& fit, std::span<const Figures> figures,
                      const Nominal& nominal) {
  LampEvidence known;
  known.name = lamp_name;
  known.label_dimmable = nominal.label_dimmable;
  known.measured.assign(figures.begin(), figures.end());
  if (!fit.accepted) return known;

  std::vector<double> values;
  for (const Estimate& estimate : fit.parameters) {
    values.push_back(estimate.value);
    known.lower_95.push_back(estimate.lower_95);
    known.upper_95.push_back(estimate.upper_95);
    known.identified.push_back(estimate.identified);
  }
  known.lamp = Lamp(find_family(fit.family, fit.load_law), std::move(values));
  known.covariance = fit.covariance;
  known.spread = fit.load_spread;
  return known;
}

}  // namespace lampload
