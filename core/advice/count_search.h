#pragma once
// How many lamps a constraint allows.

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "core/advice/load.h"

namespace lampload {

/// Counts are searched from 0 to this.
inline constexpr int most_lamps = 1000;

/// A constraint's value at its worst operating point.
struct Worst {
  double value = 0.0;
  Situation at;
};

class CountSearch {
 public:
  /// `guide`, where given, says which settings are worst, so that they need not be searched for again.
  explicit CountSearch(Load& load, CountSearch* guide = nullptr) : load_(load), guide_(guide) {}

  /// Over the operating points that are worst for one lamp, and those that verify() found.
  Worst worst(const Constraint& constraint, int count, bool screened = false);
  /// Largest count, 0 to most_lamps, up to which the constraint holds. For one that sets the least count: the smallest
  /// count at which it holds, most_lamps + 1 where it never does.
  int count(const Constraint& constraint) { return count(constraint, rough_count(constraint)); }
  /// The same by rough simulation, within some per cent; and what is near a rough count.
  int rough_count(const Constraint& constraint);
  int count(const Constraint& constraint, int rough);
  /// A rough count of a constraint that sets a largest one, within a per cent or so.
  int nearly(const Constraint& constraint, int rough);
  /// The same of a constraint that sets a largest count, where no more than `most` lamps are asked about and `known` of
  /// them hold.
  int count_between(const Constraint& constraint, int known, int most);
  /// Looks at every operating point with `count` lamps, roughly. True: one was worse than those known, is known from
  /// now on, and counts are to be searched again.
  bool verify(const Constraint& constraint, int count);
  /// Takes over the operating points that `other` found worst, with the central lamp where its lamp is not in the load.
  void follow(const CountSearch& other);

 private:
  /// Largest count from `low` up at which `value` has not passed the limit, which it has at `high`; first_guess 0:
  /// none.
  int last_below(const Constraint& constraint, int low, int high, int first_guess,
                 const std::function<double(int)>& value) const;
  [[nodiscard]] bool worse(const Constraint& constraint, double a, double b) const;
  [[nodiscard]] const std::vector<double>& settings(const Constraint& constraint) const;
  double worst_setting(const Constraint& constraint, std::size_t supply);
  const std::vector<Situation>& situations(const Constraint& constraint);
  /// The worst setting at each supply, with the central lamp.
  const std::vector<double>& worst_settings(const Constraint& constraint);

  Load& load_;
  CountSearch* guide_;
  std::map<std::string, std::vector<Situation>> situations_;   ///< by name and quantity
  std::map<std::string, std::vector<double>> worst_settings_;  ///< likewise
};

}  // namespace lampload
