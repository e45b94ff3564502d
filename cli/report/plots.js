"use strict";
// Draws the plots of a page from its data: lines, steps and bars over a common axis, zoomed and moved by pointer,
// buttons and keys. All text goes in as text, never as markup.
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const svgElement = (name, attributes = {}, text) => {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };
  const htmlElement = (name, className, text) => {
    const element = document.createElement(name);
    if (className) element.className = className;
    if (text !== undefined) element.textContent = text;
    return element;
  };

  // 16-bit steps of the series' own range, as base64: of each bucket of samples the lowest and the highest value, or
  // every sample where there are few.
  const unpack = (packed) => {
    const bytes = Uint8Array.from(atob(packed.values), (c) => c.charCodeAt(0));
    const steps = new Uint16Array(bytes.buffer);
    const perPoint = packed.envelope ? 2 : 1;
    const count = steps.length / perPoint;
    const x = new Float64Array(count);
    const low = new Float64Array(count);
    const high = packed.envelope ? new Float64Array(count) : low;
    for (let k = 0; k < count; ++k) {
      x[k] = packed.x0 + k * packed.dx;
      low[k] = packed.offset + packed.step * steps[perPoint * k];
      if (packed.envelope) high[k] = packed.offset + packed.step * steps[2 * k + 1];
    }
    return { x, low, high };
  };
  const pointsOf = (series) => {
    if (series.packed) return unpack(series.packed);
    const y = Float64Array.from(series.y);
    return { x: Float64Array.from(series.x), low: y, high: y };
  };

  const prefixes = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "\u00b5"], [1e-9, "n"], [1e-12, "p"]];
  const scaled = ["A", "V", "W", "s", "Hz", "J", "A/s"];
  const prefixFor = (size, unit) => {
    if (!scaled.includes(unit) || !(size > 0)) return [1, ""];
    return prefixes.find(([factor]) => size >= factor * 0.9999) || prefixes[prefixes.length - 1];
  };
  const number = (value, digits = 4) => {
    if (value === 0 || Math.abs(value) < 1e-12) return "0";
    return String(Number(value.toPrecision(digits))).replace("-", "\u2212");
  };
  const withUnit = (value, unit) => {
    const [factor, prefix] = prefixFor(Math.abs(value), unit);
    return `${number(value / factor)} ${prefix}${unit}`.trim();
  };
  const niceTicks = (from, to, wanted) => {
    const span = to - from;
    if (!(span > 0)) return [from];
    const raw = span / Math.max(1, wanted);
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= raw * 0.999);
    const ticks = [];
    for (let k = Math.ceil(from / step - 1e-9); k * step <= to + 1e-9 * span; ++k) ticks.push(k * step);
    return ticks;
  };
  const firstAtOrAfter = (x, value) => {
    let low = 0;
    let high = x.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (x[middle] < value) low = middle + 1;
      else high = middle;
    }
    return low;
  };

  class Plot {
    constructor(figure, spec) {
      this.figure = figure;
      this.spec = spec;
      this.bars = spec.kind === "bars";
      this.panels = spec.panels.map((panel) => ({ ...panel, drawn: panel.series.map(pointsOf) }));
      let from = Infinity;
      let to = -Infinity;
      for (const panel of this.panels) {
        for (const points of panel.drawn) {
          if (points.x.length === 0) continue;
          from = Math.min(from, points.x[0]);
          to = Math.max(to, points.x[points.x.length - 1]);
        }
      }
      if (this.bars) [from, to] = [from - 0.7, to + 0.7];
      if (!(to > from)) [from, to] = [from - 1, from + 1];
      this.whole = [from, to];
      this.shown = spec.shown ? [...spec.shown] : [from, to];
      this.view = htmlElement("div", "view");
      this.svg = svgElement("svg", { role: "img", "aria-label": figure.dataset.label });
      this.view.append(this.svg);
      this.figure.prepend(this.view);
      this.addLegend();
      if (spec.zoom) this.addTools();
      this.draw();
    }

    addLegend() {
      const seen = new Map();
      for (const panel of this.panels) {
        for (const one of panel.series) seen.set(one.label, one.role);
        for (const one of panel.lines || []) seen.set(one.label, "limit");
      }
      if (seen.size < 2) return;
      const list = htmlElement("ul", "legend");
      for (const [label, role] of seen) {
        const item = htmlElement("li");
        const swatch = svgElement("svg", { viewBox: "0 0 35 11", "aria-hidden": "true" });
        swatch.append(this.bars && role === "measured"
          ? svgElement("rect", { x: 12, y: 0, width: 9, height: 11, class: role })
          : svgElement("path", { d: "M0 5.5H35", class: `line ${role}` }));
        item.append(swatch, label);
        list.append(item);
      }
      this.view.after(list);
    }

    addTools() {
      const tools = htmlElement("div", "tools");
      const button = (text, name, act) => {
        const one = htmlElement("button", "", text);
        one.type = "button";
        one.setAttribute("aria-label", `${name}: ${this.spec.title}`);
        one.addEventListener("click", act);
        tools.append(one);
      };
      button("Zoom in", "Zoom in", () => this.zoom(0.5));
      button("Zoom out", "Zoom out", () => this.zoom(2));
      button("\u2190 Earlier", "Earlier", () => this.move(-0.4));
      button("Later \u2192", "Later", () => this.move(0.4));
      button("All", "Show all", () => this.show(...this.whole));
      this.readout = htmlElement("p", "readout", "Plus and minus zoom, arrow keys move, 0 shows all; drag to move, Ctrl and wheel to zoom.");
      this.view.after(this.readout, tools);
      this.view.tabIndex = 0;
      this.view.setAttribute("role", "group");
      this.view.setAttribute("aria-label", `${this.spec.title}: plus and minus keys zoom, arrow keys move, 0 shows all`);
      this.view.addEventListener("keydown", (event) => {
        const acts = {
          "+": () => this.zoom(0.5), "=": () => this.zoom(0.5), "-": () => this.zoom(2),
          ArrowLeft: () => this.move(-0.2), ArrowRight: () => this.move(0.2),
          0: () => this.show(...this.whole), Home: () => this.show(...this.whole),
        };
        const act = acts[event.key];
        if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
        event.preventDefault();
        act();
      });
      this.view.addEventListener("wheel", (event) => {
        if (!event.ctrlKey) return;
        event.preventDefault();
        this.zoom(event.deltaY > 0 ? 1.3 : 1 / 1.3, this.xAt(event.clientX));
      }, { passive: false });
      this.followPointers();
    }

    followPointers() {
      const down = new Map();
      this.view.addEventListener("pointerdown", (event) => {
        down.set(event.pointerId, event.clientX);
        this.view.setPointerCapture(event.pointerId);
        this.view.classList.add("moving");
      });
      const up = (event) => {
        down.delete(event.pointerId);
        if (down.size === 0) this.view.classList.remove("moving");
      };
      this.view.addEventListener("pointerup", up);
      this.view.addEventListener("pointercancel", up);
      this.view.addEventListener("pointermove", (event) => {
        if (!down.has(event.pointerId)) {
          this.tell(this.xAt(event.clientX));
          return;
        }
        const before = [...down.values()];
        const moved = event.clientX - down.get(event.pointerId);
        down.set(event.pointerId, event.clientX);
        const span = this.shown[1] - this.shown[0];
        const perPixel = span / (this.right - this.left) * (this.width / this.svg.getBoundingClientRect().width);
        if (down.size === 1) {
          this.show(this.shown[0] - moved * perPixel, this.shown[1] - moved * perPixel);
        } else if (down.size === 2) {
          const now = [...down.values()];
          const apart = Math.abs(now[0] - now[1]);
          if (apart > 10) this.zoom(Math.abs(before[0] - before[1]) / apart, this.xAt((now[0] + now[1]) / 2));
        }
      });
    }

    xAt(clientX) {
      const box = this.svg.getBoundingClientRect();
      const pixel = (clientX - box.left) / box.width * this.width;
      const share = (pixel - this.left) / (this.right - this.left);
      return this.shown[0] + Math.min(1, Math.max(0, share)) * (this.shown[1] - this.shown[0]);
    }

    tell(x) {
      const parts = [`${this.spec.x.label} ${withUnit(x, this.spec.x.unit)}`];
      for (const panel of this.panels) {
        panel.series.forEach((series, s) => {
          const points = panel.drawn[s];
          const k = Math.min(points.x.length - 1, firstAtOrAfter(points.x, x));
          if (k < 0) return;
          const low = withUnit(points.low[k], panel.unit);
          const high = withUnit(points.high[k], panel.unit);
          parts.push(`${series.label} ${low === high ? low : `${low} to ${high}`}`);
        });
      }
      this.readout.textContent = parts.join(", ");
    }

    zoom(factor, about = (this.shown[0] + this.shown[1]) / 2) {
      this.show(about + (this.shown[0] - about) * factor, about + (this.shown[1] - about) * factor);
    }
    move(share) {
      const by = share * (this.shown[1] - this.shown[0]);
      this.show(this.shown[0] + by, this.shown[1] + by);
    }
    show(from, to) {
      const whole = this.whole[1] - this.whole[0];
      const span = Math.min(whole, Math.max(whole * 1e-4, to - from));
      const middle = (from + to) / 2;
      const start = Math.min(this.whole[1] - span, Math.max(this.whole[0], middle - span / 2));
      this.shown = [start, start + span];
      this.draw();
    }

    draw() {
      this.width = Math.max(280, Math.round(this.figure.clientWidth || 700));
      const inner = this.panels.map((panel) => panel.height);
      const gap = 26;
      const bottom = 40;
      const top = 20;
      const height = top + inner.reduce((a, b) => a + b, 0) + gap * (inner.length - 1) + bottom;
      this.left = 58;
      this.right = this.width - 12;
      this.svg.replaceChildren();
      this.svg.setAttribute("viewBox", `0 0 ${this.width} ${height}`);
      this.svg.setAttribute("width", "100%");
      this.svg.dataset.from = this.shown[0];
      this.svg.dataset.to = this.shown[1];
      let y = top;
      for (const panel of this.panels) {
        this.drawPanel(panel, y, y + panel.height);
        y += panel.height + gap;
      }
      this.drawTimeAxis(y - gap);
    }

    toPixel(x) {
      return this.left + (x - this.shown[0]) / (this.shown[1] - this.shown[0]) * (this.right - this.left);
    }

    range(panel) {
      let low = 0;
      let high = 0;
      for (const points of panel.drawn) {
        const from = Math.max(0, firstAtOrAfter(points.x, this.shown[0]) - 1);
        const to = Math.min(points.x.length, firstAtOrAfter(points.x, this.shown[1]) + 1);
        for (let k = from; k < to; ++k) {
          if (points.low[k] < low) low = points.low[k];
          if (points.high[k] > high) high = points.high[k];
        }
      }
      for (const line of panel.lines || []) {
        if (line.value <= 4 * high || high === 0) high = Math.max(high, line.value);
        low = Math.min(low, line.value);
      }
      if (!(high > low)) high = low + 1;
      const room = 0.06 * (high - low);
      return [low < 0 ? low - room : 0, high + room];
    }

    drawPanel(panel, top, bottom) {
      const [low, high] = this.range(panel);
      const toY = (value) => bottom - (value - low) / (high - low) * (bottom - top);
      const [factor, prefix] = prefixFor(Math.max(Math.abs(low), Math.abs(high)), panel.unit);
      const unit = prefix + panel.unit;
      this.svg.append(svgElement("text", { x: 4, y: top - 7 }, panel.label + (unit ? ` [${unit}]` : "")));
      for (const tick of niceTicks(low / factor, high / factor, Math.max(3, (bottom - top) / 32))) {
        const y = toY(tick * factor);
        this.svg.append(svgElement("path", { d: `M${this.left} ${y}H${this.right}`, class: "grid" }));
        this.svg.append(svgElement("text", { x: this.left - 6, y: y + 4, "text-anchor": "end", class: "soft" }, number(tick)));
      }
      this.svg.append(svgElement("path", { d: `M${this.left} ${top}V${bottom}H${this.right}`, class: "axis" }));
      for (const line of panel.lines || []) {
        const y = toY(line.value);
        if (y >= top) {
          this.svg.append(svgElement("path", { d: `M${this.left} ${y}H${this.right}`, class: "limit" }));
        } else {
          this.svg.append(svgElement("text", { x: this.left + 6, y: top + 12 },
            `${line.label} ${withUnit(line.value, panel.unit)}, far above`));
        }
      }
      panel.series.forEach((series, s) => this.drawSeries(series, panel.drawn[s], toY));
    }

    drawSeries(series, points, toY) {
      if (this.bars && series.role === "measured") {
        const wide = Math.max(2, (this.toPixel(1) - this.toPixel(0)) * (points.x.length > 1 ? 0.6 * (points.x[1] - points.x[0]) : 0.6));
        for (let k = 0; k < points.x.length; ++k) {
          const y = toY(points.low[k]);
          this.svg.append(svgElement("rect", {
            x: this.toPixel(points.x[k]) - wide / 2, y, width: wide, height: Math.max(0, toY(0) - y), class: series.role,
          }));
        }
        return;
      }
      if (this.bars) {
        const half = (this.toPixel(1) - this.toPixel(0)) * 0.9;
        let marks = "";
        for (let k = 0; k < points.x.length; ++k) {
          const x = this.toPixel(points.x[k]);
          marks += `M${(x - half).toFixed(1)} ${toY(points.low[k]).toFixed(1)}h${(2 * half).toFixed(1)}`;
        }
        this.svg.append(svgElement("path", { d: marks, class: "limit", style: "stroke-dasharray:none" }));
        return;
      }
      const d = this.spec.kind === "steps" ? this.stepPath(points, toY) : this.linePath(points, toY);
      this.svg.append(svgElement("path", { d, class: `line ${series.role}` }));
    }

    stepPath(points, toY) {
      let d = "";
      for (let k = 0; k < points.x.length; ++k) {
        const x = this.toPixel(points.x[k]).toFixed(1);
        const y = toY(points.low[k]).toFixed(1);
        d += k === 0 ? `M${x} ${y}` : `H${x}V${y}`;
      }
      return d ? `${d}H${this.right}` : "";
    }

    // At most a lowest and a highest value for each column of pixels.
    linePath(points, toY) {
      const from = Math.max(0, firstAtOrAfter(points.x, this.shown[0]) - 1);
      const to = Math.min(points.x.length, firstAtOrAfter(points.x, this.shown[1]) + 1);
      const clamp = (x) => Math.min(this.right, Math.max(this.left, x));
      const parts = [];
      let k = from;
      let upwards = true;
      while (k < to) {
        const column = Math.round(this.toPixel(points.x[k]));
        let low = points.low[k];
        let high = points.high[k];
        const first = points.x[k];
        let n = 1;
        for (++k; k < to && Math.round(this.toPixel(points.x[k])) === column; ++k, ++n) {
          if (points.low[k] < low) low = points.low[k];
          if (points.high[k] > high) high = points.high[k];
        }
        const x = clamp(n > 1 ? column : this.toPixel(first)).toFixed(1);
        if (low === high) {
          parts.push(`${x} ${toY(low).toFixed(1)}`);
        } else {
          const ends = [`${x} ${toY(low).toFixed(1)}`, `${x} ${toY(high).toFixed(1)}`];
          parts.push(...(upwards ? ends : ends.reverse()));
          upwards = !upwards;
        }
      }
      return parts.length ? `M${parts.join("L")}` : "";
    }

    drawTimeAxis(y) {
      const [from, to] = this.shown;
      const [factor, prefix] = prefixFor(Math.max(Math.abs(from), Math.abs(to)), this.spec.x.unit);
      const ticks = this.spec.x.ticks
        ? this.spec.x.ticks.filter((tick, k, all) => k % Math.ceil(24 * all.length / (this.right - this.left)) === 0)
        : niceTicks(from / factor, to / factor, Math.max(3, (this.right - this.left) / 90)).map((tick) => tick * factor);
      const digits = Math.min(9, 3 + Math.max(0, Math.ceil(Math.log10(Math.max(Math.abs(from), Math.abs(to)) / (to - from)))));
      for (const tick of ticks) {
        const x = this.toPixel(tick);
        this.svg.append(svgElement("path", { d: `M${x} ${y}v5`, class: "tick" }));
        this.svg.append(svgElement("text", { x, y: y + 18, "text-anchor": "middle", class: "soft" }, number(tick / factor, digits)));
      }
      const unit = prefix + this.spec.x.unit;
      this.svg.append(svgElement("text", { x: (this.left + this.right) / 2, y: y + 34, "text-anchor": "middle" },
        this.spec.x.label + (unit ? ` [${unit}]` : "")));
    }
  }

  // Those in sight at once, the rest while nothing else is to be done, all of them before printing.
  const data = JSON.parse(document.getElementById("data").textContent);
  const waiting = new Set(document.querySelectorAll("figure[data-plot]"));
  const plots = [];
  const drawNow = (figure) => {
    if (!waiting.delete(figure)) return;
    figure.style.minHeight = "";
    plots.push(new Plot(figure, data.plots[Number(figure.dataset.plot)]));
  };
  for (const figure of waiting) {
    const { panels, zoom } = data.plots[Number(figure.dataset.plot)];
    const room = panels.reduce((sum, panel) => sum + panel.height + 26, 60);
    figure.style.minHeight = `${room + (zoom ? 110 : 50)}px`;
  }
  const inSight = (figure) => figure.getBoundingClientRect().top < 2 * window.innerHeight;
  [...waiting].filter(inSight).forEach(drawNow);
  const drawRest = () => {
    const [next] = waiting;
    if (next === undefined) {
      performance.mark("lampload-all-drawn");
      return;
    }
    drawNow(next);
    setTimeout(drawRest);
  };
  setTimeout(drawRest);
  let pending = 0;
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth === width) return;
    width = window.innerWidth;
    cancelAnimationFrame(pending);
    pending = requestAnimationFrame(() => plots.forEach((plot) => plot.draw()));
  });
  window.addEventListener("beforeprint", () => {
    [...waiting].forEach(drawNow);
    plots.forEach((plot) => plot.draw());
  });
  performance.mark("lampload-ready");
})();
