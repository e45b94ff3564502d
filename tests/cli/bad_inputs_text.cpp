#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <numbers>

#include "bad_inputs.h"

namespace lampload::test {
namespace {

constexpr std::size_t rows = 80;

std::string row_of(std::size_t k, const std::string& separator = ",") {
  const double angle = 2.0 * std::numbers::pi * static_cast<double>(k) / 40.0;
  return fmt::format("{:.4f}{}{:.1f}{}{:.3f}", 5e-4 * static_cast<double>(k), separator, 325.0 * std::sin(angle),
                     separator, 0.4 * std::sin(angle));
}

std::string table(const std::string& header, const std::function<std::string(std::size_t)>& row) {
  std::string text = header + "\n";
  for (std::size_t k = 0; k < rows; ++k) text += row(k) + "\n";
  return text;
}

/// One row in place of the fiftieth, which is line 51.
std::string with_row(const std::string& damaged) {
  return table("time,voltage,current", [&](std::size_t k) { return k == 49 ? damaged : row_of(k); });
}

std::string good() {
  return table("time,voltage,current", [](std::size_t k) { return row_of(k); });
}

std::string timed(const std::function<double(std::size_t)>& time) {
  return table("time,voltage,current", [&](std::size_t k) {
    return fmt::format("{:.5f},{:.1f},{:.3f}", time(k), 10.0 * static_cast<double>(k % 7),
                       0.1 * static_cast<double>(k % 5));
  });
}

double seconds(std::size_t k) { return 5e-4 * static_cast<double>(k); }

BadInput table_case(std::string name, std::string text, std::string message, std::size_t line = 0) {
  return {std::move(name), {{"bad.csv", std::move(text)}}, std::move(message), {}, line};
}

}  // namespace

std::vector<BadInput> bad_tables() {
  std::vector<BadInput> cases;
  for (const char* token : {"abc", "1.2.3", "1 234", "12..5", "1e", "e5", "0x1F", "12 apples", "$5", "5%", "TRUE",
                            "#REF!", "1,2", "+-3", "3-", "NULL", "12:30"}) {
    const std::string cell = token;
    const std::string quoted = cell == "1,2" ? "\"1,2\"" : cell;
    cases.push_back(
        table_case("voltage " + cell, with_row("0.0245," + quoted + ",0.1"), "a number was expected, found", 51));
    cases.push_back(
        table_case("current " + cell, with_row("0.0245,10.0," + quoted), "a number was expected, found", 51));
    if (cell.front() == '#') continue;  // a row that begins so is a comment
    cases.push_back(table_case("time " + cell, with_row(quoted + ",10.0,0.1"), "a number was expected, found", 51));
  }
  cases.push_back(table_case("an open quote", with_row("0.0245,\"4,0.1"), "a number was expected", 51));
  cases.push_back(table_case("empty voltage", with_row("0.0245,,0.1"), "a number was expected, the cell is empty", 51));
  cases.push_back(
      table_case("empty current", with_row("0.0245,10.0,"), "a number was expected, the cell is empty", 51));
  cases.push_back(table_case("short row", with_row("0.0245,10.0"), "a number was expected, the cell is empty", 51));
  cases.push_back(table_case("empty time", with_row(",10.0,0.1"), "a number was expected, the cell is empty", 51));
  cases.push_back(table_case("time lost", with_row("OL,10.0,0.1"), "\"OL\" is no time", 51));
  cases.push_back(table_case("time infinite", with_row("inf,10.0,0.1"), "\"inf\" is no time", 51));
  cases.push_back(table_case("time enormous", with_row("9.9e37,10.0,0.1"), "\"9.9e37\" is no time", 51));
  cases.push_back(
      table_case("a third of the current lost",
                 table("time,voltage,current",
                       [](std::size_t k) { return k % 3 == 0 ? fmt::format("{},10,OL", seconds(k)) : row_of(k); }),
                 "stand for a value beyond the instrument's range"));
  cases.push_back(
      table_case("all of the voltage lost",
                 table("time,voltage,current", [](std::size_t k) { return fmt::format("{},9.9e37,1", seconds(k)); }),
                 "stand for a value beyond the instrument's range"));
  cases.push_back(table_case("absurd voltage", with_row("0.0245,1e12,0.1"), "sample 50 of the voltage is 1e+12"));
  cases.push_back(table_case("absurd current", with_row("0.0245,1,-2e9"), "sample 50 of the current is -2e+09"));
  cases.push_back(table_case("time once backwards", with_row("0.001,10.0,0.1"), "time runs backwards", 51));
  cases.push_back(table_case("time backwards throughout", timed([](std::size_t k) { return 1.0 - seconds(k); }),
                             "time runs backwards, from 1 s to 0.9995 s", 3));
  // One in more than a hundred: fewer than rounding makes.
  cases.push_back(table_case(
      "time repeated with other values",
      with_row("0.024,10.0,0.1") + "0.04,1,0.1\n" +
          [] {
            std::string more;
            for (std::size_t k = 81; k < 2 * rows; ++k) more += row_of(k) + "\n";
            return more;
          }(),
      "the time stamp repeats the one before", 51));
  cases.push_back(
      table_case("time standing still", timed([](std::size_t) { return 0.5; }), "all time stamps are the same"));
  cases.push_back(table_case("a gap", timed([](std::size_t k) { return seconds(k) + (k < 40 ? 0.0 : 2.0); }),
                             "time jumps by 2.0005 s here, while samples are 0.0005 s apart", 42));
  cases.push_back(table_case("a gap near the end",
                             timed([](std::size_t k) { return seconds(k) + (k < 75 ? 0.0 : 2.0); }), "time jumps by",
                             77));
  cases.push_back(table_case("two segments", timed([](std::size_t k) { return seconds(k % 40); }),
                             "the record has 2 segments (1: 40 samples from 0 s to 0.0195 s, 2: 40 samples", 42));
  cases.push_back(table_case("four segments", timed([](std::size_t k) { return seconds(k % 20); }), "4 segments", 22));
  cases.push_back(table_case("no time", table("voltage,current", [](std::size_t k) { return row_of(k).substr(7); }),
                             "there is no time column and no sample interval"));
  cases.push_back(table_case("only one column", table("voltage", [](std::size_t k) { return fmt::format("{}", k); }),
                             "no column of current was found"));
  cases.push_back(
      table_case("header repeated",
                 table("Sampling rate,2 kHz\nvoltage,current",
                       [](std::size_t k) { return (k == 40 ? "voltage,current\n" : "") + row_of(k).substr(7); }),
                 "the header is repeated among the rows"));
  cases.push_back(table_case("nothing", "", "is empty"));
  cases.push_back(table_case("blank lines", "\n\n\n\n", "no rows of numbers"));
  cases.push_back(table_case("a header alone", "time,voltage,current\n", "no rows of numbers"));
  cases.push_back(table_case("prose", "a clubroom pendant\nmeasured on a Sunday\n", "no rows of numbers"));
  cases.push_back(table_case("ten rows", good().substr(0, 250), "fewer than 16"));
  cases.push_back(table_case("carriage returns alone", "time,voltage,current\r0,1,2\r1,2,3\r",
                             "line ends of a single carriage return"));
  cases.push_back(table_case("control characters", "\x01\x02" + good(), "binary data"));
  cases.push_back(table_case("zeros in the text", good().insert(400, std::string(3, '\0')), "binary data"));
  cases.push_back(
      table_case("thousands separators",
                 table("time;voltage;current", [](std::size_t k) { return fmt::format("{};1,234.5;0.1", seconds(k)); }),
                 "column 2 \"voltage\" holds no numbers that can be read, such as \"1,234.5\""));
  cases.push_back(
      table_case("unknown names", table("time,red,blue", [](std::size_t k) { return row_of(k); }),
                 "no column of voltage was found; the columns are 1 \"time\" (time), 2 \"red\", 3 \"blue\""));
  cases.push_back(table_case("two voltages", table("time,CH1 (V),CH2 (V)", [](std::size_t k) { return row_of(k); }),
                             "more than one column could be the voltage"));
  cases.push_back(table_case("two currents",
                             table("time,voltage,i1 (A),i2 (A)", [](std::size_t k) { return row_of(k) + ",1"; }),
                             "more than one column could be the current"));
  cases.push_back(table_case("current in volts",
                             table("time,voltage,current (V)", [](std::size_t k) { return row_of(k); }),
                             "no column of current was found"));
  cases.push_back(table_case("five columns without names",
                             table(row_of(0) + ",1,2", [](std::size_t k) { return row_of(k + 1) + ",1,2"; }),
                             "no header, and more columns than time, voltage and current"));
  cases.push_back(
      table_case("damage in the first rows", "time,voltage,current\n0,1,2\n0.1,x,2\n" + good().substr(21), "", 3));
  return cases;
}

std::vector<BadInput> bad_choices() {
  std::vector<BadInput> cases;
  const auto add = [&](std::string name, std::string message, std::vector<std::string> options) {
    cases.push_back({std::move(name), {{"bad.csv", good()}}, std::move(message), std::move(options)});
  };
  for (const char* option : {"--time-column", "--voltage-column", "--current-column"}) {
    add(std::string("no name, ") + option, "there is no column \"torque\"; the columns are", {option, "torque"});
    add(std::string("no number, ") + option, "there is no column number 9", {option, "9"});
    add(std::string("zero, ") + option, "there is no column number 0", {option, "0"});
  }
  add("voltage twice", "the same column is named twice", {"--voltage-column", "2", "--current-column", "voltage"});
  add("time as voltage", "the same column is named twice", {"--time-column", "1", "--voltage-column", "1"});
  add("an absurd scale", "after scaling, which no lamp capture can hold", {"--voltage-scale", "1e9"});
  add("a delay beyond the record", "is longer than half of the capture", {"--current-delay", "1"});
  add("no such segment", "there is no segment 2; the record is one piece", {"--segment", "2"});
  cases.push_back({"one name, two columns",
                   {{"bad.csv", table("time,voltage,voltage", [](std::size_t k) { return row_of(k); })}},
                   "more than one column is named \"voltage\"",
                   {"--voltage-column", "voltage", "--current-column", "3"}});
  cases.push_back({"words",
                   {{"bad.csv", table("time,lamp,voltage,current",
                                      [](std::size_t k) { return fmt::format("{},pendant,1,2", seconds(k)); })}},
                   "column lamp holds no numbers",
                   {"--current-column", "lamp"}});
  return cases;
}

std::vector<BadInput> bad_layout_files() {
  std::vector<BadInput> cases;
  const std::string start = "format = lampload-layout\nformat_version = 1.0\n";
  const auto add = [&](std::string name, std::string layout, std::string message, std::size_t line = 0) {
    cases.push_back({"layout: " + std::move(name),
                     {{"bad.csv", good()}, {"bad.layout", std::move(layout)}},
                     std::move(message),
                     {"--layout", "bad.layout"},
                     line});
  };
  add("empty", "", "is empty");
  add("comments alone", "# nothing\n", "holds no layout");
  add("a table", good(), "a line \"key = value\" was expected", 1);
  add("no format", "separator = comma\n", "\"format = lampload-layout\" was expected", 1);
  add("another format", "format = lampload-channel\n", "\"format = lampload-layout\" was expected", 1);
  add("a later version", "format = lampload-layout\nformat_version = 2.0\n", "version 2.0 of the format is not known",
      2);
  add("unknown key", start + "torque = 1\n", "there is no such key; the keys are format, format_version, separator", 3);
  add("a key twice", start + "decimal = point\ndecimal = comma\n", "the key is there twice", 4);
  add("separator", start + "separator = colon\n", "one of comma, semicolon, tab, bar, blanks was expected", 3);
  add("decimal", start + "decimal = .\n", "one of point, comma was expected", 3);
  add("joined", start + "joined = yes\n", "one of none, pairs, clock was expected", 3);
  add("first row", start + "first_row = 0\n", "a whole number from 1 on was expected", 3);
  add("first row far away", start + "first_row = 900\n", "numbers begin in line 900");
  add("time unit", start + "time_unit = V\n", "a unit of time was expected", 3);
  add("voltage unit", start + "voltage_unit = A\n", "a unit of voltage was expected", 3);
  add("current unit", start + "current_unit = lumen\n", "a unit of current was expected", 3);
  add("interval", start + "sample_interval_s = 0\n", "a number above zero was expected", 3);
  add("start", start + "start_time_s = soon\n", "a number was expected", 3);
  add("column", start + "voltage_column = torque\n", "there is no column \"torque\"");
  add("comma twice", start + "separator = comma\ndecimal = comma\n", "a comma cannot be separator and decimal sign");
  return cases;
}

std::vector<BadInput> bad_pairs() {
  const auto one = [](const char* name, double interval, double start) {
    return table(std::string("time,") + name, [=](std::size_t k) {
      return fmt::format("{:.6f},{}", start + interval * static_cast<double>(k), k % 7);
    });
  };
  const auto pair = [&](std::string name, std::string second, std::string message) {
    return BadInput{std::move(name),
                    {{"u.csv", one("voltage", 5e-4, 0.0)}, {"i.csv", std::move(second)}},
                    std::move(message),
                    {},
                    0,
                    "u.csv+i.csv"};
  };
  return {pair("pair: other interval", one("current", 1e-3, 0.0), "different sample intervals"),
          pair("pair: other clock", one("current", 5e-4, 2e-4), "do not share a time base"),
          pair("pair: no overlap", one("current", 5e-4, 0.035), "hardly overlap in time"),
          pair("pair: far away", one("current", 5e-4, 9.0), "do not share a time base"),
          pair("pair: empty second", "", "is empty"),
          pair("pair: no current", one("voltage", 5e-4, 0.0), "no column of current was found"),
          BadInput{"pair: second missing",
                   {{"u.csv", one("voltage", 5e-4, 0.0)}},
                   "there is no such file",
                   {},
                   0,
                   "u.csv+nowhere.csv"},
          BadInput{"no such file", {}, "there is no such file", {}, 0, "nowhere.csv"},
          BadInput{"a folder", {}, "is a folder, not a file", {}, 0, "data"},
          BadInput{"a device", {}, "is a device or a pipe", {}, 0, "/dev/zero"}};
}

}  // namespace lampload::test
