#pragma once
// Solutions and covariances turned into what people read: values, standard uncertainties, intervals, remarks.

#include <vector>

#include "core/lamp/lamp.h"
#include "fit/family_search.h"
#include "fit/fit.h"
#include "fit/interval_ends.h"

namespace lampload {

/// 95 % of a normal distribution lie within this many standard deviations.
inline constexpr double coverage_95 = 1.959964;
/// A parameter known worse than this (standard deviation of its logarithm, or share of its typical size) is not
/// identified: its 95 % interval would span a factor of four.
inline constexpr double identified_sd = 0.35;

/// The family's whole table. full, free, bound: over the layout, which begins with the lamp's parameters. covariance:
/// over them, parameters at a bound held; loose: the same with those free, for the open side of their interval. limits:
/// how large a parameter held at 0 may be; 0 where not known. ends: of free ones, where they are wider than the
/// covariance says; empty: nowhere. prior_sd: what was known of each before the captures.
std::vector<Estimate> parameter_estimates(const FamilyInfo& family, const std::vector<double>& full,
                                          const std::vector<bool>& free, const std::vector<bool>& bound,
                                          const std::vector<double>& covariance, const std::vector<double>& loose,
                                          const std::vector<double>& limits, const std::vector<IntervalEnds>& ends,
                                          const std::vector<double>& prior_sd);

/// Derived figures with propagated uncertainty (JCGM 100, first order in the coordinates).
std::vector<Estimate> derived_estimates(const FamilyInfo& family, const std::vector<double>& full,
                                        const std::vector<bool>& free, const std::vector<double>& covariance,
                                        const OperatingPoint& at);

}  // namespace lampload
