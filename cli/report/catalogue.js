"use strict";
// Searches, filters, sorts and pages the lamps of a catalogue. They come from lamps.js beside the page, which works from
// a plain disk too. All text goes in as text.
(() => {
  const [columns, lamps] = [window.lampload.columns, window.lampload.lamps];
  const perPage = 100;
  const form = document.querySelector("form");
  const body = document.querySelector("tbody");
  const status = document.querySelector("[role=status]");
  const [previous, next] = document.querySelectorAll(".tools button");
  const headings = [...document.querySelectorAll("thead th")];
  let sortedBy = 0;
  let rising = true;
  let found = [];
  let page = 0;

  const folded = (text) => String(text).normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  const searched = lamps.map((lamp) => folded(`${lamp[0]} ${lamp[1]}`));
  const byName = new Intl.Collator("en", { numeric: true });
  const compare = (a, b) => {
    const [x, y] = [lamps[a][sortedBy], lamps[b][sortedBy]];
    if (x === y) return a - b;
    if (x === null) return 1;
    if (y === null) return -1;
    const order = typeof x === "number" ? x - y : byName.compare(x, y);
    return rising ? order : -order;
  };

  const shown = (value, column) => {
    if (value === null) return "\u2013";
    return typeof value === "number" ? `${Number(value.toPrecision(3))} ${column.unit}`.trim() : value;
  };

  const draw = () => {
    const rows = found.slice(page * perPage, (page + 1) * perPage).map((k) => {
      const row = document.createElement("tr");
      columns.forEach((column, c) => {
        const cell = document.createElement(c === 0 ? "th" : "td");
        const text = document.createElement("bdi");
        text.textContent = shown(lamps[k][c], column);
        if (c === 0) {
          cell.scope = "row";
          const link = document.createElement("a");
          link.href = lamps[k][columns.length];
          link.append(text);
          cell.append(link);
        } else {
          cell.append(text);
        }
        row.append(cell);
      });
      return row;
    });
    body.replaceChildren(...rows);
    const first = found.length === 0 ? 0 : page * perPage + 1;
    status.textContent = `${first} to ${Math.min(found.length, (page + 1) * perPage)} of ${found.length} lamps` +
      (found.length < lamps.length ? `, of ${lamps.length} in all` : "");
    previous.disabled = page === 0;
    next.disabled = (page + 1) * perPage >= found.length;
  };

  const choose = () => {
    const words = folded(form.elements.search.value).split(/\s+/).filter(Boolean);
    const family = form.elements.family.value;
    const label = form.elements.label.value;
    found = [];
    for (let k = 0; k < lamps.length; ++k) {
      if (family && lamps[k][1] !== family) continue;
      if (label && lamps[k][2] !== label) continue;
      if (!words.every((word) => searched[k].includes(word))) continue;
      found.push(k);
    }
    if (sortedBy !== 0 || !rising) found.sort(compare);
    page = 0;
    draw();
  };

  headings.forEach((heading, c) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    heading.replaceChildren(button);
    button.addEventListener("click", () => {
      rising = sortedBy === c ? !rising : true;
      sortedBy = c;
      headings.forEach((other, o) => {
        if (o === c) other.setAttribute("aria-sort", rising ? "ascending" : "descending");
        else other.removeAttribute("aria-sort");
      });
      choose();
    });
  });
  for (const family of [...new Set(lamps.map((lamp) => lamp[1]))].sort()) {
    form.elements.family.add(new Option(family, family));
  }
  // In the order of the names, so that no sort is needed at first.
  form.addEventListener("input", choose);
  form.addEventListener("submit", (event) => event.preventDefault());
  previous.addEventListener("click", () => { --page; draw(); });
  next.addEventListener("click", () => { ++page; draw(); });
  choose();
  performance.mark("lampload-ready");
})();
