#include "core/capture/plain_rows.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <deque>
#include <future>
#include <thread>
#include <utility>

#include "core/capture/plain_number.h"

namespace lampload {
namespace {

const char* find(const char* at, const char* end, char wanted) {
  return static_cast<const char*>(std::memchr(at, wanted, static_cast<std::size_t>(end - at)));
}

/// Behind the last wanted cell; nullptr where the line is no plain row.
const char* read_row(const char* at, const char* end, std::span<const WantedCell> wanted, PlainForm form,
                     std::array<double, 3>& found) {
  std::size_t column = 0;
  while (at < end && *at == ' ') ++at;
  if (at < end && (*at == '#' || *at == '%' || *at == '/' || *at == ';')) return nullptr;
  for (const WantedCell& cell : wanted) {
    for (; column < cell.column; ++column) {
      const char* const cell_end = find(at, end, form.separator);
      if (cell_end == nullptr || find(at, cell_end, '"') != nullptr || find(at, cell_end, '\n') != nullptr) {
        return nullptr;
      }
      at = cell_end + 1;
    }
    while (at < end && *at == ' ') ++at;
    double& value = found[cell.place];
    at = read_plain_number(at, end, form.decimal, value);
    if (at == nullptr || !(std::abs(value) < largest_plain)) return nullptr;
    while (at < end && (*at == ' ' || *at == '\r')) ++at;
    if (at < end && *at != form.separator && *at != '\n') return nullptr;
  }
  std::size_t separators = column;
  if (at < end && *at == form.separator) {
    const char* const newline = find(at, end, '\n');
    const char* const line_end = newline == nullptr ? end : newline;
    separators += static_cast<std::size_t>(std::count(at, line_end, form.separator));
    at = line_end;
  }
  return separators < form.fewest_separators || separators > form.most_separators ? nullptr : at;
}

}  // namespace

void read_plain_rows(PlainRows& rows, std::size_t from, std::span<const WantedCell> wanted, PlainForm form) {
  const std::string_view text = rows.block.text();
  const char* at = text.data() + std::min(from, text.size());
  const char* const end = text.data() + text.size();
  for (auto& list : rows.values) list.clear();
  rows.others.clear();
  rows.rows = 0;
  std::array<double, 3> found{};
  while (at < end) {
    const char* const behind = form.separator == '\0' ? nullptr : read_row(at, end, wanted, form, found);
    const char* const newline = find(behind == nullptr ? at : behind, end, '\n');
    const char* const line_end = newline == nullptr ? end : newline;
    if (behind == nullptr) {
      rows.others.push_back({rows.rows, {at, static_cast<std::size_t>(line_end - at)}});
    } else {
      for (const WantedCell& cell : wanted) rows.values[cell.place].push_back(found[cell.place]);
      ++rows.rows;
    }
    at = newline == nullptr ? end : newline + 1;
  }
}

void for_each_plain_rows(TextBlocks& blocks, PlainRows first, std::size_t from, std::span<const WantedCell> wanted,
                         PlainForm form, const std::function<void(const PlainRows&)>& take) {
  const std::size_t ahead = std::clamp<std::size_t>(std::thread::hardware_concurrency(), 1, 8) + 1;
  std::vector<PlainRows> spare;
  std::deque<std::future<PlainRows>> under_way;  // in the order of the file
  PlainRows next;
  bool more = blocks.next(next.block);
  // A short file is not worth a thread.
  const auto how = more ? std::launch::async : std::launch::deferred;
  const auto start = [&](PlainRows rows, std::size_t begin) {
    under_way.push_back(std::async(
        how,
        [wanted, form, begin](PlainRows work) {
          read_plain_rows(work, begin, wanted, form);
          return work;
        },
        std::move(rows)));
  };
  start(std::move(first), from);
  while (!under_way.empty()) {
    while (more && under_way.size() < ahead) {
      start(std::move(next), 0);
      next = {};
      if (!spare.empty()) {
        next = std::move(spare.back());
        spare.pop_back();
      }
      more = blocks.next(next.block);
    }
    PlainRows done = under_way.front().get();
    under_way.pop_front();
    take(done);
    spare.push_back(std::move(done));
  }
}

}  // namespace lampload
