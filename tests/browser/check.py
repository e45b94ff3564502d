#!/usr/bin/python3
"""Opens the program's pages in headless Chromium: nothing fetched, no error, zoom and filter work, readable by all.

    tests/browser/check.py PROGRAM SAMPLE_CAPTURES [--lamps N] [--captures N] [--screenshots FOLDER]

Contrast and the rest of accessibility are judged by axe-core, whose axe.min.js is named by LAMPLOAD_AXE or lies where
npm puts it below the working folder. Exit status 77, with a reason, where Chromium, selenium or axe-core is not there.
--lamps: size of the catalogue (the full check: 10000); --captures: of the large report (the full check: 6).
"""
import argparse
import base64
import json
import math
import os
import pathlib
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time

SKIPPED = 77
ODD_NAME = "<i>\"odd\"</i> & 'name' \u05e0\u05d5\u05e8\u05d4"


def skip(why):
    print("skipped: " + why)
    sys.exit(SKIPPED)


def axe_script():
    places = [os.environ.get("LAMPLOAD_AXE", ""), "node_modules/axe-core/axe.min.js", "/usr/share/nodejs/axe-core/axe.min.js"]
    for place in places:
        if place and os.path.isfile(place):
            return pathlib.Path(place).read_text(encoding="utf-8")
    skip("axe-core is not there; 'npm install axe-core' in a folder of its own, and LAMPLOAD_AXE=.../axe.min.js")


def start_browser():
    try:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service
    except ImportError:
        skip("python3-selenium is not installed")
    driver = shutil.which("chromedriver")
    if not driver or not shutil.which("chromium"):
        skip("chromium and chromium-driver are not installed")
    options = webdriver.ChromeOptions()
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    browser = webdriver.Chrome(options=options, service=Service(driver))
    browser.set_script_timeout(120)
    return browser


# Every element with text of its own: its colour against the nearest background that is not transparent (WCAG 2).
CONTRAST = """
const parts = (colour) => colour.match(/[0-9.]+/g).map(Number);
const light = (colour) => {
  const [r, g, b] = parts(colour).map((c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const behind = (element) => {
  for (let e = element; e; e = e.parentElement) {
    const colour = getComputedStyle(e).backgroundColor;
    if (parts(colour).length < 4 || parts(colour)[3] > 0) return colour;
  }
  return 'rgb(255, 255, 255)';
};
const faint = [];
for (const element of document.body.querySelectorAll('*')) {
  if (element.closest('script, style, noscript, option')) continue;
  if (![...element.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())) continue;
  const style = getComputedStyle(element);
  const [a, b] = [light(element instanceof SVGElement ? style.fill : style.color), light(behind(element))];
  const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  if (ratio < 4.5 && !element.disabled) faint.push([ratio.toFixed(2), element.outerHTML.slice(0, 120)]);
}
return faint;
"""


class Check:
    def __init__(self, browser, axe, screenshots):
        self.browser = browser
        self.axe = axe
        self.screenshots = screenshots
        self.faults = []

    def expect(self, holds, what):
        if not holds:
            self.faults.append(what)
            print("FAULT: " + what)

    def size(self, width, height, scheme="light", media=""):
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                                     {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})
        self.browser.execute_cdp_cmd("Emulation.setEmulatedMedia",
                                     {"media": media, "features": [{"name": "prefers-color-scheme", "value": scheme}]})

    def open(self, page, root=None):
        """Loads a page of a folder; returns the time until it was ready, in seconds since it was asked for."""
        self.browser.get_log("performance")
        self.browser.get_log("browser")
        self.browser.get(page.as_uri())
        requests = []
        for entry in self.browser.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                requests.append(message["params"]["request"]["url"])
        away = [url for url in requests if not url.startswith(((root or page.parent).as_uri(), "data:"))]
        self.expect(not away, f"{page.name}: asked for {away}")
        errors = self.browser.get_log("browser")
        self.expect(not errors, f"{page.name}: console: {errors}")
        self.browser.execute_async_script(
            "const done = arguments[0]; const wait = () => (document.querySelector('figure[data-plot]:not(:has(svg))') ?"
            " setTimeout(wait, 20) : done()); wait()")
        return self.script("const m = performance.getEntriesByName('lampload-ready'); return m.length ? m[0].startTime / 1000 : 0")

    def script(self, text):
        return self.browser.execute_script(text)

    def accessible(self, page, scheme):
        self.browser.execute_script(self.axe)
        result = self.browser.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, {resultTypes: ['violations', 'incomplete']}).then((r) => done({"
            "violations: r.violations.map((v) => [v.id, v.nodes.length, v.nodes[0].html.slice(0, 200), v.nodes[0].failureSummary]),"
            "contrast: r.passes.concat(r.incomplete).filter((p) => p.id === 'color-contrast').length}))")
        self.expect(result["violations"] == [], f"{page.name}, {scheme}: {result['violations']}")
        self.expect(result["contrast"] > 0, f"{page.name}, {scheme}: contrast was not judged")
        # Text in drawings, and what is scrolled out of sight, axe-core leaves undecided.
        faint = self.script(CONTRAST)
        self.expect(faint == [], f"{page.name}, {scheme}: contrast below 4.5: {faint[:3]}")

    def fits(self, page):
        wide = self.script("return document.documentElement.scrollWidth > window.innerWidth")
        self.expect(not wide, f"{page.name}: wider than the screen at {self.script('return window.innerWidth')} pixels")

    def picture(self, name):
        if not self.screenshots:
            return
        height = self.script("return document.documentElement.scrollHeight")
        width = self.script("return window.innerWidth")
        shot = self.browser.execute_cdp_cmd("Page.captureScreenshot", {
            "captureBeyondViewport": True, "clip": {"x": 0, "y": 0, "width": width, "height": min(height, 9000), "scale": 1}})
        (self.screenshots / (name + ".png")).write_bytes(base64.b64decode(shot["data"]))

    def printed(self, name, paper):
        """The pages of a print; they must not be empty, nor cut anything off."""
        sizes = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
        sheet = self.browser.execute_cdp_cmd("Page.printToPDF", {
            "paperWidth": sizes[paper][0], "paperHeight": sizes[paper][1], "preferCSSPageSize": False, "printBackground": False})
        document = base64.b64decode(sheet["data"])
        self.expect(document.startswith(b"%PDF") and len(document) > 5000, f"{name}: nothing printed on {paper}")
        if self.screenshots:
            (self.screenshots / f"{name}_{paper}.pdf").write_bytes(document)

    def all_sizes(self, page, name, root=None):
        for width, height, scheme in ((390, 844, "light"), (390, 844, "dark"), (1366, 768, "light"), (1366, 768, "dark")):
            self.size(width, height, scheme)
            self.open(page, root)
            self.fits(page)
            self.accessible(page, f"{scheme}, {width} pixels")
            self.picture(f"{name}_{width}_{scheme}")
        for paper in ("A4", "Letter"):
            self.printed(name, paper)


def check_zoom(check):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys
    from selenium.webdriver.common.by import By
    view = check.browser.find_element(By.CSS_SELECTOR, ".view[tabindex='0']")
    span = "const s = document.querySelector(\".view[tabindex='0'] svg\").dataset; return [Number(s.from), Number(s.to)]"
    check.script("document.querySelector(\".view[tabindex='0']\").focus()")
    before = check.script(span)
    view.send_keys("+")
    zoomed = check.script(span)
    check.expect(abs((zoomed[1] - zoomed[0]) / (before[1] - before[0]) - 0.5) < 1e-6, "plus did not halve what is shown")
    view.send_keys(Keys.ARROW_RIGHT)
    moved = check.script(span)
    check.expect(moved[0] > zoomed[0] and abs((moved[1] - moved[0]) - (zoomed[1] - zoomed[0])) < 1e-9, "the arrow did not move it")
    view.send_keys("0")
    whole = check.script(span)
    check.expect(whole[0] <= before[0] and whole[1] >= before[1], "0 did not show all")
    button = check.browser.find_element(By.CSS_SELECTOR, ".tools button")
    check.script("document.querySelector('.tools button').scrollIntoView({block: 'center'})")
    button.click()
    check.expect(check.script(span) != whole, "the zoom button does nothing")
    dragged_from = check.script(span)
    ActionChains(check.browser).move_to_element(view).click_and_hold().move_by_offset(-80, 0).release().perform()
    check.expect(check.script(span)[0] > dragged_from[0], "dragging did not move it")
    readout = check.script("return document.querySelector('.readout').textContent")
    check.expect("time" in readout, f"the readout says nothing: {readout!r}")


def check_catalogue(check, index, lamps):
    rows = "return [...document.querySelectorAll('tbody th')].map((cell) => cell.textContent)"
    status = "return document.querySelector('[role=status]').textContent"
    check.expect(f"of {lamps} lamps" in check.script(status), f"the list counts {check.script(status)!r}, not {lamps}")
    check.script("const s = document.forms[0].elements.search; s.value = 'odd nam'; s.dispatchEvent(new Event('input', {bubbles: true}))")
    found = check.script(rows)
    check.expect(found and all(name.startswith(ODD_NAME) for name in found), f"the search finds {found[:3]}")
    check.script("const f = document.forms[0].elements; f.search.value = ''; f.family.value = 'resistor';"
                 "f.family.dispatchEvent(new Event('input', {bubbles: true}))")
    circuits = check.script("return [...document.querySelectorAll('tbody tr')].map((row) => row.children[1].textContent)")
    check.expect(circuits and set(circuits) == {"resistor"}, f"the filter leaves {set(circuits)}")
    check.script("document.forms[0].reset(); document.forms[0].dispatchEvent(new Event('input'))")
    begin = check.script(rows)
    check.script("document.querySelector('thead button').click()")
    check.expect(check.script(rows) != begin, "sorting changes nothing")
    links = check.script("return [...document.querySelectorAll('tbody a')].map((a) => a.getAttribute('href'))")
    missing = [link for link in links if not (index.parent / link).is_file()]
    check.expect(not missing, f"pages are missing: {missing[:3]}")


def make_library(run, library, samples):
    candle = sorted((samples / "simulated_stair_candle_led_5w").glob("*.csv"))
    pendant = sorted((samples / "simulated_clubroom_pendant_60w").glob("*.csv"))
    batten = sorted((samples / "simulated_workshop_batten_led_12w").glob("*.csv"))
    run("characterise", *candle, "--lamp", "stair candle", "--rated-power", "5", "--label-dimmable", "yes",
        "--channel", samples / "boathouse_mosfet_neutral.json")
    run("characterise", *pendant, "--lamp", "clubroom pendant", "--rated-power", "60")
    run("characterise", *batten, "--lamp", "workshop batten")
    return candle + pendant[:2]


def multiply(library, wanted):
    """More lamps of the same figures under other names, straight into the library's tables, without their samples."""
    db = sqlite3.connect(library)
    db.execute("PRAGMA foreign_keys = OFF")
    read = {}  # what is copied, by table and key

    def copied(table, given, where, key):
        """Rows of a table with some columns given anew; returns old and new id of each."""
        if (table, key) not in read:
            info = db.execute(f"PRAGMA table_info({table})").fetchall()
            names = [row[1] for row in info if row[1] != "id"]
            own = "id" if any(row[1] == "id" for row in info) else "NULL"
            rows = db.execute(f"SELECT {own}, {', '.join(names)} FROM {table} WHERE {where} = ?", (key,)).fetchall()
            read[table, key] = names, rows
        names, rows = read[table, key]
        pairs = []
        for row in rows:
            values = [given.get(name, b"\0" if name in ("voltage_v", "current_a") and table == "captures" else value)
                      for name, value in zip(names, row[1:])]
            cursor = db.execute(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})", values)
            pairs.append((row[0], cursor.lastrowid))
        return pairs

    present = db.execute("SELECT id, name FROM lamp_types ORDER BY id").fetchall()
    for k in range(len(present), wanted):
        old, name = present[k % len(present)]
        new_name = ODD_NAME if k == len(present) else f"{name} no. {k}"
        ((_, new),) = copied("lamp_types", {"name": new_name}, "id", old)
        for old_sample, new_sample in copied("samples", {"lamp_type_id": new}, "lamp_type_id", old):
            copied("captures", {"lamp_type_id": new, "sample_id": new_sample}, "sample_id", old_sample)
        copied("fits", {"lamp_type_id": new}, "lamp_type_id", old)
    db.commit()
    db.close()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program", type=pathlib.Path)
    parser.add_argument("samples", type=pathlib.Path)
    parser.add_argument("--lamps", type=int, default=150)
    parser.add_argument("--captures", type=int, default=4)
    parser.add_argument("--screenshots", type=pathlib.Path)
    parser.add_argument("--library", type=pathlib.Path, help="a library that holds the boathouse, instead of making one")
    arguments = parser.parse_args()
    axe = axe_script()
    browser = start_browser()
    with tempfile.TemporaryDirectory() as folder:
        place = pathlib.Path(folder)
        library = place / "library.db"

        def run(*words, status=0):
            command = [str(arguments.program.resolve()), *map(str, words), "--library", str(library)]
            done = subprocess.run(command, capture_output=True, text=True, cwd=place)
            if done.returncode != status:
                sys.exit(f"{' '.join(command)}: status {done.returncode}\n{done.stderr}")
            return done.stdout

        samples = arguments.samples.resolve()
        if arguments.library:
            shutil.copy(arguments.library, library)
        else:
            make_library(run, library, samples)
        resistor = place / "<b>heater \u05d0.csv"
        lines = ["time_s,voltage_v,current_a"]
        for k in range(4000):
            v = 325.0 * math.sin(2 * math.pi * 50 * k * 5e-5)
            lines.append(f"{k * 5e-5:.6f},{v:.4f},{v / 500:.6f}")
        resistor.write_text("\n".join(lines) + "\n", encoding="utf-8")
        run("characterise", resistor, "--lamp", ODD_NAME + " heater")

        check = Check(browser, axe, arguments.screenshots)
        if arguments.screenshots:
            arguments.screenshots.mkdir(parents=True, exist_ok=True)

        report = place / "report.html"
        run("report", "stair candle", "--channel", samples / "boathouse_mosfet_neutral.json", "-o", report)
        check.size(1366, 768)
        ready = min(check.open(report) for _ in range(3))
        print(f"report, 4 captures: {report.stat().st_size / 1e6:.2f} MB, ready {ready:.2f} s after it was asked for")
        check_zoom(check)
        check.all_sizes(report, "report")

        odd = place / "odd.html"
        run("report", ODD_NAME + " heater", "--channel", samples / "boathouse_mosfet_neutral.json", "-o", odd)
        check.open(odd)
        heading = check.script("return document.querySelector('h1').textContent")
        check.expect(heading == ODD_NAME + " heater", f"the name is shown as {heading!r}")
        check.accessible(odd, "light")

        schedule = place / "schedule.html"
        run("plan", samples / "boathouse_plan.json", "--report", schedule)
        check.all_sizes(schedule, "schedule")
        run("plan", samples / "boathouse_plan_draft.json", "--report", schedule, status=1)
        check.open(schedule)
        check.accessible(schedule, "light")

        if arguments.captures > 4:
            several = place / "several.html"
            run("report", "stair candle", "clubroom pendant", "--channel", samples / "boathouse_mosfet_neutral.json", "-o", several)
            ready = min(check.open(several) for _ in range(3))
            size = several.stat().st_size / 1e6
            print(f"report, 8 captures of two lamps: {size:.2f} MB, ready {ready:.2f} s after it was asked for")
            check.expect(size < 2.0, "the report is larger than 2 MB")

        multiply(library, arguments.lamps)
        site = place / "site"
        begin = time.monotonic()
        written = run("catalogue", "-o", site, "--title", "Lamps of the <boathouse>")
        took = time.monotonic() - begin
        count = int(written.split(", ")[-1].split()[0])
        index = site / "index.html"
        check.size(1366, 768)
        ready = min(check.open(index) for _ in range(3))
        print(f"catalogue of {count} lamps: written in {took:.1f} s, index ready {ready:.2f} s after it was asked for")
        check_catalogue(check, index, count)
        check.all_sizes(index, "catalogue")
        page = next(iter(sorted((site / "lamps").glob("stair-candle-*.html"))))
        check.all_sizes(page, "lamp", site)
        browser.quit()
    if check.faults:
        sys.exit(f"{len(check.faults)} faults")
    print("no faults")


if __name__ == "__main__":
    main()
