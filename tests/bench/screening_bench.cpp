// A library of many lamps held against one channel from stored figures: reading them, and judging them.

#include <benchmark/benchmark.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <string>

#include "core/advice/screening.h"
#include "db/library.h"

namespace lampload {
namespace {

Channel dimmer() {
  Channel channel;
  channel.name = "clubroom dimmer";
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 40.0;
  channel.output.surge_i2t_a2s = 20.0;
  channel.output.thermal_resistance_k_per_w = 20.0;
  channel.output.max_junction_c = 125.0;
  channel.output.ambient_c = 45.0;
  channel.output.avalanche_energy_j = 0.2;
  channel.output.choke_h = 50e-6;
  channel.output.min_conduction_deg = 20.0;
  channel.output.max_conduction_deg = 175.0;
  return channel;
}

/// Invented lamps: one filament's figures, every lamp a little different.
std::string library_of(int lamps) {
  const std::string folder = (std::filesystem::temp_directory_path() / "lampload_bench_XXXXXX").string();
  std::string path = folder;
  if (mkdtemp(path.data()) == nullptr) std::abort();
  path += "/library.db";
  Library library = Library::open(path, Library::Access::read_write);
  LampEvidence lamp;
  lamp.lamp = Lamp(find_family("resistor", ""), {529.0});
  const ScreeningFigures figures = *screening_figures(lamp, 230.0, 50.0);
  StoredFit fit;
  fit.accepted = true;
  fit.family = "resistor";
  for (int i = 0; i < lamps; ++i) {
    std::vector<double> row = figures.packed();
    for (double& value : row) value *= 0.1 + 1e-3 * (i % 997);
    fit.screening = ScreeningFigures::unpacked(row);
    fit.screening->voltage_v = 230.0;
    fit.screening->frequency_hz = 50.0;
    library.store("lamp " + std::to_string(i), {}, {}, fit);
  }
  return path;
}

void look_through(benchmark::State& state) {
  const std::string path = library_of(static_cast<int>(state.range(0)));
  const Channel channel = dimmer();
  for (auto _ : state) {
    const Library library = Library::open(path, Library::Access::read_only);
    const Screener screener(channel);
    long sum = 0;
    for (const LampScreening& lamp : library.screening()) {
      if (const auto figures = lamp.figures()) sum += screener.screen(*figures, lamp.label_dimmable)->max_lamps;
    }
    benchmark::DoNotOptimize(sum);
  }
  std::filesystem::remove_all(std::filesystem::path(path).parent_path());
}
BENCHMARK(look_through)->Arg(1'000)->Arg(10'000)->Unit(benchmark::kMillisecond)->MinTime(2.0);

}  // namespace
}  // namespace lampload
