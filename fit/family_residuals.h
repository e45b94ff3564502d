#pragma once
// The residuals of one family over several captures. Long to compile: only the units that make them include it.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "core/lamp/families.h"
#include "core/parallel.h"
#include "fit/allowances.h"
#include "fit/family_runs.h"
#include "fit/lamp_residuals.h"
#include "fit/residual_rows.h"
#include "fit/residual_units.h"
#include "fit/run_in.h"
#include "fit/tamed.h"
#include "fit/unknowns.h"

namespace lampload {

inline constexpr double start_state_reach = 0.1;       // of a state variable's size
inline constexpr double slow_start_state_reach = 0.5;  // likewise: a temperature moves with what warms it
/// How closely a running lamp comes back to its state after whole cycles, as a share of the state's size.
inline const double return_sd = 0.002 / std::sqrt(blocks_per_observation);
/// How near a running lamp is to where its slow states settle, likewise (common practice, no source: minutes after it
/// was switched on).
inline const double settled_sd = 0.05 / std::sqrt(blocks_per_observation);

template <class Family>
class FamilyResiduals final : public LampResiduals, private FamilyRuns<Family> {
  using Runs = FamilyRuns<Family>;
  using typename Runs::Plain;
  template <class Variant>
  using JetOf = typename Runs::template JetOf<Variant>;
  using Runs::capture_base, Runs::delay_s, Runs::offset;
  using Runs::column_, Runs::drives_, Runs::has_parts, Runs::lamp_values, Runs::parameters, Runs::run, Runs::seeded,
      Runs::states, Runs::with_parts;

 public:
  FamilyResiduals(SharedDrives drives, std::vector<DirectObservation> observations,
                  const std::vector<UsualValue>& usual)
      : Runs(*drives),
        shared_drives_(std::move(drives)),
        observations_(std::move(observations)),
        weights_(drives_),
        layout_(unknowns_of(Family::parameters, Family::states, usual, drives_)) {
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      first_row_.push_back(origins_.size());
      for (std::size_t k = 0; k < drives_[c].blocks(); ++k) {
        if (is_fitted(drives_[c].use[k])) origins_.push_back({c, k});
      }
      last_of_whole_cycles_.push_back(end_of_whole_cycles(drives_[c]));
    }
    set_free(std::vector<bool>(layout_.size(), true), std::vector<double>(layout_.size(), 0.0));
  }

  [[nodiscard]] const std::vector<Unknown>& layout() const override { return layout_; }
  [[nodiscard]] const std::vector<std::size_t>& free_unknowns() const override { return free_; }
  [[nodiscard]] const std::vector<Origin>& origins() const override { return origins_; }
  [[nodiscard]] const std::vector<DrivenCapture>& drives() const override { return drives_; }
  void set_threads(unsigned threads) override { threads_ = threads; }
  [[nodiscard]] std::size_t unknowns() const override { return free_.size(); }
  [[nodiscard]] std::size_t count() const override { return first_return() + returns_.size(); }

  void set_free(const std::vector<bool>& free, const std::vector<double>& full) override {
    full_ = full;
    free_.clear();
    priors_.clear();
    returns_.clear();
    column_.assign(layout_.size(), -1);
    for (std::size_t j = 0; j < layout_.size(); ++j) {
      if (!free[j] || stays_at_rest(layout_[j], free)) continue;
      column_[j] = static_cast<std::ptrdiff_t>(free_.size());
      free_.push_back(j);
      if (layout_[j].prior_sd > 0.0) priors_.push_back(j);
      if (returns(layout_[j])) returns_.push_back(j);
    }
  }

  [[nodiscard]] std::vector<double> expand(std::span<const double> x) const override {
    std::vector<double> full = full_;
    for (std::size_t j = 0; j < free_.size(); ++j) full[free_[j]] = x[j];
    return full;
  }

  [[nodiscard]] std::vector<double> reduce(std::span<const double> full) const override {
    std::vector<double> x;
    for (const std::size_t j : free_) x.push_back(full[j]);
    return x;
  }

  bool evaluate(const double* x, double* r, double* jacobian) const override {
    const std::vector<double> full = expand({x, free_.size()});
    if (jacobian != nullptr) std::fill(jacobian, jacobian + count() * free_.size(), 0.0);
    const FewRows few = few_rows(r, jacobian);
    const bool fine = each_capture([&](std::size_t c) {
      const std::size_t row = first_row_[c];
      if (jacobian == nullptr) return plain_rows(full, c, r + row, few);
      const Own own = own_unknowns(full, c);
      StoredRows rows(r + row, jacobian + row * free_.size(), free_.size(), own.columns);
      return jet_rows(full, c, own, rows, few);
    });
    if (fine) known_beforehand(full, few);
    return fine;
  }

  bool sum_up(const double* x, NormalSums& sums) const override {
    const std::vector<double> full = expand({x, free_.size()});
    const std::size_t further = count() - origins_.size();
    std::vector<double> r(further);
    std::vector<double> jacobian(further * free_.size(), 0.0);
    const FewRows few{r.data(), jacobian.data()};
    std::vector<Own> own;
    std::vector<SummedRows> rows;
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      own.push_back(own_unknowns(full, c));
      rows.emplace_back(own[c].columns.size());
    }
    if (!each_capture([&](std::size_t c) { return jet_rows(full, c, own[c], rows[c], few); })) return false;
    for (std::size_t c = 0; c < drives_.size(); ++c) rows[c].add_to(sums, own[c].columns);
    known_beforehand(full, few);
    sums.add(r.data(), jacobian.data(), further);
    return true;
  }

  void weigh(std::span<const double> full) override { weights_.set(variances(full)); }

  void learn(std::span<const double> full, double misses) override {
    std::vector<std::vector<double>> square(drives_.size());
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      run(full, c, drives_[c], [&](const auto& shown) {
        const double left = shown.mean_a + offset(full, c) - drives_[c].current_a[shown.block];
        square[c].push_back(left * left);
      });
    }
    weights_.learn(drives_, variances(full), square, misses);
  }

  [[nodiscard]] const Learned& learned() const override { return weights_.learned(); }
  void take_over(const Learned& learned) override { weights_.take_over(learned); }
  [[nodiscard]] const Weights& weights() const override { return weights_.sd_a(); }

  [[nodiscard]] Score score(std::span<const double> full, Use use, const Weights& weights) const override {
    Score score;
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      const DrivenCapture& drive = drives_[c];
      run(full, c, drive, [&](const auto& shown) {
        const std::size_t k = shown.block;
        if (use == Use::judged ? !is_judged(drive.use[k]) : !is_fitted(drive.use[k])) return;
        const double r = tamed((shown.mean_a + offset(full, c) - drive.current_a[k]) / weights[c][k]).first;
        score.sum += r * r;
        score.log_variance += 2.0 * std::log(weights[c][k]);
        ++score.count;
      });
    }
    return score;
  }

  [[nodiscard]] Left left_of(std::span<const double> full, std::size_t c) const override {
    const DrivenCapture& drive = drives_[c];
    Left left;
    double time = 0.0;
    run(full, c, drive, [&](const auto& shown) {
      const std::size_t k = shown.block;
      if (drive.use[k] == Use::left_out) return;
      const double lamp = drive.current_a[k] - offset(full, c);
      left.residual_a2 += drive.length_s(k) * (lamp - shown.mean_a) * (lamp - shown.mean_a);
      left.explained_a2 += drive.length_s(k) * weights_.expected_a2(c, k);
      left.current_a2 += drive.length_s(k) * lamp * lamp;
      time += drive.length_s(k);
    });
    return {left.residual_a2 / time, left.explained_a2 / time, left.current_a2 / time};
  }

  [[nodiscard]] std::vector<double> current(std::span<const double> full, std::size_t capture,
                                            const DrivenCapture& drive) const override {
    std::vector<double> shown_a;
    shown_a.reserve(drive.blocks());
    run(full, capture, drive, [&](const auto& shown) { shown_a.push_back(shown.end_a + offset(full, capture)); });
    return shown_a;
  }

  std::vector<double> settle(std::vector<double> full) override {
    const std::vector<double> values = Runs::template lamp_values<double>(full);
    const typename Family::template Model<double> model{std::span<const double>(values)};
    std::vector<double> slow_s;
    for (const StateSpec& spec : Family::states) slow_s.push_back(slow_time_s(spec, Family::parameters, values));
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      std::array<double, states> state;
      for (std::size_t s = 0; s < states; ++s) state[s] = Family::states[s].rest;
      const auto advance = [&](double v0, double v1, double dt) { model.advance(state, v0, v1, dt); };
      if (!drives_[c].from_rest) run_in(advance, Family::states, slow_s, drives_[c], state);
      for (std::size_t s = 0; s < states; ++s) {
        const StateSpec& spec = Family::states[s];
        Unknown& unknown = layout_[capture_base(c) + 2 + s];
        const double value = std::clamp(state[s], spec.lower, spec.upper) / spec.unit_size();
        full[capture_base(c) + 2 + s] = value;
        // Far from the periodic state there are only wrong minima.
        const double reach = spec.time_constant.empty() ? start_state_reach : slow_start_state_reach;
        unknown.lower = std::max(spec.lower / spec.unit_size(), value - reach);
        unknown.upper = std::min(spec.upper / spec.unit_size(), value + reach);
      }
    }
    return full;
  }

  [[nodiscard]] SystematicSlopes systematic_slopes(std::span<const double> full) const override {
    constexpr double small = 1e-3;
    SystematicSlopes slopes;
    for (std::size_t c = 0; c < drives_.size(); ++c) {
      const DrivenCapture& drive = drives_[c];
      std::vector<double> mean(drive.blocks());
      run(full, c, drive, [&](const auto& shown) { mean[shown.block] = shown.mean_a; });
      const auto changed = [&](const DrivenCapture& other, double unit, std::vector<double>& to) {
        run(full, c, other, [&](const auto& shown) {
          const std::size_t k = shown.block;
          if (!is_fitted(drive.use[k])) return;
          const double r = (mean[k] + offset(full, c) - drive.current_a[k]) / weights_[c][k];
          to.push_back(tamed(r).second * (shown.mean_a - mean[k]) / unit / weights_[c][k]);
        });
      };
      DrivenCapture other = drive;
      for (double& v : other.voltage_v) v *= 1.0 + small;
      other.line_v = line_through(other, other.voltage_v);
      changed(other, small, slopes.by_voltage_scale);
      // Lamps fed with DC have no bridge.
      if (fed_by_mains(Family::feed) && drive.frequency_hz > 0.0) soften(other, drive, offset(full, c));
      other.line_v = line_through(other, other.voltage_v);
      changed(other, 1.0, slopes.by_softness);
      for (std::size_t k = 0; k < drive.blocks(); ++k) {
        if (!is_fitted(drive.use[k])) continue;
        const double lamp = drive.current_a[k] - offset(full, c);
        const double r = (mean[k] - lamp) / weights_[c][k];
        slopes.by_current_scale.push_back(-tamed(r).second * lamp / weights_[c][k]);
      }
    }
    slopes.by_voltage_scale.resize(count(), 0.0);
    slopes.by_current_scale.resize(count(), 0.0);
    slopes.by_softness.resize(count(), 0.0);
    return slopes;
  }

 private:
  [[nodiscard]] std::vector<Variances> variances(std::span<const double> full) const {
    std::vector<Variances> all(drives_.size());
    in_parallel(drives_.size(), threads_, [&](std::size_t c) {
      const DrivenCapture& drive = drives_[c];
      std::vector<double> mean(drive.blocks());
      run(full, c, drive, [&](const auto& shown) { mean[shown.block] = shown.mean_a + offset(full, c); });
      all[c] = variances_of(drive, mean, delay_s(full, c), passed_on_noise(full, c, mean));
    });
    return all;
  }

  /// Rows behind those of the blocks: observations, priors, returns.
  struct FewRows {
    double* r;
    double* jacobian;  ///< null: not wanted
  };
  FewRows few_rows(double* r, double* jacobian) const {
    return {r + origins_.size(), jacobian == nullptr ? nullptr : jacobian + origins_.size() * free_.size()};
  }

  void put(double* jacobian, std::size_t row, std::size_t unknown, double slope) const {
    if (jacobian != nullptr && column_[unknown] >= 0) {
      jacobian[row * free_.size() + static_cast<std::size_t>(column_[unknown])] = slope;
    }
  }

  /// Does f(c) for every capture; true where each of them says so.
  template <class F>
  bool each_capture(const F& f) const {
    std::vector<std::uint8_t> fine(drives_.size(), 0);
    in_parallel(drives_.size(), threads_, [&](std::size_t c) { fine[c] = f(c) ? 1 : 0; });
    return std::find(fine.begin(), fine.end(), std::uint8_t{0}) == fine.end();
  }

  void known_beforehand(std::span<const double> full, const FewRows& few) const {
    std::size_t row = 0;
    const double emphasis = std::sqrt(weights_.learned().emphasis);
    for (const DirectObservation& seen : observations_) {
      const double sd = seen.standard_uncertainty / emphasis;
      few.r[row] = (full[seen.parameter] - seen.coordinate) / sd;
      put(few.jacobian, row, seen.parameter, 1.0 / sd);
      ++row;
    }
    for (const std::size_t j : priors_) {
      // The delay belongs to the probes: all captures share it, but for what another range or another hook of the probe
      // changes, and for the instant of a jump anywhere between two samples.
      const bool shared = layout_[j].kind == Unknown::Kind::delay && layout_[j].capture > 0;
      const double sd = (shared ? delay_change_sd(drives_[layout_[j].capture].dt_s) : layout_[j].prior_sd) / emphasis;
      const std::size_t first = capture_base(0) + 1;
      few.r[row] = (full[j] - (shared ? full[first] : layout_[j].prior_mean)) / sd;
      put(few.jacobian, row, j, 1.0 / sd);
      if (shared) put(few.jacobian, row, first, -1.0 / sd);
      ++row;
    }
  }

  /// A start state that is no unknown: the lamp was off for long, or does without the part that the state belongs to.
  [[nodiscard]] bool stays_at_rest(const Unknown& unknown, const std::vector<bool>& free) const {
    if constexpr (states > 0) {
      if (unknown.kind != Unknown::Kind::state) return false;
      if (drives_[unknown.capture].from_rest) return true;
      const std::string_view part = Family::states[unknown.index].part;
      for (std::size_t j = 0; j < parameters; ++j) {
        if (!part.empty() && Family::parameters[j].part == part && !free[j]) return true;
      }
    }
    return false;
  }
  /// A start state that the capture's whole cycles must come back to. Longer records show by themselves whether it
  /// comes back, but for a slow state, which hardly moves in any.
  [[nodiscard]] bool returns(const Unknown& unknown) const {
    if constexpr (states > 0) {
      if (unknown.kind != Unknown::Kind::state || !last_of_whole_cycles_[unknown.capture]) return false;
      const DrivenCapture& drive = drives_[unknown.capture];
      constexpr double few = 2.5;
      const double cycles =
          static_cast<double>(drive.bounds.back() - drive.bounds.front()) * drive.dt_s * drive.frequency_hz;
      return !Family::states[unknown.index].time_constant.empty() || cycles <= few;
    }
    return false;
  }

  /// r: of the capture's first block.
  bool plain_rows(std::span<const double> full, std::size_t c, double* r, const FewRows& few) const {
    const DrivenCapture& drive = drives_[c];
    bool finite = true;
    const auto after_block = [&]([[maybe_unused]] std::size_t k, [[maybe_unused]] const auto& state) {
      if constexpr (states > 0) {
        if (k == last_of_whole_cycles_[c]) {
          for_each_return(c, [&](std::size_t at, std::size_t unknown) {
            const std::vector<double> values = Runs::template lamp_values<double>(full);
            const auto [miss, sd] =
                missed_return<double>(unknown, full[unknown], state[layout_[unknown].index], values);
            few.r[at] = miss / sd;
          });
        }
      }
    };
    const auto take = [&](const ShownBlock<double>& shown) {
      const std::size_t k = shown.block;
      if (!is_fitted(drive.use[k])) return;
      *r = tamed((shown.mean_a + offset(full, c) - drive.current_a[k]) / weights_[c][k]).first;
      finite = finite && std::isfinite(*r);
      ++r;
    };
    run(full, c, drive, drive.line_v, take, after_block);
    return finite;
  }

  /// The free unknowns that the blocks of one capture depend on.
  struct Own {
    std::vector<std::size_t> columns;  ///< place among the free unknowns
    std::vector<int> slots;            ///< derivative slot of the Jets, or one of the following
  };
  static constexpr int offset_slot = -1;
  static constexpr int delay_slot = -2;

  [[nodiscard]] Own own_unknowns(std::span<const double> full, std::size_t c) const {
    Own own;
    const auto add = [&](std::size_t unknown, int slot) {
      if (column_[unknown] < 0) return;
      own.columns.push_back(static_cast<std::size_t>(column_[unknown]));
      own.slots.push_back(slot);
    };
    const std::size_t base = capture_base(c);
    const bool parts = with_parts(full);
    const std::size_t lamp = parts ? parameters : Plain::parameters.size();
    const std::size_t lamp_states = parts ? states : Plain::states.size();
    for (std::size_t j = 0; j < lamp; ++j) add(j, static_cast<int>(j));
    add(parameters, static_cast<int>(lamp));
    for (std::size_t s = 0; s < lamp_states; ++s) add(base + 2 + s, static_cast<int>(lamp + 1 + s));
    add(base, offset_slot);
    add(base + 1, delay_slot);
    return own;
  }

  bool jet_rows(std::span<const double> full, std::size_t c, const Own& own, ResidualRows& rows,
                const FewRows& few) const {
    if constexpr (has_parts) {
      if (with_parts(full)) return jet_rows_of<Family>(full, c, own, rows, few);
    }
    return jet_rows_of<Plain>(full, c, own, rows, few);
  }

  template <class Variant>
  bool jet_rows_of(std::span<const double> full, std::size_t c, const Own& own, ResidualRows& rows,
                   const FewRows& few) const {
    using Jet = JetOf<Variant>;
    const DrivenCapture& drive = drives_[c];
    bool finite = true;
    std::vector<double> slopes(own.slots.size());
    const double late_by_coordinate = delay_scale_s / drive.dt_s;
    const auto after_block = [&]([[maybe_unused]] std::size_t k, [[maybe_unused]] const auto& state) {
      if constexpr (states > 0) {
        if (k == last_of_whole_cycles_[c]) {
          constexpr std::size_t lamp = Variant::parameters.size();
          for_each_return(c, [&](std::size_t at, std::size_t unknown) {
            const std::size_t index = layout_[unknown].index;
            const std::vector<Jet> values = Runs::template lamp_values<Jet>(full, lamp);
            const auto [back, sd] = missed_return<Jet>(
                unknown, Runs::template seeded<Jet>(full, unknown, lamp + 1 + index), state[index], values);
            few.r[at] = back.a / sd;
            for (std::size_t j = 0; j < own.slots.size(); ++j) {
              if (own.slots[j] >= 0) few.jacobian[at * free_.size() + own.columns[j]] = back.v[own.slots[j]] / sd;
            }
            finite = finite && std::isfinite(back.a) && back.v.allFinite();
          });
        }
      }
    };
    const auto take = [&](const ShownBlock<Jet>& shown) {
      const std::size_t k = shown.block;
      if (!is_fitted(drive.use[k])) return;
      const auto [value, slope] = tamed((shown.mean_a.a + offset(full, c) - drive.current_a[k]) / weights_[c][k]);
      const double weight = slope / weights_[c][k];
      double all = value;
      for (std::size_t j = 0; j < own.slots.size(); ++j) {
        const int slot = own.slots[j];
        slopes[j] = weight * (slot >= 0             ? shown.mean_a.v[slot]
                              : slot == offset_slot ? 1.0
                                                    : shown.by_late * late_by_coordinate);
        all += slopes[j];
      }
      rows.take(value, slopes);
      finite = finite && std::isfinite(all);
    };
    Runs::template run_variant<Variant, Jet>(full, c, drive, drive.line_v, take, after_block);
    return finite;
  }

  /// By how much a start state misses what the capture's whole cycles make of it (of a slow state: where they lead it
  /// in the end), both in units of its size, and the standard deviation allowed. `end`: the state after them.
  template <class T>
  std::pair<T, double> missed_return(std::size_t unknown, const T& start, const T& end,
                                     std::span<const T> values) const {
    const StateSpec& spec = Family::states[layout_[unknown].index];
    const T after = end / spec.unit_size();
    if constexpr (has_parts) {
      if (!spec.time_constant.empty()) {
        const DrivenCapture& drive = drives_[layout_[unknown].capture];
        const std::size_t last = *last_of_whole_cycles_[layout_[unknown].capture];
        const double whole_s = static_cast<double>(drive.bounds[last + 1] - drive.bounds.front()) * drive.dt_s;
        const T& time_constant_s = values[index_of(Family::parameters, spec.time_constant)];
        return {heading_of(start, after, whole_s, time_constant_s) - start, settled_sd};
      }
    }
    return {after - start, return_sd};
  }

  /// Calls f(row of the few, unknown) for each start state of a capture that its whole cycles must come back to.
  template <class F>
  void for_each_return(std::size_t c, F&& f) const {
    for (std::size_t n = 0; n < returns_.size(); ++n) {
      if (layout_[returns_[n]].capture == c) f(observations_.size() + priors_.size() + n, returns_[n]);
    }
  }
  [[nodiscard]] std::size_t first_return() const { return origins_.size() + observations_.size() + priors_.size(); }

  /// Mean square of what the voltage's remaining noise changes of each block's mean current: a few runs with drawn
  /// noise.
  [[nodiscard]] std::vector<double> passed_on_noise(std::span<const double> full, std::size_t c,
                                                    std::span<const double> mean_a) const {
    const DrivenCapture& drive = drives_[c];
    const auto runs = static_cast<double>(drive.noisy_line_v.size());
    std::vector<double> square(drive.blocks(), 0.0);
    for (const std::vector<double>& noisy_v : drive.noisy_line_v) {
      run(full, c, drive, noisy_v, [&](const auto& shown) {
        const double change = shown.mean_a + offset(full, c) - mean_a[shown.block];
        square[shown.block] += change * change / runs;
      });
    }
    return square;
  }

  SharedDrives shared_drives_;
  unsigned threads_ = 1;
  std::vector<DirectObservation> observations_;
  BlockWeights weights_;
  std::vector<Unknown> layout_;
  std::vector<Origin> origins_;
  std::vector<std::size_t> first_row_;  ///< of each capture
  std::vector<double> full_;
  std::vector<std::size_t> free_;
  std::vector<std::size_t> priors_;
  std::vector<std::size_t> returns_;  ///< start states that whole cycles must come back to
  std::vector<std::optional<std::size_t>> last_of_whole_cycles_;
};

/// Of the families of one unit: every residual_units-th of the list.
template <std::size_t Unit>
std::unique_ptr<LampResiduals> make_residuals_of(std::size_t family, SharedDrives drives,
                                                 std::vector<DirectObservation> observations,
                                                 const std::vector<UsualValue>& usual) {
  std::unique_ptr<LampResiduals> made;
  [&]<std::size_t... At>(std::index_sequence<At...>) {
    const auto make = [&]<std::size_t Index>() {
      if constexpr (Index % residual_units == Unit) {
        using Family = std::tuple_element_t<Index, LampFamilies>;
        if (Index == family)
          made = std::make_unique<FamilyResiduals<Family>>(std::move(drives), std::move(observations), usual);
      }
    };
    (make.template operator()<At>(), ...);
  }
  (std::make_index_sequence<std::tuple_size_v<LampFamilies>>());
  return made;
}

}  // namespace lampload
