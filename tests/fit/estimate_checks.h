#pragma once
// What whole fits are held against.

#include <gtest/gtest.h>

#include <stdexcept>
#include <string>

#include "fit/fit.h"

namespace lampload::test {

/// For whoever does not ask which capture to take next, which costs time.
inline FitOptions without_advice() {
  FitOptions options;
  options.advise_next_capture = false;
  return options;
}

/// Of the parameters or the derived figures. Throws where there is none of that name.
inline const Estimate& estimate(const FitResult& fit, const std::string& name) {
  for (const std::vector<Estimate>* list : {&fit.parameters, &fit.derived}) {
    for (const Estimate& one : *list) {
      if (one.name == name) return one;
    }
  }
  throw std::runtime_error("the fit has no " + name);
}

/// Within `relative` of the truth, identified, and the truth inside the interval.
inline void expect_near(const FitResult& fit, const std::string& name, double truth, double relative) {
  const Estimate& found = estimate(fit, name);
  EXPECT_NEAR(found.value / truth, 1.0, relative) << name;
  EXPECT_TRUE(found.identified) << name;
  EXPECT_LE(found.lower_95, truth) << name;
  EXPECT_GE(found.upper_95, truth) << name;
}

/// Likewise of a parameter that real circuits move so far (ParameterSpec::model_sd) that it may be stated as not
/// identified, however near it is.
inline void expect_near_but_loose(const FitResult& fit, const std::string& name, double truth, double relative) {
  const Estimate& found = estimate(fit, name);
  EXPECT_NEAR(found.value / truth, 1.0, relative) << name;
  EXPECT_LE(found.lower_95, truth) << name;
  EXPECT_GE(found.upper_95, truth) << name;
}

}  // namespace lampload::test
