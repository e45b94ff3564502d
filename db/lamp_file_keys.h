#pragma once
// The keys of a lamp model file: checking goes by these tables, and a test holds docs/formats/lamp.schema.json against
// them. Numbers have wide bounds that only catch slips of unit; those of parameters are in the families' own tables.

#include <array>
#include <span>
#include <string_view>

#include "core/lamp/label.h"

namespace lampload::lamp_keys {

enum class Kind {
  number,
  whole,
  flag,
  name,     ///< 1 to 200 bytes on one line
  line,     ///< at most 500 bytes on one line; may be empty
  prose,    ///< at most 10000 bytes, may have line feeds and tabs
  choice,   ///< one of `choices`
  hex,      ///< lower-case hexadecimal, `upper` digits
  digits,   ///< a whole number that JSON cannot hold exactly, as text
  time,     ///< 2024-02-29T12:00:00Z
  base64,   ///< RFC 4648, with padding
  wholes,   ///< list of whole numbers
  rows,     ///< list of lists of numbers
  object,   ///< as `shape` says
  objects,  ///< list of such
  figures,  ///< object of any names and numbers
  open,     ///< object of anything
};

struct Key;
using Shape = std::span<const Key>;

struct Key {
  std::string_view name = {};
  Kind kind = Kind::number;
  bool required = true;
  double lower = 0.0;
  double upper = 0.0;
  std::span<const std::string_view> choices = {};
  Shape shape = {};
};

constexpr bool must = true;
constexpr bool may = false;

constexpr Key number(std::string_view name, double lower, double upper, bool required = must) {
  return {name, Kind::number, required, lower, upper};
}
constexpr Key whole(std::string_view name, double lower, double upper, bool required = must) {
  return {name, Kind::whole, required, lower, upper};
}
constexpr Key of(Kind kind, std::string_view name, bool required = must) { return {name, kind, required}; }
constexpr Key choice(std::string_view name, std::span<const std::string_view> choices, bool required = must) {
  return {name, Kind::choice, required, 0.0, 0.0, choices};
}
constexpr Key hex(std::string_view name, double count, bool required = must) {
  return {name, Kind::hex, required, count, count};
}
constexpr Key inside(Kind kind, std::string_view name, Shape shape, bool required = must) {
  return {name, kind, required, 0.0, 0.0, {}, shape};
}

template <std::size_t N, std::size_t M>
constexpr std::array<Key, N + M> joined(const std::array<Key, N>& first, const std::array<Key, M>& second) {
  std::array<Key, N + M> all{};
  for (std::size_t i = 0; i < N + M; ++i) all[i] = i < N ? first[i] : second[i - N];
  return all;
}

inline constexpr std::array<std::string_view, 1> formats = {"lampload-lamp"};
inline constexpr std::array<std::string_view, 2> versions = {"1.0", "1.1"};
inline constexpr std::array<std::string_view, 1> algorithms = {"ed25519"};
inline constexpr std::array<std::string_view, 1> codecs = {"shuffle-zstd"};
inline constexpr std::array<std::string_view, 3> severities = {"note", "warning", "error"};
inline constexpr std::array<std::string_view, 3> edges = {"none", "leading", "trailing"};
inline constexpr std::array<std::string_view, 4> spread_sources = {"", "default", "mixture", "measured"};

inline constexpr double any = 1e300;
inline constexpr double most_samples = 20e6;  ///< of all captures of a file together

/// Who, when, with what, by which version of the program.
inline constexpr std::array provenance = {of(Kind::line, "person"), of(Kind::time, "time_utc"),
                                          of(Kind::line, "instrument"), of(Kind::line, "program_version")};

inline constexpr std::array dc_point = {number("voltage_v", -1e5, 1e5), number("current_a", -1e5, 1e5),
                                        number("uncertainty_a", 0, 1e5, may)};
/// What the label says, and what was measured without a scope.
inline constexpr std::array label = {number("nominal_voltage_v", 1e-3, 1e5, may),
                                     number("nominal_frequency_hz", 0, 1e5, may),
                                     number("rated_power_w", 1e-6, 1e6, may),
                                     number("cold_resistance_ohm", 1e-6, 1e9, may),
                                     of(Kind::flag, "label_dimmable", may),
                                     inside(Kind::objects, "dc_points", dc_point, may),
                                     of(Kind::name, "base", may),
                                     choice("technology", technologies, may)};
/// Of `label`: keys of version 1.1. A record without them is written as 1.0, so that earlier programs read it.
inline constexpr std::array<std::string_view, 2> label_of_1_1 = {"base", "technology"};

inline constexpr std::array note = {of(Kind::name, "code"), choice("severity", severities), of(Kind::prose, "message"),
                                    of(Kind::figures, "evidence", may)};

inline constexpr std::array reading = {of(Kind::line, "time_column", may),
                                       of(Kind::line, "voltage_column", may),
                                       of(Kind::line, "current_column", may),
                                       number("voltage_scale", -1e12, 1e12),
                                       number("current_scale", -1e12, 1e12),
                                       number("voltage_offset_v", -1e12, 1e12),
                                       number("current_offset_a", -1e12, 1e12),
                                       of(Kind::flag, "invert_current"),
                                       number("current_delay_s", -1e3, 1e3),
                                       number("sample_interval_s", 1e-15, 1e6, may),
                                       whole("segment", 1, 1e9, may)};

inline constexpr std::array cut = {choice("edge", edges), number("conduction_angle_deg", 0, 180),
                                   of(Kind::flag, "supply_side_voltage")};
inline constexpr std::array direct = {number("voltage_mean_v", -1e5, 1e5),
                                      number("current_mean_a", -1e5, 1e5),
                                      number("on_voltage_v", -1e5, 1e5),
                                      number("on_current_a", -1e5, 1e5),
                                      number("voltage_ripple_percent", -1e9, 1e9, may),
                                      number("current_ripple_percent", -1e9, 1e9, may),
                                      number("pulse_frequency_hz", 0, 1e9, may),
                                      number("duty", 0, 1, may)};
inline constexpr std::array turn_on = {whole("sample", 0, most_samples), number("phase_deg", -360, 720),
                                       of(Kind::flag, "supply_side_voltage")};
inline constexpr std::array inrush = {number("peak_a", 0, 1e6), number("i2t_a2s", 0, 1e9), number("width_s", 0, 1e4),
                                      number("phase_deg", -360, 720)};
inline constexpr std::array figures = {whole("samples", 1, most_samples),
                                       number("sample_rate_hz", 1e-6, 1e15),
                                       number("duration_s", 0, 1e9),
                                       number("mains_frequency_hz", 1e-3, 1e6, may),
                                       number("voltage_rms_v", 0, 1e5),
                                       number("current_rms_a", 0, 1e5),
                                       number("current_peak_a", 0, 1e5),
                                       number("active_power_w", -1e9, 1e9),
                                       number("apparent_power_va", 0, 1e9),
                                       number("power_factor", -1.001, 1.001, may),
                                       number("displacement_factor", -1.001, 1.001, may),
                                       number("current_crest_factor", 0, 1e6, may),
                                       number("current_thd_percent", 0, 1e9, may),
                                       inside(Kind::object, "cut", cut),
                                       inside(Kind::object, "direct", direct, may),
                                       inside(Kind::object, "turn_on", turn_on, may),
                                       inside(Kind::object, "inrush", inrush, may),
                                       number("current_offset_a", -1e5, 1e5),
                                       whole("steady_first", 0, most_samples),
                                       whole("steady_last", 0, most_samples),
                                       number("steady_phase_deg", -720, 720),
                                       inside(Kind::objects, "quality", note)};

inline constexpr std::array waveform = {choice("codec", codecs), of(Kind::base64, "voltage_v"),
                                        of(Kind::base64, "current_a"), of(Kind::base64, "clipped", may)};
inline constexpr std::string_view waveform_key = "waveform";
inline constexpr std::array capture = {of(Kind::line, "file"),
                                       hex("sha256", 64),
                                       of(Kind::name, "sample"),
                                       number("start_time_s", -1e12, 1e12),
                                       number("sample_interval_s", 1e-15, 1e6),
                                       whole("sample_count", 1, most_samples),
                                       number("voltage_step_v", 0, 1e5),
                                       number("current_step_a", 0, 1e5),
                                       inside(Kind::object, "reading", reading),
                                       inside(Kind::objects, "notes", note),
                                       inside(Kind::object, "figures", figures),
                                       inside(Kind::object, "measured", provenance),
                                       inside(Kind::object, waveform_key, waveform, may)};

inline constexpr std::array estimate = {of(Kind::name, "name"),        of(Kind::line, "unit"),
                                        number("value", -any, any),    number("standard_uncertainty", 0, any),
                                        number("lower_95", -any, any), number("upper_95", -any, any),
                                        of(Kind::flag, "identified"),  of(Kind::line, "remark")};
inline constexpr std::array spread_of_one = {
    of(Kind::name, "name"),     of(Kind::flag, "relative"), whole("samples", 1, 1e6),   number("spread", 0, any),
    number("lower_95", 0, any), number("upper_95", 0, any), number("measured", 0, any), number("usual_share", 0, 1.0)};
inline constexpr std::array spread = {
    choice("source", spread_sources), inside(Kind::objects, "parameters", spread_of_one),
    inside(Kind::objects, "derived", spread_of_one), inside(Kind::objects, "load", spread_of_one)};
inline constexpr std::array rival = {of(Kind::line, "family"), of(Kind::line, "load_law"),
                                     number("distance", -any, any)};
inline constexpr std::array next_capture = {of(Kind::line, "capture"), of(Kind::line, "narrows"),
                                            of(Kind::prose, "sentence")};

/// What a fit of one sample and one of a lamp type have alike, and each beside it.
inline constexpr std::array any_fit = {of(Kind::flag, "accepted"),
                                       of(Kind::prose, "verdict"),
                                       of(Kind::line, "family"),
                                       of(Kind::line, "load_law"),
                                       inside(Kind::objects, "parameters", estimate),
                                       inside(Kind::objects, "derived", estimate),
                                       of(Kind::rows, "covariance"),
                                       number("residual_rms_a", 0, 1e5),
                                       number("normalised_residual", 0, 1e9),
                                       inside(Kind::objects, "rivals", rival),
                                       inside(Kind::object, "next_capture", next_capture, may),
                                       of(Kind::digits, "seed"),
                                       of(Kind::wholes, "captures"),
                                       inside(Kind::object, "fitted", provenance)};
inline constexpr auto sample_fit = joined(any_fit, std::array{of(Kind::name, "sample")});
inline constexpr auto fit =
    joined(any_fit, std::array{inside(Kind::object, "spread", spread), inside(Kind::objects, "samples", sample_fit)});

inline constexpr std::array contributor = {of(Kind::line, "name"), hex("public_key", 64, may)};
inline constexpr std::array signature = {choice("algorithm", algorithms), hex("value", 128)};

inline constexpr std::array lamp = {choice("record_version", versions),
                                    of(Kind::name, "name"),
                                    of(Kind::prose, "notes"),
                                    of(Kind::prose, "licence"),
                                    inside(Kind::object, "contributor", contributor),
                                    inside(Kind::object, "label", label),
                                    inside(Kind::objects, "captures", capture),
                                    inside(Kind::object, "fit", fit, may),
                                    of(Kind::open, "extras", may),
                                    hex("digest", 64),
                                    inside(Kind::object, "signature", signature, may)};
inline constexpr std::array document = {choice("format", formats), choice("format_version", versions),
                                        inside(Kind::objects, "lamps", lamp)};

}  // namespace lampload::lamp_keys
