#include "db/nearest.h"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <utility>

namespace lampload {
namespace {

std::string folded(std::string_view text) {
  std::string lower(text);
  for (char& c : lower) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  return lower;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = std::exchange(row[0], i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = std::exchange(row[j], std::min({row[j] + 1, row[j - 1] + 1, replaced}));
    }
  }
  return row.back();
}

std::string quoted_list(std::span<const std::string> names) {
  std::string text;
  for (const std::string& name : names) text += fmt::format("{}'{}'", text.empty() ? "" : ", ", name);
  return text;
}

}  // namespace

std::vector<std::string> nearest_names(std::string_view asked, std::span<const std::string> known, std::size_t most) {
  const std::string wanted = folded(asked);
  std::vector<std::pair<std::size_t, std::string>> found;
  for (const std::string& name : known) {
    const std::string candidate = folded(name);
    const bool contained = !wanted.empty() && candidate.find(wanted) != std::string::npos;
    const std::size_t distance = contained ? 1 : edit_distance(wanted, candidate);
    if (distance <= std::max<std::size_t>(2, wanted.size() / 2)) found.emplace_back(distance, name);
  }
  std::sort(found.begin(), found.end());
  if (found.size() > most) found.resize(most);
  std::vector<std::string> names;
  for (auto& [distance, name] : found) names.push_back(std::move(name));
  return names;
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
