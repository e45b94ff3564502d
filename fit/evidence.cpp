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
  const std::size_t given = values.size();
  known.lamp = Lamp(find_family(fit.family, fit.load_law), std::move(values));
  // A fit stored before the family knew of a part has shorter tables; the lamp does without the part.
  const std::size_t all = known.lamp->parameters().size();
  for (std::size_t j = given; j < all; ++j) {
    known.lower_95.push_back(known.lamp->parameters()[j]);
    known.upper_95.push_back(known.lamp->parameters()[j]);
    known.identified.push_back(false);
  }
  if (fit.covariance.size() == given * given) {
    known.covariance.assign(all * all, 0.0);
    for (std::size_t j = 0; j < given * given; ++j) known.covariance[j / given * all + j % given] = fit.covariance[j];
  }
  known.spread = fit.load_spread;
  return known;
}

}  // namespace lampload
