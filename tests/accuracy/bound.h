#pragma once
// Fits where model and circuit agree, and what no estimator could beat there.

#include <random>
#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/lamp/lamp.h"

namespace lampload::accuracy {

/// Captures of one lamp made by its own model, with an exact voltage and white noise on the current, of the size that
/// 8-bit steps and half a step of noise make.
struct BoundTrial {
  struct Parameter {
    std::size_t index = 0;  ///< in the family's table
    double truth = 0.0;
    double bound_sd = 0.0;  ///< Cramer-Rao bound of the coordinate's standard deviation
  };
  const FamilyInfo* family = nullptr;
  std::string lamp;
  std::vector<Capture> captures;
  std::vector<Parameter> parameters;  ///< that the lamp has
};

/// The number chooses the family in turn. Instrument, and values that the fit knows something of beforehand, are drawn
/// from what it knows; the bound counts that as information (van Trees).
BoundTrial bound_trial(std::size_t number, std::mt19937_64& random);

}  // namespace lampload::accuracy
