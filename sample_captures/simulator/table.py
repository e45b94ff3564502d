"""The table of README.md, from the entries of truth.json."""

NAMES = {"cold_resistance_ohm": ("cold resistance", "Ohm", 1), "heat_capacity_j_per_k": ("heat capacity", "mJ/K", 1e3),
         "hot_resistance_ohm": ("hot resistance", "Ohm", 1), "hot_temperature_k": ("hot", "K", 1),
         "series_resistance_ohm": ("series resistance", "Ohm", 1), "series_inductance_h": ("series inductance", "mH", 1e3),
         "input_capacitance_f": ("input capacitor", "nF", 1e9), "reservoir_capacitance_f": ("reservoir", "uF", 1e6),
         "reservoir_esr_ohm": ("its series resistance", "Ohm", 1), "rectifier_drop_v": ("bridge drop", "V", 1),
         "load_power_w": ("constant power", "W", 1), "load_current_a": ("constant current", "mA", 1e3),
         "string_voltage_v": ("string", "V", 1), "string_resistance_ohm": ("string resistance", "Ohm", 1),
         "cable_inductance_h": ("cable", "uH", 1e6)}


def readme_table(lamps):
    lines = []
    for lamp in lamps:
        values = {**lamp["parameters"], **lamp["derived"]}
        circuit = ", ".join(f"{NAMES[key][0]} {value * NAMES[key][2]:.4g} {NAMES[key][1]}" for key, value in values.items()
                            if key in NAMES and value != 0)
        mains = f"{lamp['nominal_frequency_hz']:g} Hz" if lamp["nominal_frequency_hz"] > 0 else "DC"
        lines += [f"\n**`{lamp['folder']}/`**: {lamp['lamp']}, {lamp['nominal_voltage_v']:g} V {mains}. "
                  f"True circuit: {circuit}. Truth for `{lamp['family']}`.\n",
                  "| file | capture | exact rms voltage, rms current, power | instrument | layout |", "| --- | --- | --- | --- | --- |"]
        for file, shot in lamp["captures"].items():
            exact, tool = shot["exact"], shot["instrument"]
            kind = shot["kind"].replace("_", " ")
            if shot["kind"].endswith("edge"):
                kind += f", {shot['conduction_angle_deg']:g} degrees conduct"
            elif shot["kind"] == "pulse_width":
                kind += f", on for {100 * shot['duty']:g} %"
            elif "inrush" in exact:
                kind += f" at {exact['inrush']['phase_deg']:g} degrees, peak {exact['inrush']['peak_a']:.3g} A"
            lines.append(
                f"| `{file}` | {kind} | {exact['voltage_rms_v']:.1f} V, {exact['current_rms_a'] * 1e3:.1f} mA, "
                f"{exact['active_power_w']:.2f} W | {tool['bits']} bit, {tool['sample_rate_hz'] / 1e3:g} kS/s, "
                f"clamp {tool['clamp_bandwidth_hz'] / 1e3:g} kHz, {tool['clamp_delay_s'] * 1e6:g} us late"
                f"{', reversed' if tool['reversed_clamp'] else ''} | {shot['layout']} |")
    return "\n".join(lines) + "\n\n"
