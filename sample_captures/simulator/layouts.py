"""Text layouts, as instruments and people export them. Each takes a trace and a title, and gives the bytes of a file."""

import numpy as np


def _text(values, decimals, mark="."):
    texts = (f"{value:.{decimals}f}" for value in values)
    return [(text.rstrip("0").rstrip(".") if decimals else text).replace(".", mark) for text in texts]


def _decimals(step):
    """Enough to write every multiple of a step of the 4-division row exactly."""
    return next(n for n in range(12) if abs(round(step, n) - step) < 1e-9 * step)


def _columns(trace, time_scale=1.0, voltage_scale=1.0, current_scale=1.0, mark="."):
    interval = (trace.time_s[1] - trace.time_s[0]) * time_scale
    return (_text(trace.time_s * time_scale, _decimals(interval), mark),
            _text(trace.voltage_v * voltage_scale, _decimals(trace.voltage_step_v * voltage_scale), mark),
            _text(trace.current_a * current_scale, _decimals(trace.current_step_a * current_scale), mark))


def _rows(columns, separator, end="\n", tail=""):
    return "".join(separator.join(row) + tail + end for row in zip(*columns))


def header_units(trace, title):
    """Comma, units in the header."""
    del title
    return ("Time (s),Voltage (V),Current (A)\n" + _rows(_columns(trace), ",")).encode()


def decimal_comma(trace, title):
    """Semicolon, decimal comma, CRLF, a title line, milliseconds."""
    columns = _columns(trace, time_scale=1e3, mark=",")
    return (f"{title}\r\nZeit [ms];Spannung [V];Strom [A]\r\n" + _rows(columns, ";", "\r\n")).encode()


def tabs(trace, title):
    """Tab, comment lines, current in mA ahead of the voltage."""
    time, voltage, current = _columns(trace, current_scale=1e3)
    return (f"# {title}\n# lamp current and lamp voltage\nt (s)\tI (mA)\tU (V)\n" + _rows((time, current, voltage), "\t")).encode()


def preamble(trace, title):
    """Key and value lines, a row of channel names, a row of units."""
    return (f"Title,{title}\nSamples,{len(trace.time_s)}\nSample interval,{trace.time_s[1] - trace.time_s[0]:.9g},s\n"
            f"Channel 1,lamp voltage,V\nChannel 2,lamp current,A\n\nTime,Channel 1,Channel 2\ns,V,A\n"
            + _rows(_columns(trace), ",")).encode()


def bare(trace, title):
    """No header at all: time, voltage, current."""
    del title
    return _rows(_columns(trace), ",").encode()


def byte_order_mark(trace, title):
    """UTF-8 with byte-order mark, trailing separators, time in microseconds."""
    del title
    columns = _columns(trace, time_scale=1e6)
    return b"\xef\xbb\xbf" + ("Time (µs),Voltage (V),Current (A),\n" + _rows(columns, ",", tail=",")).encode()


def no_time(trace, title):
    """No time column; the sample interval stands in the preamble."""
    columns = _columns(trace)[1:]
    return (f"Title: {title}\nSample interval: {trace.time_s[1] - trace.time_s[0]:.9g} s\nPoints: {len(trace.time_s)}\n"
            "Voltage (V),Current (A)\n" + _rows(columns, ",")).encode()


def scientific(trace, title):
    """Blank separated, every number with an exponent."""
    del title
    table = np.column_stack((trace.time_s, trace.voltage_v, trace.current_a))
    return ("Time[s] Voltage[V] Current[A]\n" + "".join("%.5e %.4e %.4e\n" % tuple(row) for row in table)).encode()
