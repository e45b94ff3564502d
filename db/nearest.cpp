#include "db/nearest.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <numeric>
#include <utility>

#include "core/lower_case.h"

namespace lampload {
namespace {

void fold_into(std::string& lower, std::string_view text) {
  lower.resize(text.size());
  std::transform(text.begin(), text.end(), lower.begin(), [](char c) { return lower_case(c); });
}

/// Letters are told apart by their lower six bits: what they then say of a distance is a little low, and soon had.
constexpr unsigned kinds = 64;
unsigned kind_of(char c) { return static_cast<unsigned char>(c) % kinds; }

std::uint64_t letters_of(std::string_view text) {
  std::uint64_t letters = 0;
  for (const char c : text) letters |= std::uint64_t{1} << kind_of(c);
  return letters;
}

/// No less than this many edits: letters that the other has not, whatever their order.
std::size_t letters_apart(std::string_view a, std::string_view b) {
  std::array<int, kinds> more{};
  for (const char c : a) ++more[kind_of(c)];
  int only_b = 0;
  for (const char c : b) only_b += --more[kind_of(c)] < 0 ? 1 : 0;
  const auto lacking = static_cast<std::size_t>(only_b);
  return std::max(lacking, a.size() + lacking - b.size());
}

std::string quoted_list(std::span<const std::string> names) {
  std::string text;
  for (const std::string& name : names) text += fmt::format("{}'{}'", text.empty() ? "" : ", ", name);
  return text;
}

}  // namespace

NearTo::NearTo(std::string_view asked) {
  fold_into(wanted_, asked);
  wanted_letters_ = letters_of(wanted_);
  furthest_ = std::max<std::size_t>(2, wanted_.size() / 2);
}

// What cannot be near is told by lengths and letters; the distance itself is given up where it has grown too large.
std::optional<std::size_t> NearTo::distance(std::string_view known) {
  fold_into(candidate_, known);
  const std::uint64_t letters = letters_of(candidate_);
  const std::uint64_t lacking = wanted_letters_ & ~letters;
  if (!wanted_.empty() && lacking == 0 && candidate_.find(wanted_) != std::string::npos) return 1;
  const auto too_far = [&](std::size_t edits) { return edits > furthest_; };
  if (too_far(static_cast<std::size_t>(std::popcount(lacking)))) return std::nullopt;
  if (too_far(static_cast<std::size_t>(std::popcount(letters & ~wanted_letters_)))) return std::nullopt;
  const std::size_t longer = std::max(wanted_.size(), candidate_.size());
  if (too_far(longer - std::min(wanted_.size(), candidate_.size()))) return std::nullopt;
  if (too_far(letters_apart(wanted_, candidate_))) return std::nullopt;
  row_.resize(candidate_.size() + 1);
  std::iota(row_.begin(), row_.end(), std::size_t{0});
  for (std::size_t i = 1; i <= wanted_.size(); ++i) {
    std::size_t diagonal = std::exchange(row_[0], i);
    std::size_t least = i;
    for (std::size_t j = 1; j <= candidate_.size(); ++j) {
      const std::size_t replaced = diagonal + (wanted_[i - 1] == candidate_[j - 1] ? 0 : 1);
      diagonal = std::exchange(row_[j], std::min({row_[j] + 1, row_[j - 1] + 1, replaced}));
      least = std::min(least, row_[j]);
    }
    if (too_far(least)) return std::nullopt;
  }
  return too_far(row_.back()) ? std::nullopt : std::optional(row_.back());
}

void Nearest::look_at(std::string_view known) {
  if (const auto distance = near_.distance(known)) found_.emplace_back(*distance, known);
}

std::vector<std::string> Nearest::names(std::size_t most) const {
  std::vector<std::pair<std::size_t, std::string>> sorted = found_;
  std::sort(sorted.begin(), sorted.end());
  std::vector<std::string> names;
  for (auto& [distance, name] : sorted) {
    if (names.size() < most) names.push_back(std::move(name));
  }
  return names;
}

std::vector<std::string> nearest_names(std::string_view asked, std::span<const std::string> known, std::size_t most) {
  Nearest nearest(asked);
  for (const std::string& name : known) nearest.look_at(name);
  return nearest.names(most);
}

std::string nearest_sentence(std::string_view asked, std::span<const std::string> known, std::string_view none) {
  if (known.empty()) return std::string(none);
  const std::vector<std::string> near = nearest_names(asked, known);
  if (near.size() == 1) return fmt::format("the nearest is {}", quoted_list(near));
  if (!near.empty()) return fmt::format("the nearest are {}", quoted_list(near));
  constexpr std::size_t shown = 10;
  return fmt::format("there {} {}{}", known.size() == 1 ? "is" : "are",
                     quoted_list(known.subspan(0, std::min(shown, known.size()))), known.size() > shown ? ", ..." : "");
}

}  // namespace lampload
