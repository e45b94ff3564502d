#include "core/capture/decimal_pairs.h"

#include <optional>

namespace lampload {
namespace {

constexpr std::string_view decimal_digits = "0123456789";

// "24", "-3", "0"; not "024", which nobody writes before a comma.
bool can_be_whole(std::string_view cell) {
  if (cell.empty()) return true;  // no value
  if (cell.front() == '-' || cell.front() == '+') cell.remove_prefix(1);
  if (cell.empty() || cell.find_first_not_of(decimal_digits) != std::string_view::npos) return false;
  return cell.size() == 1 || cell.front() != '0';
}

bool can_be_fraction(std::string_view cell, std::size_t digits) {
  const std::size_t exponent = cell.find_first_of("eE");
  if (cell.substr(0, exponent).find_first_not_of(decimal_digits) != std::string_view::npos) return false;
  return digits == 0 ? exponent != 0 && !cell.empty() : cell.size() == digits;
}

class Pairing {
 public:
  Pairing(const std::vector<std::string_view>& cells, const DecimalPairs& pairs) : cells_(cells), pairs_(pairs) {}

  // The only way: which values have a fraction.
  std::optional<std::vector<bool>> only_one() {
    go_on(0, 0);
    return ways_ == 1 ? std::optional(found_) : std::nullopt;
  }

 private:
  void go_on(std::size_t cell, std::size_t value) {
    const std::size_t left = cells_.size() - cell;
    const std::size_t values = pairs_.values - value;
    if (ways_ > 1 || left < values || left > 2 * values) return;
    if (values == 0) {
      ++ways_;
      found_ = taken_;
      return;
    }
    if (!can_be_whole(cells_[cell])) return;
    const auto with = [&](bool fraction) {
      taken_.push_back(fraction);
      go_on(cell + (fraction ? 2 : 1), value + 1);
      taken_.pop_back();
    };
    const std::size_t digits = value < pairs_.digits.size() ? pairs_.digits[value] : 0;
    if (left > 1 && !cells_[cell].empty() && can_be_fraction(cells_[cell + 1], digits)) with(true);
    with(false);
  }

  const std::vector<std::string_view>& cells_;
  const DecimalPairs& pairs_;
  std::vector<bool> taken_;
  std::vector<bool> found_;
  std::size_t ways_ = 0;
};

}  // namespace

bool join_decimal_pairs(std::vector<std::string_view>& cells, const DecimalPairs& pairs) {
  const auto joined = [&](std::size_t k) {
    return std::string_view(cells[k].data(),
                            static_cast<std::size_t>(cells[k + 1].data() - cells[k].data()) + cells[k + 1].size());
  };
  if (pairs.values == 0 || cells.size() == 2 * pairs.values) {
    const std::size_t count = cells.size() / 2;
    for (std::size_t k = 0; k < count; ++k) cells[k] = joined(2 * k);
    cells.resize(count + cells.size() % 2);
    return true;
  }
  const auto way = Pairing(cells, pairs).only_one();
  if (!way) return false;
  std::vector<std::string_view> numbers;
  std::size_t at = 0;
  for (const bool fraction : *way) {
    numbers.push_back(fraction ? joined(at) : cells[at]);
    at += fraction ? 2 : 1;
  }
  cells = std::move(numbers);
  return true;
}

}  // namespace lampload
