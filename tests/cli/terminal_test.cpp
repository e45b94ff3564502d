// What reaches a terminal: colour only where it is wanted, tables that fit, names that cannot steer it.

#include <gtest/gtest.h>

#include "cli/quantity.h"
#include "cli/terminal.h"
#include "program.h"

namespace lampload::test::terminal_test {
namespace {

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

TEST(Progress, TellsWhatIsLeft) {
  EXPECT_EQ(remaining_in_words(0.5, 10.0), "about 10 s left");
  EXPECT_EQ(remaining_in_words(0.25, 100.0), "about 5 min left");
  EXPECT_EQ(remaining_in_words(0.01, 1.0), "") << "too early to say";
  EXPECT_EQ(remaining_in_words(1.0, 10.0), "");
}

TEST(Terminal, ColourOnATerminalOnly) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  EXPECT_TRUE(contains(place.run_on_terminal({"inspect", "kettle.csv"}).out, "\x1b["));
  EXPECT_FALSE(contains(place.run_on_terminal({"inspect", "kettle.csv"}, "", {{"NO_COLOR", "1"}}).out, "\x1b["));
  EXPECT_FALSE(contains(place.run_on_terminal({"inspect", "kettle.csv"}, "", {{"TERM", "dumb"}}).out, "\x1b["));
  EXPECT_FALSE(contains(place.run_on_terminal({"inspect", "kettle.csv", "--json"}).out, "\x1b["));
  EXPECT_FALSE(contains(place.run({"inspect", "kettle.csv"}).out, "\x1b["));
}

TEST(Terminal, NamesCannotSteerTheTerminal) {
  Workplace place;
  const std::string nasty = "kettle\x1b[31m\"'\n\xe2\x80\xae.csv";
  place.write_resistor_capture(nasty);
  const Outcome inspected = place.run({"inspect", nasty});
  ASSERT_EQ(inspected.status, 0) << inspected.err;
  EXPECT_FALSE(contains(inspected.out, "\x1b"));
  EXPECT_FALSE(contains(inspected.out, "\xe2\x80\xae"));
  EXPECT_TRUE(contains(inspected.out, "kettle\\x1b[31m\"'\\x0a\\u{202e}.csv")) << inspected.out;
  const Outcome absent = place.run({"inspect", "gone\x1b]0;title\x07.csv"});
  EXPECT_EQ(absent.status, 3);
  EXPECT_FALSE(contains(absent.err, "\x1b")) << absent.err;
  // Not UTF-8 in a name: one valid document all the same.
  place.write_resistor_capture("kettle\xff.csv");
  EXPECT_TRUE(contains(place.run({"inspect", "kettle\xff.csv", "--json"}).out, "kettle\xef\xbf\xbd.csv"));
  // Quotes go through the library and back.
  const std::string quoted = "the club's \"big\" kettle; DROP TABLE";
  ASSERT_EQ(place.run({"import", nasty, "--lamp", quoted}).status, 0);
  EXPECT_TRUE(contains(place.run({"lamps"}, {{"COLUMNS", "200"}}).out, quoted));
  EXPECT_EQ(place.run({"show", quoted}).status, 0);
}

TEST(Terminal, TablesFitTheWidth) {
  Workplace place;
  const std::string name = "a lamp with a rather long name that has many words in it, as labels have";
  place.write_resistor_capture("kettle.csv");
  ASSERT_EQ(place.run({"import", "kettle.csv", "--lamp", name}).status, 0);
  for (const std::size_t width : {80U, 100U, 160U}) {
    const std::string text = place.run({"lamps"}, {{"COLUMNS", std::to_string(width)}}).out;
    EXPECT_EQ(text.find("\nZ"), std::string::npos) << text;  // times stay whole, and words give way
    EXPECT_NE(text.find("Z\n"), std::string::npos) << text;
    std::size_t start = 0;
    while (start < text.size()) {
      const std::size_t end = text.find('\n', start);
      EXPECT_LE(end - start, width) << text;
      start = end + 1;
    }
  }
}

TEST(Printable, KeepsTextAndShowsTheRest) {
  EXPECT_EQ(printable("Fluß 5 W"), "Fluß 5 W");
  EXPECT_EQ(printable(std::string("a\0b", 3)), "a\\x00b");
  EXPECT_EQ(printable("\xc2\x9b"
                      "31m"),
            "\\u{009b}31m");                                // C1 control sequence introducer
  EXPECT_EQ(printable("\xc0\xaf"), "\\xc0\\xaf");           // overlong
  EXPECT_EQ(printable("\xed\xa0\x80"), "\\xed\\xa0\\x80");  // surrogate
  EXPECT_EQ(printable("\xf0\x9f"), "\\xf0\\x9f");           // cut short
}

TEST(Quantity, EngineeringPrefixes) {
  EXPECT_EQ(quantity(47.3e-6, "F", 3), "47.3 uF");
  EXPECT_EQ(quantity(12.1, "Ohm", 3), "12.1 Ohm");
  EXPECT_EQ(quantity(0.0, "A"), "0 A");
  EXPECT_EQ(quantity(-0.0123, "A", 3), "-12.3 mA");
  EXPECT_EQ(quantity(0.99996, "A"), "1.000 A");
  EXPECT_EQ(quantity(999.96, "V"), "1.000 kV");
  EXPECT_EQ(quantity(1.7e-3, "A2s", 2), "0.0017 A2s");
  EXPECT_EQ(quantity(97.0, "%", 3), "97.0 %");
  EXPECT_EQ(quantity(0.95, "", 3), "0.950");
}

TEST(Quantity, DigitsFollowTheUncertainty) {
  const QuantityWithUncertainty text = quantity(47.3216e-6, 0.31e-6, 46.7e-6, 47.93e-6, "F");
  EXPECT_EQ(text.value, "47.32 uF");
  EXPECT_EQ(text.standard_uncertainty, "0.31 uF");
  EXPECT_EQ(text.interval_95, "46.70 to 47.93 uF");
  const QuantityWithUncertainty unknown = quantity(3.0, 0.0, 0.01, 10.0, "Ohm");
  EXPECT_EQ(unknown.standard_uncertainty, "");
  EXPECT_EQ(unknown.interval_95, "0.01000 to 10.00 Ohm");
}

TEST(Quantity, NamesInWords) {
  EXPECT_EQ(spoken("input_capacitance_f"), "input capacitance");
  EXPECT_EQ(spoken("radiation_w_per_k4"), "radiation");
  EXPECT_EQ(spoken("heat_capacity_j_per_k"), "heat capacity");
  EXPECT_EQ(spoken("tap_voltage_2_v"), "tap voltage 2");
  EXPECT_EQ(spoken("leading_edge"), "leading edge");
  EXPECT_EQ(spoken("reservoir_esr_ohm"), "reservoir ESR");
  EXPECT_EQ(spoken_sentence("A continuous_current limit above 2.2 A (output.rated_current_a); see surge_i2t."),
            "A continuous current limit above 2.2 A (output.rated_current_a); see surge I2t.");
}

}  // namespace
}  // namespace lampload::test::terminal_test
