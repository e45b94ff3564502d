#include "core/advice/load_spread.h"

#include <cmath>

namespace lampload {

FigureSpread* LoadSpread::figure(const std::string& name) {
  if (name == "continuous_current") return &continuous_current;
  if (name == "repetitive_peak") return &repetitive_peak;
  if (name == "surge_peak") return &surge_peak;
  if (name == "surge_i2t") return &surge_i2t;
  return nullptr;
}

double LoadSpread::of_one(const FigureSpread& figure) const { return of_mean(figure, 1); }

double LoadSpread::of_mean(const FigureSpread& figure, int count) const {
  if (samples < 2) return figure.spread;
  return figure.spread * std::sqrt(1.0 / samples + 1.0 / count);
}

}  // namespace lampload
